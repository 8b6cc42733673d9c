"""A survey as a document and as a table.

Places are shares of the em, from the glyph's origin: x to the right, y up. Widths and loads are
those at the smallest size, unless they say otherwise.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from letterply.catalogue import material_cautions
from letterply.checks import REFERENCE_EM_MM, Comparison, Sizing, Survey, SurveyRow, Terms
from letterply.exports.documents.values import Document
from letterply.exports.primitives.numbers import rounded
from letterply.lettering import describe
from letterply.units import column_in_units, counted, format_exact, format_mm, spoken

__all__ = ["comparison_csv", "survey_csv", "survey_document"]

_COLUMNS = (
    "rank",
    "glyph",
    "name",
    "text",
    "codepoints",
    "smallest_cap_height_mm",
    "confirmed",
    "governing",
    "kind",
    "width_mm",
    "load_n",
    "islands",
    "counters",
    "closing",
    "blocked",
    "problem",
)
_BRANCHED = 100
"""So many glyphs, the weakest, are told branch by branch."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def survey_document(survey: Survey, comparison: Sequence[Comparison] = ()) -> Document:
    """Return a survey, and the comparison that was asked for with it, as a document."""
    facts = describe(survey.font)
    rows = [_row(rank, row) for rank, row in enumerate(survey.rows, start=1)]
    for entry, row in zip(rows[:_BRANCHED], survey.rows, strict=False):
        entry["branches"] = _branches(row)
    return {
        "summary": _summary(survey, facts, comparison),
        "font": facts,
        "axes": dict(survey.font.location),
        "licence": {
            key: facts[key]
            for key in ("copyright", "licence", "licence_url", "embedding", "licence_caution")
        },
        "terms": _terms(survey.terms, survey.cap_height_mm),
        "selection": {
            "set": survey.selection.name or None,
            "text": survey.selection.text or None,
            "characters": survey.selection.characters or None,
            "first": survey.selection.first,
            "total": survey.total,
            "next_first": survey.following,
            "blank": survey.blank,
            "missing": list(survey.missing),
        },
        "text": None if survey.text is None else _sizing(survey.text),
        "comparison": [_compared(rank, c) for rank, c in enumerate(comparison, start=1)],
        "glyphs": rows,
    }


def _summary(survey: Survey, facts: Document, comparison: Sequence[Comparison]) -> str:
    name = " ".join(part for part in (facts["family"], facts["style"]) if part)
    terms = survey.terms
    cutter = terms.cutter
    rows = survey.rows
    blocked = sum(bool(row.spots) for row in rows)
    words = [
        f"{name}: {counted(len(rows), 'glyph')} for {format_mm(terms.thickness_mm)} "
        f"{terms.material.name.lower()} and "
        + (f"a cutter of {format_mm(cutter.diameter_mm)}" if cutter else "no cutter that reaches")
        + f"; {blocked} cannot be cut with capitals {format_mm(survey.cap_height_mm)} high."
    ]
    if survey.text is not None:
        words.append(f"The text: {survey.text.summary}")
    readable = [row for row in rows if row.sizing is not None]
    if readable and readable[0].sizing is not None:
        words.append(f"The weakest is {readable[0].label}: {readable[0].sizing.summary}")
    broken = len(rows) - len(readable)
    if broken:
        words.append(f"{counted(broken, 'outline')} cannot be read.")
    if comparison and comparison[0].sizing is not None:
        best = comparison[0]
        facts = describe(best.font)
        name = " ".join(part for part in (facts["family"], facts["style"]) if part)
        words.append(f"Of the fonts compared, {name} can be cut smallest.")
    if survey.following is not None:
        words.append(f"It goes on with glyph {survey.following} of {survey.total}.")
    return " ".join(words)


def _terms(terms: Terms, cap_height_mm: float) -> Document:
    cutter = terms.cutter
    return {
        "material": terms.material.key,
        "material_name": terms.material.name,
        "thickness_mm": rounded(terms.thickness_mm),
        "least_width_mm": rounded(terms.limit_mm),
        "cutter": cutter.key if cutter else None,
        "cutter_diameter_mm": rounded(cutter.diameter_mm) if cutter else None,
        "supported": terms.supported,
        "cap_height_mm": rounded(cap_height_mm),
        "load_to_bear_n": rounded(terms.needed_n / terms.rules.safety_factor),
        "safety_factor": rounded(terms.rules.safety_factor),
        "cautions": list(material_cautions(terms.material)),
    }


def _row(rank: int, row: SurveyRow) -> Document:
    found: Document = {
        "rank": rank,
        "glyph": row.glyph,
        "name": row.name,
        "text": row.text,
        "codepoints": [f"U+{ord(c):04X}" for c in row.text],
        "islands": row.islands,
        "counters": row.counters,
        "closing": row.closing,
        "blocked": bool(row.spots),
        "problem": row.problem or None,
    }
    return found | (_sizing(row.sizing) if row.sizing else {"smallest_cap_height_mm": None})


def _branches(row: SurveyRow) -> Document | None:
    """Return how many branches of each kind a glyph has, and the least width of each, in em."""
    if row.measures is None:
        return None
    found: Document = {}
    for branch in (b for piece in row.measures.pieces for b in piece.branches):
        entry = found.setdefault(str(branch.kind), {"count": 0, "least_em": branch.least_mm})
        entry["count"] += 1
        entry["least_em"] = min(entry["least_em"], branch.least_mm)
    for entry in found.values():
        entry["least_em"] = rounded(entry["least_em"] / REFERENCE_EM_MM)
    return found


def _sizing(sizing: Sizing) -> Document:
    spot = sizing.spot
    smallest = sizing.cap_height_mm
    told = {}
    if spoken() != "mm" and smallest is not None:
        told = {"told": {"smallest_cap_height_mm": format_exact(smallest, 2)}}
    return {
        **told,
        "smallest_cap_height_mm": _maybe(sizing.cap_height_mm),
        "confirmed": sizing.confirmed,
        "summary": sizing.summary,
        "governing": sizing.governing,
        "kind": spot.kind if spot else None,
        "at_em": [rounded(v / REFERENCE_EM_MM) for v in spot.at] if spot else None,
        "width_mm": _maybe(sizing.width_mm, 3),
        "load_n": _maybe(sizing.load_n, 2),
        "at_any_size": list(sizing.at_any_size),
        "note": sizing.note,
    }


def _compared(rank: int, entry: Comparison) -> Document:
    facts = describe(entry.font)
    found: Document = {
        "rank": rank,
        "font": entry.font.key,
        "family": facts["family"],
        "style": facts["style"],
        "axes": dict(entry.font.location),
        "licence": facts["licence"],
        "embedding": facts["embedding"],
        "problem": entry.problem or None,
    }
    sizing = _sizing(entry.sizing) if entry.sizing else {"smallest_cap_height_mm": None}
    return found | sizing


def _maybe(value: float | None, decimals: int = 4) -> float | None:
    return None if value is None else rounded(value, decimals)


def survey_csv(survey: Survey) -> bytes:
    """Return the rows of a survey as CSV (RFC 4180), UTF-8, a row a glyph, worst first."""
    rows = (_row(rank, row) for rank, row in enumerate(survey.rows, start=1))
    return _table(_COLUMNS, rows)


def comparison_csv(comparison: Sequence[Comparison]) -> bytes:
    """Return fonts compared as CSV, best first."""
    columns = ("rank", "font", "family", "style", "smallest_cap_height_mm", "confirmed",
               "governing", "width_mm", "load_n", "embedding", "problem")  # fmt: skip
    return _table(columns, (_compared(rank, c) for rank, c in enumerate(comparison, start=1)))


def _table(columns: Sequence[str], rows: Any) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out)
    told = [column_in_units(name) for name in columns]
    writer.writerow([name for name, _ in told])
    for row in rows:
        pairs = zip((row.get(name) for name in columns), told, strict=True)
        writer.writerow([_cell(in_units(value)) for value, (_, in_units) in pairs])
    return out.getvalue().encode("utf-8", errors="replace")


def _cell(value: Any) -> str:
    """Return a cell; text that a spreadsheet would take for a formula is put behind a quote."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " ".join(str(v) for v in value)
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return str(value)
