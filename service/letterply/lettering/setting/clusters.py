"""Lines of letters, shaped and ready to be placed: the steps from text to movable pieces.

All figures are units of the first font. A *cluster* is what moves as one: the glyphs of a letter
with its marks, or of a ligature, about an anchor. On a horizontal line the anchor is the middle of
its advance on the baseline; in a column it is the top of its ink, or the pen of vertical writing.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from fontTools import unicodedata as scripts
from numpy.typing import NDArray

from letterply.lettering.fonts.font import Font
from letterply.lettering.setting.bidi import base_level
from letterply.lettering.setting.itemising import grapheme_starts
from letterply.lettering.setting.optical import optical_shifts
from letterply.lettering.setting.shaping import ShapedGlyph, ShapedLine, shape_line
from letterply.lettering.setting.spec import LetteringSpec

__all__ = ["Cluster", "Line", "compose"]

_COLUMN_SCRIPTS = frozenset({"Hani", "Hira", "Kata", "Hang", "Bopo"})
"""Scripts that are written in columns by the font's own vertical metrics."""

_GAP_OF_CAPS = 0.25
"""Gap between letters of a column as a share of the cap height: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Cluster:
    """What moves as one.

    Attributes:
        start: index in its line's text of its first character.
        text: its characters.
        glyphs: (place of the font, glyph, x, y), positions from the anchor.
        pen: where along the line it begins, and
        advance: how far it moves the pen; down in a column.

    """

    start: int
    text: str
    glyphs: tuple[tuple[int, int, float, float], ...]
    pen: float
    advance: float

    @property
    def is_space(self) -> bool:
        """Whether it is white space."""
        return self.text.isspace()


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line as shaped: its clusters in the order in which they are seen.

    Attributes:
        clusters: left to right, or top to bottom.
        advance: its length before tracking.
        runs_right_to_left: whether the line as a whole does; in columns: whether the next column
            stands to the left.
        joining: for each cluster, whether its script is joined by its nature.
        design: where each anchor stands by the font's own spacing.
        pens: where each cluster begins.
        advances: how far each cluster moves the pen.
        spaces: which clusters are white space.

    """

    clusters: tuple[Cluster, ...]
    advance: float
    runs_right_to_left: bool
    joining: tuple[bool, ...]
    design: tuple[float, ...]
    pens: NDArray[np.float64]
    advances: NDArray[np.float64]
    spaces: NDArray[np.bool_]

    @classmethod
    def of(
        cls,
        clusters: Sequence[Cluster],
        advance: float,
        runs_right_to_left: bool,
        joining: tuple[bool, ...] = (),
        design: tuple[float, ...] = (),
    ) -> Line:
        """Return a line with the figures of its clusters as arrays: it is laid out many times."""
        return cls(
            tuple(clusters),
            advance,
            runs_right_to_left,
            joining,
            design,
            pens=np.array([c.pen for c in clusters]),
            advances=np.array([c.advance for c in clusters]),
            spaces=np.array([c.is_space for c in clusters], dtype=bool),
        )


def compose(
    lines: Sequence[str], spec: LetteringSpec, fonts: Sequence[Font], field: str
) -> list[Line]:
    """Return the lines, shaped and cut into clusters.

    Raises:
        GlyphMissing: naming the character and its place in the whole text.

    """
    features = dict(spec.features)
    if spec.kerning != "font":
        features["kern"] = 0
    found: list[Line] = []
    offset = 0
    for text in lines:
        if spec.baseline.kind == "vertical":
            line = _column(text, spec, fonts, features, offset, field)
        else:
            shaped = _shape(text, spec, fonts, features, offset, field)
            line = _line(shaped, text, spec)
        found.append(line)
        offset += len(text) + 1
    if spec.kerning == "optical" and spec.baseline.kind != "vertical":
        found = _evened(found, fonts)
    return found


def _shape(
    text: str,
    spec: LetteringSpec,
    fonts: Sequence[Font],
    features: dict[str, int],
    offset: int,
    field: str,
    *,
    vertical: bool = False,
) -> ShapedLine:
    return shape_line(
        fonts[0],
        text,
        features=features,
        fallback=fonts[1:],
        language=spec.language,
        direction=spec.direction,
        vertical=vertical,
        offset=offset,
        field=f"{field}.text",
    )


_JOINING = frozenset(
    {"Arab", "Syrc", "Mong", "Nkoo", "Adlm", "Mand", "Phag", "Rohg", "Deva", "Beng"}
)
"""Scripts whose letters join: cursive ones, and those with a headline."""


def _line(shaped: ShapedLine, text: str, spec: LetteringSpec, *, column: bool = False) -> Line:
    """Return a shaped line as clusters, anchored for a line or for a column."""
    groups: list[tuple[float, list[ShapedGlyph]]] = []
    pen = 0.0
    for glyph in shaped.glyphs:
        if not groups or groups[-1][1][-1].cluster != glyph.cluster:
            groups.append((pen, []))
        groups[-1][1].append(glyph)
        pen += glyph.advance
    texts = _texts(shaped)
    clusters: list[Cluster] = []
    for start, glyphs in groups:
        advance = sum(g.advance for g in glyphs)
        if column:
            moved = tuple((g.font, g.glyph, g.x, g.y + start) for g in glyphs)
        else:
            anchor = start + advance / 2
            moved = tuple((g.font, g.glyph, g.x - anchor, g.y) for g in glyphs)
        first = glyphs[0].cluster
        clusters.append(Cluster(first, texts[first], moved, start, advance))
    script = {i: run.script for run in shaped.runs for i in range(run.start, run.end)}
    leftward = {"ltr": 0, "rtl": 1}.get(spec.direction, base_level(text)) == 1
    joining = tuple(script.get(c.start) in _JOINING for c in clusters)
    design = tuple(c.pen + c.advance / 2 for c in clusters)
    return Line.of(clusters, pen, leftward, joining, design)


def _texts(shaped: ShapedLine) -> dict[int, str]:
    starts = sorted({g.cluster for g in shaped.glyphs})
    ends = [*starts[1:], len(shaped.text)][: len(starts)]
    return {a: shaped.text[a:b] for a, b in zip(starts, ends, strict=True)}


def _column(
    text: str,
    spec: LetteringSpec,
    fonts: Sequence[Font],
    features: dict[str, int],
    offset: int,
    field: str,
) -> Line:
    if any(scripts.script(c) in _COLUMN_SCRIPTS for c in text):
        shaped = _shape(text, spec, fonts, features, offset, field, vertical=True)
        return Line.of(_line(shaped, text, spec, column=True).clusters, shaped.advance, True)
    starts = grapheme_starts(text)
    gap = 0.0 if spec.baseline.gap_mm is not None else _GAP_OF_CAPS * fonts[0].cap_height
    clusters: list[Cluster] = []
    pen = 0.0
    for start, end in zip(starts, [*starts[1:], len(text)], strict=True):
        letter = text[start:end]
        shaped = _shape(letter, spec, fonts, features, offset + start, field)
        glyphs = [(g.font, g.glyph, g.x, g.y) for g in shaped.glyphs]
        box = _ink_box(glyphs, fonts)
        if box is None:
            height = 0.5 * fonts[0].cap_height
            clusters.append(Cluster(start, letter, (), pen, height))
            pen += height
            continue
        left, low, right, high = box
        middle = (left + right) / 2
        moved = tuple((f, g, x - middle, y - high) for f, g, x, y in glyphs)
        clusters.append(Cluster(start, letter, moved, pen, high - low))
        pen += high - low + gap
    last_gap = gap if clusters and clusters[-1].glyphs else 0.0
    leftward = {"ltr": 0, "rtl": 1}.get(spec.direction, base_level(text)) == 1
    return Line.of(clusters, max(pen - last_gap, 0.0), leftward)


def _ink_box(
    glyphs: Sequence[tuple[int, int, float, float]], fonts: Sequence[Font]
) -> tuple[float, float, float, float] | None:
    points = [
        fonts[f].hull(g) * (fonts[0].units_per_em / fonts[f].units_per_em) + (x, y)
        for f, g, x, y in glyphs
    ]
    inked = [p for p in points if len(p)]
    if not inked:
        return None
    every = np.vstack(inked)
    (left, low), (right, high) = every.min(axis=0), every.max(axis=0)
    return float(left), float(low), float(right), float(high)


def _evened(lines: Sequence[Line], fonts: Sequence[Font]) -> list[Line]:
    """Return the lines with the gaps between letters evened out by their outlines."""
    shifts = optical_shifts(
        [[(c.glyphs, c.pen + c.advance / 2, _fixed(c)) for c in line.clusters] for line in lines],
        [list(line.joining) for line in lines],
        fonts,
    )
    found: list[Line] = []
    for line, gaps in zip(lines, shifts, strict=True):
        moved = np.concatenate(([0.0], np.cumsum(gaps))) if line.clusters else np.zeros(0)
        clusters = tuple(
            Cluster(c.start, c.text, c.glyphs, c.pen + float(by), c.advance)
            for c, by in zip(line.clusters, moved, strict=True)
        )
        total = line.advance + float(moved[-1] if len(moved) else 0.0)
        found.append(Line.of(clusters, total, line.runs_right_to_left, line.joining, line.design))
    return found


def _fixed(cluster: Cluster) -> bool:
    """Whether the gaps beside a cluster stay as the font has them: spaces and signs."""
    return not any(unicodedata.category(c)[0] in "LN" for c in cluster.text)
