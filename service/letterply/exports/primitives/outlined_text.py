"""Text as outlines, for pictures: what is drawn never depends on the fonts of a machine.

The face is Atkinson Hyperlegible, which comes with the service. A line with characters that it does
not have is shaped with the other fonts that come with it (`label_faces`).
"""

from __future__ import annotations

import io
from bisect import bisect_right
from functools import lru_cache
from importlib.resources import files
from itertools import accumulate
from typing import Any

from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

from letterply.exports.primitives.label_faces import shipped_label_faces
from letterply.exports.primitives.markup import clean
from letterply.exports.primitives.numbers import number

__all__ = ["fitted", "text_path", "text_width", "wrapped"]

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


def fitted(text: str, size_mm: float, width_mm: float, *, bold: bool = False) -> str:
    """Return the text, cut short with an ellipsis where it is wider than `width_mm`."""
    line = clean(text)
    if shipped_label_faces().line(line, bold=bold) is not None:
        if text_width(line, size_mm, bold=bold) <= width_mm:
            return line
        for end in range(len(line) - 1, 0, -1):
            short = f"{line[:end].rstrip()}…"
            if text_width(short, size_mm, bold=bold) <= width_mm:
                return short
        return "…"
    face = _face(bold)
    room = width_mm * face.units_per_em / size_mm
    ends = list(accumulate(face.glyph(c)[1] for c in line))
    if not ends or ends[-1] <= room:
        return line
    room -= face.glyph("…")[1]
    return f"{line[: bisect_right(ends, room)].rstrip()}…"


def wrapped(
    text: str, size_mm: float, width_mm: float, *, lines: int, bold: bool = False
) -> list[str]:
    """Return the text broken between words into at most `lines` lines; the last is cut short."""
    words = clean(text).split(" ")
    found: list[str] = []
    line = ""
    for place, word in enumerate(words):
        longer = f"{line} {word}" if line else word
        if not line or text_width(longer, size_mm, bold=bold) <= width_mm:
            line = longer
            continue
        if len(found) == lines - 1:
            line = " ".join([line, *words[place:]])
            break
        found.append(fitted(line, size_mm, width_mm, bold=bold))
        line = word
    return [*found, fitted(line, size_mm, width_mm, bold=bold)]


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
