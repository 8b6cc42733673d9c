"""Answers for people: a summary first, then a table, then where the files are."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from letterply_client._results import Entry, Result

__all__ = ["show_entries", "show_result", "show_survey"]

_SHOWN = 24
"""So many of the weakest glyphs of a survey are printed."""

_MARKS = {"blocker": "bold red", "caution": "yellow", "note": "dim"}

_COLUMNS: dict[str, tuple[tuple[str, str], ...]] = {
    "fonts": (("kind", "kind"), ("style", "style"), ("note", "note")),
    "artworks": (("name", "name"), ("summary", "what it is")),
    "materials": (
        ("name", "name"),
        ("thicknesses_mm", "thicknesses, mm"),
        ("min_web_mm", "least web, mm"),
        ("beam", "beam"),
    ),
    "cutters": (
        ("name", "name"),
        ("kind", "kind"),
        ("diameter_mm", "diameter, mm"),
        ("cutting_length_mm", "reach, mm"),
        ("flutes", "flutes"),
    ),
    "machines": (
        ("name", "name"),
        ("bed_mm", "bed, mm"),
        ("max_feed_mm_per_min", "feed, mm/min"),
        ("spindle_max_rpm", "spindle, rev/min"),
        ("power_full", "full power, S"),
    ),
    "stock": (
        ("material", "material"),
        ("thickness_mm", "thickness, mm"),
        ("width_mm", "width, mm"),
        ("height_mm", "height, mm"),
        ("count", "count"),
    ),
}


def show_result(result: Result, folder: Path | None, written: Sequence[Path]) -> None:
    """Print a result."""
    console = Console()
    console.print(Text(result.title, style="bold"))
    console.print(Text(result.summary))
    if result.proved is False:
        console.print(Text("Do not cut it as it is.", style="bold red"))
    if result.findings:
        table = Table(box=None, pad_edge=False)
        for title in ("", "what", "where", "why", "what to do"):
            table.add_column(title, overflow="fold")
        for finding in result.findings:
            table.add_row(*_finding(finding))
        console.print(table)
    for title, sets in _choices(result.document):
        console.print(_cutter_sets(title, sets))
    for caution in _cautions(result.document):
        console.print(Text(f"! {caution}"))
    if folder is not None:
        console.print(Text(f"{len(written)} files in {folder}", style="dim"))
        held = [f.path for f in result.files if f.held_back]
        if held and len(written) < len(result.files):
            console.print(
                Text(
                    f"not written, for want of a proof that passes: {', '.join(held)}",
                    style="bold red",
                )
            )


_WORK = {
    "cutter_choice": "outlines",
    "floor_choice": "pockets and floors",
    "groove_choice": "grooves",
}


def _choices(
    document: Mapping[str, Any],
) -> list[tuple[str, Sequence[Mapping[str, Any]]]]:
    """Return the sets of cutters that a plan compared, a sheet and a kind of work each."""
    sheets = document.get("sheets")
    listed = [s for s in sheets if isinstance(s, dict)] if isinstance(sheets, list) else []
    return [
        (f"sheet {sheet.get('number')}, {work}", sheet[key]["compared"])
        for sheet in listed
        for key, work in _WORK.items()
        if len((sheet.get(key) or {}).get("compared") or ()) > 1
    ]


def _cutter_sets(title: str, sets: Sequence[Mapping[str, Any]]) -> Table:
    """Return sets of cutters as a table, the one that was chosen marked."""
    table = Table(box=None, pad_edge=False)
    carved = any("depth_mm" in one for one in sets)
    grooves = ("carved", "of it flat") if carved else ()
    named = (title, "min with changes", "stays", "how deep", *grooves, "deepest in")
    for name in named:
        table.add_column(name, overflow="fold")
    for one in sets:
        chosen = bool(one.get("chosen"))
        where, told = one.get("where") or {}, one.get("told") or {}
        table.add_row(
            f"{'> ' if chosen else '  '}{one['cutters']}",
            f"{one['time_s'] / 60:.0f}",
            told.get("left_area", ""),
            told.get("left_round", ""),
            *((told.get("depth", ""), told.get("flat_area", "")) if carved else ()),
            str(where.get("part", "")),
            style="bold" if chosen else "",
        )
    return table


def _cautions(document: Mapping[str, Any]) -> Sequence[str]:
    """Return what to mind at the machine, each sentence once, the gravest first."""
    sheets = document.get("sheets")
    listed = [s for s in sheets if isinstance(s, dict)] if isinstance(sheets, list) else []
    return list(dict.fromkeys(str(c) for sheet in listed for c in sheet.get("cautions") or ()))


def _finding(finding: Mapping[str, Any]) -> tuple[Text, ...]:
    severity = str(finding.get("severity", ""))
    where = _place(finding)
    remedies = finding.get("remedies") or ()
    remedy = str(remedies[0].get("text", "")) if remedies else ""
    texts = (finding.get("code", ""), where, finding.get("why", ""), remedy)
    mark = Text(severity, style=_MARKS.get(severity, ""))
    return mark, *(Text(str(text)) for text in texts)


def _place(finding: Mapping[str, Any]) -> str:
    """Say where a finding is: the layer, which of its letters, the line of a program.

    >>> _place({"layer": "face", "part": "face.y-2"}), _place({"layer": "board", "part": "board"})
    ('face: y (no. 2)', 'board')

    """
    layer, part = str(finding.get("layer") or ""), str(finding.get("part") or "")
    told: Mapping[str, Any] = finding.get("data") or {}
    if told.get("sheet"):
        line = f", line {told['line']} of its program" if told.get("line") else ""
        return f"sheet {told['sheet']}{line}"
    if not layer:
        return part
    name = part.removeprefix(layer).lstrip(".")
    again = _AGAIN.fullmatch(name)
    if again:
        name = f"{again[1]} (no. {again[2]})" if again[1] else f"piece {again[2]}"
    return f"{layer}: {name}" if name else layer


_AGAIN = re.compile(r"(.*)-([1-9][0-9]*)")


def show_survey(result: Result, folder: Path | None, written: Sequence[Path]) -> None:
    """Print a survey: fonts compared, then the weakest glyphs."""
    console = Console()
    console.print(Text(result.title, style="bold"))
    console.print(Text(result.summary))
    compared = result.document.get("comparison") or ()
    if compared:
        console.print(_compared(compared))
    glyphs = result.document.get("glyphs") or ()
    console.print(_glyphs(glyphs[:_SHOWN]))
    if len(glyphs) > _SHOWN:
        console.print(Text(f"and {len(glyphs) - _SHOWN} more", style="dim"))
    caution = (result.document.get("licence") or {}).get("licence_caution")
    if caution:
        console.print(Text(str(caution), style="dim"))
    if folder is not None:
        console.print(Text(f"{len(written)} files in {folder}", style="dim"))


def _compared(entries: Sequence[Mapping[str, Any]]) -> Table:
    table = Table(box=None, pad_edge=False)
    for title in ("font", _from(entries), "what asks for it"):
        table.add_column(title, overflow="fold")
    for entry in entries:
        table.add_row(Text(str(entry["font"]), style="bold"), _smallest(entry), _reason(entry))
    return table


def _glyphs(rows: Sequence[Mapping[str, Any]]) -> Table:
    table = Table(box=None, pad_edge=False)
    for title in ("glyph", "name", _from(rows), "what asks for it", "pieces", "closing"):
        table.add_column(title, overflow="fold")
    for row in rows:
        named = (Text(str(row.get("text") or "")), Text(str(row["name"])))
        counts = (Text(str(row["islands"] + 1)), Text(str(row["closing"])))
        table.add_row(*named, _smallest(row), _reason(row), *counts)
    return table


def _from(rows: Sequence[Mapping[str, Any]]) -> str:
    return "from" if any(row.get("told") for row in rows) else "from, mm"


def _reason(row: Mapping[str, Any]) -> Text:
    return Text(str(row.get("governing") or row.get("problem") or ""))


def _smallest(row: Mapping[str, Any]) -> Text:
    size = row.get("smallest_cap_height_mm")
    if size is None:
        return Text("none", style=_MARKS["blocker"])
    words = (row.get("told") or {}).get("smallest_cap_height_mm") or f"{size:g}"
    return Text(words, style=_MARKS["blocker"] if row.get("blocked") else "")


def show_entries(library: str, entries: Sequence[Entry]) -> None:
    """Print a list of the catalogue."""
    table = Table(box=None, pad_edge=False)
    table.add_column("key", style="bold", no_wrap=True)
    in_words = any(entry.facts.get("told") for entry in entries)
    for _, title in _COLUMNS[library]:
        table.add_column(title.partition(", mm")[0] if in_words else title)
    for entry in entries:
        facts = {**entry.facts, **(entry.facts.get("told") or {})}
        cells = (_cell(facts.get(name)) for name, _ in _COLUMNS[library])
        table.add_row(Text(entry.key), *(Text(cell) for cell in cells))
    Console().print(table)


def _cell(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_cell(v) for v in value)
    if isinstance(value, float):
        return f"{value:g}"
    return "" if value is None else str(value)
