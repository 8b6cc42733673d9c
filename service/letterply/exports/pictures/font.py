"""What a font looks like: its name and its letters, drawn from its own outlines. SVG text, y down.

Letters that the font lacks are left out; a font without Latin letters shows those of its own
scripts. All mm.
"""

from __future__ import annotations

import unicodedata

from fontTools import unicodedata as scripts
from shapely.affinity import translate

from letterply.errors import LetterplyError
from letterply.exports.primitives.captions import (
    INK,
    QUIET,
    caption,
    caption_within,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.lettering import Font, LetteringSpec, Size, set_lettering
from letterply.shapes import Region, Tolerances, as_region, rings

__all__ = ["font_picture", "region_path"]

_WIDTH = 200.0
_MARGIN = 12.0
_ROW = 15.0
_NAME = 24.0
_CAPTION = 4.2
_LATIN = (
    "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "abcdefghijklmnopqrstuvwxyz",
    "0123456789 &!?",
)
_LETTERS_A_ROW = 16
_ROWS_A_SCRIPT = 2
_MOST_SCRIPTS = 3
_COARSE = Tolerances(flatten_mm=0.02)
"""A picture is looked at, not cut."""


def font_picture(font: Font) -> str:
    """Return a picture of a font as SVG; it says so where a row cannot be drawn."""
    facts = font.facts
    name = " ".join(part for part in (facts.family, facts.style) if part)
    rows: list[tuple[str, float]] = []
    if all(font.has(c) or c == " " for c in facts.family):
        rows.append((facts.family, _NAME))
    rows += [(row, _ROW) for row in _samples(font)]
    body: list[str] = []
    y = _MARGIN + 2.4 * _CAPTION
    for row, height in rows:
        drawn = _row(font, row, height)
        if drawn is None:
            continue
        body.append(
            f'<path d="{region_path(drawn, _MARGIN, y + drawn.bounds[3])}" fill="{INK}" '
            'fill-rule="evenodd"/>'
        )
        y += drawn.bounds[3] - drawn.bounds[1] + 0.45 * _ROW
    if not body:
        body.append(
            caption("None of its letters can be drawn.", _CAPTION, _MARGIN, y + 6, colour=QUIET)
        )
        y += 12
    width = _WIDTH + 2 * _MARGIN
    height = y + _CAPTION + 0.6 * _MARGIN
    says = _says(font)
    found = svg_open(width, height, escaped(name), escaped(says))
    found.append(caption_within(name, _CAPTION, _MARGIN, _MARGIN, _WIDTH, bold=True))
    found += body
    found.append(caption_within(says, 3.2, _MARGIN, height - 0.6 * _MARGIN, _WIDTH, colour=QUIET))
    return svg_close(found)


def _samples(font: Font) -> list[str]:
    rows = ["".join(c for c in row if font.has(c)).strip() for row in _LATIN]
    covered = [s.code for s in font.facts.scripts]
    others = [code for code in covered if code != "Latn"][:_MOST_SCRIPTS]
    if "Latn" in covered[:2] and len(others) > 1:
        others = others[:1]
    for code in others:
        letters = [
            chr(c)
            for c in sorted(font.characters)
            if scripts.script(chr(c)) == code and unicodedata.category(chr(c)) in ("Lo", "Lu", "Ll")
        ]
        for start in range(0, _ROWS_A_SCRIPT * _LETTERS_A_ROW, _LETTERS_A_ROW):
            row = letters[start : start + _LETTERS_A_ROW]
            if row:
                # Apart, so that letters of scripts that join are seen one by one.
                rows.append(" ".join(row))
    return [row for row in rows if row]


def _row(font: Font, text: str, height: float) -> Region | None:
    """Return a row of letters that fits; None when the font has no outline for one of them."""
    spec = LetteringSpec(text, font.key, Size("fit", _WIDTH, height), align="left")
    try:
        region = set_lettering(spec, font, _COARSE).region
    except LetterplyError:
        return None
    left, low, _, _ = region.bounds
    return as_region(translate(region, -left, -low))


def region_path(region: Region, x_mm: float, y_mm: float) -> str:
    """Return a region as path data, its origin at (x_mm, y_mm), y turned down."""
    parts: list[str] = []
    for ring in rings(region):
        points = [f"{number(x_mm + x, 2)} {number(y_mm - y, 2)}" for x, y in ring.tolist()]
        parts.append("M" + "L".join(points) + "Z")
    return "".join(parts)


def _says(font: Font) -> str:
    facts = font.facts
    words = [f"{facts.outlines} outlines", f"{facts.glyph_count} glyphs"]
    named = [s.name for s in facts.scripts[:4]]
    if named:
        words.append(", ".join(named) + (" ..." if len(facts.scripts) > len(named) else ""))
    words += [f"{a.tag} {a.least:g} to {a.largest:g}" for a in facts.axes[:4]]
    return "; ".join(words)
