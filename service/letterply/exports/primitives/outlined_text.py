"""Text as outlines, for pictures: what is drawn never depends on the fonts of a machine.

The face is Atkinson Hyperlegible, which comes with the service. A line with characters that it does
not have is shaped with the other fonts that come with it (`label_faces`).
"""

from __future__ import annotations

import io
from functools import lru_cache
from importlib.resources import files
from typing import Any

from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

from letterply.exports.primitives.label_faces import shipped_label_faces
from letterply.exports.primitives.markup import clean
from letterply.exports.primitives.numbers import number

__all__ = ["text_path", "text_width", "wrapped"]

_PACKAGE = "fontpkg_atkinson_hyperlegible"
_DECIMALS = 3
_ANCHORS = {"start": 0.0, "middle": -0.5, "end": -1.0}


class _Face:
    """One style of the face: recordings of glyphs, made once each."""

    def __init__(self, style: str) -> None:
        data = (files(_PACKAGE) / "files" / f"AtkinsonHyperlegible-{style}.ttf").read_bytes()
        font = TTFont(io.BytesIO(data), lazy=True)
        self.units_per_em = int(font["head"].unitsPerEm)
        self._glyphs: Any = font.getGlyphSet()
        self._names: dict[int, str] = font.getBestCmap()
        self._recordings: dict[str, Any] = {}

    def glyph(self, character: str) -> tuple[Any, float]:
        """Return the recording of a character's glyph and its advance, in font units."""
        name = self._names.get(ord(character), ".notdef")
        if name not in self._recordings:
            pen = DecomposingRecordingPen(self._glyphs)
            self._glyphs[name].draw(pen)
            self._recordings[name] = pen
        return self._recordings[name], float(self._glyphs[name].width)


@lru_cache(maxsize=2)
def _face(bold: bool) -> _Face:
    return _Face("Bold" if bold else "Regular")


def text_width(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Return the width of a line of text, mm; `size_mm` is the size of the em."""
    line = clean(text)
    outlined = shipped_label_faces().line(line, bold=bold)
    if outlined is not None:
        return outlined.width_em * size_mm
    face = _face(bold)
    units = sum(face.glyph(c)[1] for c in line)
    return units * size_mm / face.units_per_em


def wrapped(text: str, size_mm: float, width_mm: float, *, bold: bool = False) -> list[str]:
    """Return the text broken into lines: between words, within one that is wider than a line."""
    found = [""]
    for word in clean(text).split(" "):
        for piece in _pieces(word, size_mm, width_mm, bold=bold):
            longer = f"{found[-1]} {piece}" if found[-1] else piece
            if not found[-1] or text_width(longer, size_mm, bold=bold) <= width_mm:
                found[-1] = longer
            else:
                found.append(piece)
    return found


def _pieces(word: str, size_mm: float, width_mm: float, *, bold: bool) -> list[str]:
    found = []
    while len(word) > 1 and text_width(word, size_mm, bold=bold) > width_mm:
        end = next(
            (n for n in range(len(word) - 1, 1, -1)
             if text_width(word[:n], size_mm, bold=bold) <= width_mm),
            1,
        )  # fmt: skip
        found.append(word[:end])
        word = word[end:]
    return [*found, word]


def text_path(
    text: str,
    size_mm: float,
    *,
    x_mm: float = 0.0,
    y_mm: float = 0.0,
    anchor: str = "start",
    bold: bool = False,
) -> str:
    """Return a line of text as path data, y down.

    Args:
        text: the line; white space runs into single spaces.
        size_mm: size of the em.
        x_mm: where the line starts, has its middle, or ends, as `anchor` says.
        y_mm: the baseline.
        anchor: `start`, `middle` or `end`.
        bold: whether the bold style is used.

    """
    face = _face(bold)
    scale = size_mm / face.units_per_em
    x = x_mm + _ANCHORS[anchor] * text_width(text, size_mm, bold=bold)
    pen = SVGPathPen(None, ntos=lambda v: number(v, _DECIMALS))
    line = clean(text)
    outlined = shipped_label_faces().line(line, bold=bold)
    if outlined is not None:
        for ring in outlined.rings_em:
            corners = [(x + a * size_mm, y_mm - b * size_mm) for a, b in ring.tolist()]
            pen.moveTo(corners[0])
            for corner in corners[1:]:
                pen.lineTo(corner)
            pen.closePath()
        return str(pen.getCommands())
    for character in line:
        recording, advance = face.glyph(character)
        recording.replay(TransformPen(pen, (scale, 0, 0, -scale, x, y_mm)))
        x += advance * scale
    return str(pen.getCommands())
