"""Fonts made here to be awkward: crossing and empty contours, very many glyphs, damaged tables."""

from __future__ import annotations

import io
from functools import cache

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

__all__ = ["CONTOURS", "awkward", "damaged", "font_bytes", "many_glyphs"]

Contours = list[list[tuple[int, int]]]

SQUARE: Contours = [[(100, 0), (100, 700), (500, 700), (500, 0)]]

CONTOURS: dict[str, Contours] = {
    "bow tie": [[(0, 0), (600, 700), (600, 0), (0, 700)]],
    "line there and back": [[(0, 0), (600, 700), (0, 0)]],
    "one point": [[(300, 300)]],
    "two points": [[(0, 0), (600, 700)]],
    "all points the same": [[(300, 300)] * 5],
    "three points in line": [[(0, 0), (300, 0), (600, 0)]],
    "the same square twice": SQUARE * 2,
    "a square against itself": [SQUARE[0], SQUARE[0][::-1]],
    "squares that share a side": [SQUARE[0], [(500, 0), (500, 700), (900, 700), (900, 0)]],
    "squares that share a corner": [SQUARE[0], [(500, 700), (500, 900), (900, 900), (900, 700)]],
    "a hole that touches the outside": [
        SQUARE[0],
        [(100, 300), (300, 400), (400, 300), (300, 200)],
    ],
    "a spike of no width": [[(100, 0), (100, 700), (100, 1400), (100, 700), (500, 700), (500, 0)]],
    "five-pointed star in one stroke": [[(300, 0), (480, 600), (0, 230), (600, 230), (120, 600)]],
    "sliver of one unit": [[(100, 0), (100, 700), (101, 700), (101, 0)]],
    "as large as can be": [[(-16000, -16000), (-16000, 16000), (16000, 16000), (16000, -16000)]],
    "very many corners": [
        [(x, (x * 7919) % 700 + 100) for x in range(0, 8000, 2)] + [(8000, 0), (0, 0)]
    ],
}
"""Contours of glyphs by what is awkward about them, in units of 1000 to the em."""


def font_bytes(glyphs: dict[str, Contours], characters: dict[int, str]) -> bytes:
    """Return a TrueType font of these glyphs."""
    builder = FontBuilder(1000, isTTF=True)
    order = [".notdef", *glyphs]
    builder.setupGlyphOrder(order)
    builder.setupCharacterMap(characters)
    made = {}
    for name, contours in ({".notdef": []} | glyphs).items():
        pen = TTGlyphPen(None)
        for contour in contours:
            pen.moveTo(contour[0])
            for point in contour[1:]:
                pen.lineTo(point)
            pen.closePath()
        made[name] = pen.glyph(dropImpliedOnCurves=False)
    builder.setupGlyf(made)
    builder.setupHorizontalMetrics(dict.fromkeys(order, (600, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Mudflat", "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=800, sTypoDescender=-200, sCapHeight=700, sxHeight=500)
    builder.setupPost()
    file = io.BytesIO()
    builder.save(file)
    return file.getvalue()


@cache
def awkward() -> bytes:
    """Return a font with an H and a glyph for each of `CONTOURS`, from A0 hexadecimal on."""
    glyphs = {"H": SQUARE} | {f"g{k}": c for k, c in enumerate(CONTOURS.values())}
    characters = {ord("H"): "H"} | {0xA1 + k: f"g{k}" for k in range(len(CONTOURS))}
    return font_bytes(glyphs, characters)


@cache
def many_glyphs(count: int = 60_000) -> bytes:
    """Return a font with very many glyphs, squares all, on private and Chinese code points."""
    glyphs = {f"g{k}": SQUARE for k in range(count)}
    characters = {0x100 + k: f"g{k}" for k in range(count) if not 0xD800 <= 0x100 + k < 0xE000}
    return font_bytes(glyphs | {"H": SQUARE}, characters | {ord("H"): "H"})


def damaged(data: bytes, table: str, at: int, change: bytes) -> bytes:
    """Return a font with bytes of one table overwritten, counted from its start."""
    count = int.from_bytes(data[4:6], "big")
    for k in range(count):
        entry = 12 + 16 * k
        if data[entry : entry + 4].decode() == table:
            start = int.from_bytes(data[entry + 8 : entry + 12], "big") + at
            return data[:start] + change + data[start + len(change) :]
    raise KeyError(table)
