"""The papers of an order, as a task: what was made, in one document, a table, a quote."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from shapely.affinity import affine_transform

from letterply.catalogue import Catalogue, Shop
from letterply.errors import LetterplyError
from letterply.exports import time_words, to_json
from letterply.lettering import FontLibrary
from letterply.names import visible
from letterply.orders.codec import value_of
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.layer_file import layer_from
from letterply.orders.pipeline.layouts import PlacedSpec, SheetSpec
from letterply.orders.pipeline.marks import mark_order
from letterply.orders.pipeline.papers_pdf import document_files
from letterply.orders.pipeline.parts import Listed, board_parts, line_parts
from letterply.orders.quote import Quote, SheetCost, make_quote
from letterply.orders.states import LineState
from letterply.stacks import Layer, rigid
from letterply.storage import FAULTS, Vault
from letterply.units import counted

__all__ = ["make_papers", "parts_csv"]

_GUARDED = ("=", "+", "-", "@", "\t", "\r")
"""A cell that starts so would be computed by a spreadsheet."""


def make_papers(
    args: dict[str, Any], vault: Vault, catalogue: Catalogue, shop: Shop, library: FontLibrary
) -> dict[str, Any]:
    """Return the manifest of an order: its document, its headline and all of its files.

    Args:
        args: the order, the keys of its lines and sheets, its sheets, what found no room.
        vault: has the answers.
        catalogue: for names.
        shop: for set-ups.
        library: for names in any script.

    """
    order = value_of(Order, args["order"])
    failed = args["failed"]
    lines = [failed.get(key) or _answer(vault, key) for key in args["line_keys"]]
    sheets = [failed.get(key) or _answer(vault, key) for key in args["sheet_keys"]]
    laid = [value_of(SheetSpec, raw) for raw in args["sheets"]]
    rows = _part_rows(order, lines, laid, args["pools"], vault)
    quote = _quote(order, lines, sheets, shop)
    places = {r["mark"]: r["sheet"] for r in rows if r["sheet"] != ""}
    document = _document(order, lines, sheets, rows, quote)
    document["lost"] = _lost(order, lines, laid, sheets, args["pools"])
    files = {
        "order.json": to_json(document),
        "parts.csv": parts_csv(rows),
        "quote.json": to_json({"rules": order.prices.model_dump(), **quote.facts()}),
        **document_files(
            order, lines, sheets, places, document, quote, vault, catalogue, shop, library
        ),
    }
    manifest = [
        {"path": path, "digest": vault.write(data), "size": len(data)}
        for path, data in files.items()
    ]
    for sheet in sheets:
        manifest += sheet.get("files", [])
    return {
        "document": "order.json",
        "headline": _headline(document),
        "layout": vault.write(to_json({"sheets": args["sheets"]})),
        "files": sorted(manifest, key=lambda f: str(f["path"])),
    }


def _answer(vault: Vault, key: str) -> dict[str, Any]:
    found = vault.recall(key)
    if found is None:
        raise LetterplyError(
            "An answer that this order builds on is gone.",
            code="artifact-damaged",
            data={"key": key},
        )
    return found


def _part_rows(
    order: Order,
    lines: Sequence[Mapping[str, Any]],
    sheets: Sequence[SheetSpec],
    pools: Sequence[Mapping[str, Any]],
    vault: Vault,
) -> list[dict[str, Any]]:
    """Return a row for each part, in the order of marks.

    Where it lies is said by the lower left corner of its box on the sheet, and how far it is
    turned.
    """
    corners = _Corners(vault)
    on_sheet = {
        mark: (sheet, part) for sheet in sheets for part in sheet.parts for mark in part.marks
    }
    unplaced = {u["mark"]: u["why"] for pool in pools for u in pool.get("unplaced", ())}
    unlaid = {p["material"]: p["problem"]["message"] for p in pools if not p["ok"]}

    def row(listed: Listed, line: int, reference: str, text: str) -> dict[str, Any]:
        layer, part = listed.layer, listed.part
        sheet, placed = on_sheet.get(listed.mark, (None, None))
        x, y = corners.of(placed) if placed else ("", "")
        return {
            "mark": listed.mark,
            "line": line,
            "copy": listed.copy,
            "reference": reference,
            "text": text,
            "letters": part["letters"],
            "layer": layer["name"],
            "material": layer["material"],
            "thickness_mm": layer["thickness_mm"],
            "width_mm": part["size_mm"][0],
            "height_mm": part["size_mm"][1],
            "area_mm2": part["area_mm2"],
            "sheet": sheet.number if sheet else "",
            "x_mm": x,
            "y_mm": y,
            "turn_deg": placed.placement[0] if placed else "",
            "cut_from": "back" if layer["from_back"] else "front",
            "not_placed": unplaced.get(listed.mark) or unlaid.get(layer["material"], ""),
        }

    rows = [row(listed, 0, "", "") for listed in board_parts(order.lines, lines)]
    for line, made in zip(order.lines, lines, strict=True):
        if made["ok"]:
            parts = line_parts(line, made)
            rows += [row(listed, line.number, line.reference, line.text) for listed in parts]
    return sorted(rows, key=lambda r: mark_order(str(r["mark"])))


class _Corners:
    """Tells where parts lie; a layer is read once."""

    def __init__(self, vault: Vault) -> None:
        self._vault = vault
        self._layers: dict[str, Layer] = {}

    def of(self, placed: PlacedSpec) -> tuple[float, float]:
        """Return the lower left corner of a part, from that of its sheet, mm."""
        if placed.file not in self._layers:
            self._layers[placed.file] = layer_from(self._vault.read(placed.file))
        layer = self._layers[placed.file]
        seen = layer.parts[placed.index].cut_view(from_back=layer.from_back)
        lying = affine_transform(seen.outline, rigid(*placed.placement))
        left, low, _, _ = lying.bounds
        return round(left, 3), round(low, 3)


def parts_csv(rows: Sequence[Mapping[str, Any]]) -> bytes:
    """Return rows as CSV (RFC 4180), UTF-8 with a mark, no cell that a spreadsheet computes."""
    out = io.StringIO()
    names = list(rows[0]) if rows else ["mark"]
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names)
    for row in rows:
        writer.writerow([_harmless(row[name]) for name in names])
    return out.getvalue().encode("utf-8-sig")


def _harmless(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    seen = visible(value)
    return f"'{seen}" if seen.startswith(_GUARDED) else seen


def _quote(
    order: Order,
    lines: Sequence[Mapping[str, Any]],
    sheets: Sequence[Mapping[str, Any]],
    shop: Shop,
) -> Quote:
    by_hand = shop.machine.tool_change == "program"
    costs = [SheetCost.of(s, changes_by_hand=by_hand) for s in sheets if s["ok"]]
    hand = sum(
        line.quantity * float(line.recipe.get("hand_minutes", 0.0))
        for line, made in zip(order.lines, lines, strict=True)
        if made["ok"]
    )
    return make_quote(costs, hand, order.prices, changes_by_hand=by_hand)


def _document(
    order: Order,
    lines: Sequence[Mapping[str, Any]],
    sheets: Sequence[Mapping[str, Any]],
    rows: Sequence[Mapping[str, Any]],
    quote: Quote,
) -> dict[str, Any]:
    sheets_of: dict[int, set[int]] = {}
    missing: dict[int, int] = {}
    for row in rows:
        if row["sheet"] == "":
            missing[row["line"]] = missing.get(row["line"], 0) + 1
        else:
            sheets_of.setdefault(row["line"], set()).add(row["sheet"])
    unplaced = [
        {"mark": r["mark"], "why": r["not_placed"], "thickness_mm": r["thickness_mm"]}
        for r in rows
        if r["sheet"] == ""
    ]
    failed = [n for n, made in zip(order.lines, lines, strict=True) if not made["ok"]]
    unplanned = [s["problem"]["message"] for s in sheets if not s["ok"]]
    unproved = [s["number"] for s in sheets if s["ok"] and not s["passed"]]
    blocked = sum(made["findings"]["counts"]["blocker"] for made in lines if made["ok"])
    time_s = sum(s["time_s"] for s in sheets if s["ok"])
    said = [
        f"{counted(len(order.lines), 'line')}, {counted(order.pieces, 'copy', 'copies')}: "
        f"{counted(len(rows) - len(unplaced), 'part')} on {_sheets_in_words(sheets)}, "
        f"about {time_words(time_s)} on the machine."
    ]
    if failed:
        why = next(made["problem"]["message"] for made in lines if not made["ok"])
        said.append(f"{counted(len(failed), 'line')} could not be made: {_sentence(why)}")
    if unplaced:
        said.append(f"{counted(len(unplaced), 'part')} found no space on a sheet.")
    if unplanned:
        # One reason stands for all sheets that it stopped.
        reasons = " ".join(_sentence(why) for why in dict.fromkeys(unplanned))
        said.append(f"{counted(len(unplanned), 'sheet')} could not be planned: {reasons}")
    if unproved:
        said.append(f"The proof of {counted(len(unproved), 'sheet')} did not pass: do not cut.")
    elif len(sheets) > len(unplanned):
        said.append("Every program passed its proof.")
    if blocked:
        first = _first_blocker(order, lines)
        said.append(f"The checks name {counted(blocked, 'blocker')}, first: {first}")
    return {
        "summary": " ".join(said),
        "title": order.title,
        "ready": not (failed or unplaced or unplanned or unproved or blocked) and bool(sheets),
        "proved": bool(sheets) and not (unplanned or unproved),
        "time_s": round(time_s, 1),
        "totals": {
            "lines": len(order.lines),
            "failed_lines": len(failed),
            "copies": order.pieces,
            "parts": len(rows),
            "unplaced": len(unplaced),
            "sheets": len(sheets),
            "programs": sum(len(s["programs"]) for s in sheets if s["ok"]),
        },
        "quote": quote.facts(),
        "lines": [
            {
                "line": line.number,
                "text": line.text,
                "reference": line.reference,
                "quantity": line.quantity,
                "recipe": line.recipe_name,
                "state": LineState.MADE if made["ok"] else LineState.FAILED,
                "parts": sum(len(la["parts"]) for la in made["layers"]) if made["ok"] else 0,
                "sheets": sorted(sheets_of.get(line.number, ())),
                "unplaced_parts": missing.get(line.number, 0),
                **(
                    {"findings": made["findings"]}
                    if made["ok"]
                    else {"problem": {k: made["problem"][k] for k in ("code", "message", "field")}}
                ),
            }
            for line, made in zip(order.lines, lines, strict=True)
        ],
        "sheets": [
            {k: v for k, v in s.items() if k not in ("ok", "files", "problem")}
            if s["ok"]
            else {"problem": s["problem"]["message"], "code": s["problem"]["code"]}
            for s in sheets
        ],
        "unplaced": unplaced,
    }


def _first_blocker(order: Order, lines: Sequence[Mapping[str, Any]]) -> str:
    for line, made in zip(order.lines, lines, strict=True):
        for finding in made["findings"]["told"] if made["ok"] else ():
            if finding["severity"] == "blocker":
                return _sentence(f"on line {line.number}: {finding['why']}")
    return ""


def _sentence(text: str) -> str:
    return f"{text.rstrip('.')}."


def _lost(
    order: Order,
    lines: Sequence[Mapping[str, Any]],
    laid: Sequence[SheetSpec],
    sheets: Sequence[Mapping[str, Any]],
    pools: Sequence[Mapping[str, Any]],
) -> dict[str, list[Any]]:
    """Return what was lost to faults of the service, and so may be asked for again."""

    def fault(made: Mapping[str, Any]) -> bool:
        return not made["ok"] and made["problem"]["code"] in FAULTS

    return {
        "lines": [n.number for n, made in zip(order.lines, lines, strict=True) if fault(made)],
        "sheets": [s.number for s, made in zip(laid, sheets, strict=True) if fault(made)],
        "materials": [pool["material"] for pool in pools if fault(pool)],
    }


def _headline(document: Mapping[str, Any]) -> dict[str, Any]:
    names = ("title", "summary", "ready", "proved", "time_s")
    found = {name: document[name] for name in names}
    blockers = sum(
        line["findings"]["counts"]["blocker"] for line in document["lines"] if "findings" in line
    )
    return {**found, "counts": {"blocker": blockers}, "totals": document["totals"]}


def _sheets_in_words(sheets: Sequence[Mapping[str, Any]]) -> str:
    loads = sum(bool(s["ok"] and s["of_blanks"]) for s in sheets)
    said = counted(len(sheets) - loads, "sheet")
    return f"{said} and {counted(loads, 'load')} of blanks" if loads else said
