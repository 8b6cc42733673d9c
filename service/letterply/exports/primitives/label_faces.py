"""Lines of text that the face of labels cannot set alone: names in any script, as outlines.

Labels are set in Atkinson Hyperlegible, as text. Where a line has a character that it lacks, the
whole line is shaped as lettering is (`letterply.lettering.setting.shaping`): what the label face
has stays in it, the rest comes from the fonts at hand, plain ones first, among them those that the
lettering itself is set in. A character that no font has is shown as a box.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from letterply.errors import LetterplyError
from letterply.lettering import Font, FontLibrary, missing_in, shape_line
from letterply.shapes import flatten_segments

__all__ = ["LabelFaces", "SetLine", "shipped_label_faces"]

_FACES = {False: "atkinson-hyperlegible", True: "atkinson-hyperlegible-bold"}
_PLAIN = ("noto-sans", "nunito", "varela-round")
"""Families that are easy to read small, best first."""

_STEPS = 1000
"""Steps an em to which curves are flattened: a label is read, not cut."""

_MOST_KNOWN = 4096
"""Lines that are remembered: tables and breaks ask for the same ones again."""

_BOX = np.array([[0.06, 0.0], [0.54, 0.0], [0.54, 0.7], [0.06, 0.7]])
_BOX_HOLE = np.array([[0.12, 0.06], [0.12, 0.64], [0.48, 0.64], [0.48, 0.06]])
_BOX_WIDTH = 0.6


@dataclass(frozen=True, slots=True)
class SetLine:
    """A line of text as outlines, in ems: y up, its baseline at 0, to be filled by winding.

    Attributes:
        width_em: how far it moves the pen.
        rings_em: corners `(n, 2)` of each contour.

    """

    width_em: float
    rings_em: tuple[NDArray[np.float64], ...]


class LabelFaces:
    """The fonts that labels may draw on.

    Args:
        library: fonts beside those that come with the service.

    """

    def __init__(self, library: FontLibrary | None = None) -> None:
        self._library = library or FontLibrary()
        self._known: dict[tuple[str, bool], SetLine | None] = {}

    def line(self, text: str, *, bold: bool = False) -> SetLine | None:
        """Return a line as outlines, or None when the label face has all of its characters."""
        found = self._known.get((text, bold))
        if found is None and (text, bold) not in self._known:
            label = self._library.load(_FACES[bold])
            plain = all(ord(c) in label.characters for c in text)
            found = None if plain else self._set(text, label, bold)
            if len(self._known) >= _MOST_KNOWN:
                self._known.clear()
            self._known[text, bold] = found
        return found

    def _set(self, text: str, label: Font, bold: bool) -> SetLine:
        pen, rings = 0.0, []
        for piece in self._pieces(text, label, bold):
            rings += [ring + (pen, 0.0) for ring in piece.rings_em]
            pen += piece.width_em
        return SetLine(pen, tuple(rings))

    def _pieces(self, text: str, label: Font, bold: bool) -> list[SetLine]:
        """Return the line in pieces, parted at what no font has."""
        fonts = [label]
        pieces: list[SetLine] = []
        start = 0
        for at, character in enumerate(text):
            if any(missing_in(character, font) is None for font in fonts):
                continue
            more = self._having(character, bold)
            if more is not None:
                fonts.append(more)
                continue
            pieces += [_shaped(text[start:at], fonts), _no_glyph()]
            start = at + 1
        return [*pieces, _shaped(text[start:], fonts)]

    def _having(self, character: str, bold: bool) -> Font | None:
        def readable(key: str) -> tuple[int, str]:
            first = [n for n, family in enumerate(_PLAIN) if key.startswith(family)]
            return (first[0] if first else len(_PLAIN), "" if first else key)

        for key in sorted(self._library.having(character), key=readable):
            try:
                font = self._library.load(key)
            except LetterplyError:  # an own font that is gone, or is one of a collection
                continue
            weights = {a.tag: a for a in font.facts.axes if bold and a.tag == "wght"}
            return font.at({tag: min(700.0, a.largest) for tag, a in weights.items()})
        return None


def _shaped(text: str, fonts: list[Font]) -> SetLine:
    if not text:
        return SetLine(0.0, ())
    em = fonts[0].units_per_em
    rings: list[NDArray[np.float64]] = []
    try:
        line = shape_line(fonts[0], text, fallback=fonts[1:])
        for glyph in line.glyphs:
            font = fonts[glyph.font]
            at = np.array([glyph.x, glyph.y]) / em
            rings += [ring / font.units_per_em + at for ring in _contours(font, glyph.glyph)]
    except LetterplyError:  # a letter that shaping asks for is not there, or is a picture
        boxes = [_no_glyph() for c in text if not c.isspace()]
        return SetLine(
            _BOX_WIDTH * len(boxes),
            tuple(r + (_BOX_WIDTH * n, 0.0) for n, box in enumerate(boxes) for r in box.rings_em),
        )
    return SetLine(line.advance / em, tuple(rings))


def _contours(font: Font, glyph: int) -> list[NDArray[np.float64]]:
    step = font.units_per_em / _STEPS
    return [flatten_segments(contour, step) for contour in font.outline(glyph)]


def _no_glyph() -> SetLine:
    return SetLine(_BOX_WIDTH, (_BOX, _BOX_HOLE))


@lru_cache(maxsize=1)
def shipped_label_faces() -> LabelFaces:
    """Return the fonts that come with the service, for text in pictures."""
    return LabelFaces()
