"""Letters measured as published sign standards measure them. All mm.

The *character height* is that of the font's capital I above the baseline, whatever the text says;
*stroke* is the width of that I's stem, from its medial axis, so that serifs and slant do not
count; *proportion* compares the width of the capital O with that height. Gaps are those between
the closest points of neighbouring characters on a line, word spaces left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from letterply.errors import GlyphMissing
from letterply.lettering import Font, Letter, Lettering, LetteringSpec, Size, set_lettering
from letterply.shapes import LEAST_DIVISOR, Region, Tolerances, medial_axis

__all__ = ["Gap", "LetterMeasures", "measure_letters"]

_PEEL_DEG = 60.0
"""Spurs that leave the axis at less than this are corners, not strokes."""


@dataclass(frozen=True, slots=True)
class Gap:
    """The gap between two neighbouring characters.

    Attributes:
        before, after: the characters.
        width_mm: distance of their closest points; 0 where they touch.
        ends: those points, lettering frame.

    """

    before: str
    after: str
    width_mm: float
    ends: tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class LetterMeasures:
    """What sign standards ask of lettering.

    Attributes:
        height_mm: height of the capital I; None when the font has none.
        stroke_mm: width of its stem, None when it has no plain one.
        lean_deg: how far its stem leans from upright, either way.
        o_width_mm: width of the capital O; None when the font has none.
        gaps: between neighbouring characters, in reading order.
        pitch_mm: distance of baselines; None for a single line.
        lower_case: small letters in the text, each once, in order.

    """

    height_mm: float | None
    stroke_mm: float | None
    lean_deg: float | None
    o_width_mm: float | None
    gaps: tuple[Gap, ...]
    pitch_mm: float | None
    lower_case: tuple[str, ...]


def measure_letters(lettering: Lettering, font: Font, tolerances: Tolerances) -> LetterMeasures:
    """Return the measures of a lettering.

    `font` is the font that it was set in, at the start of its design space: the axes of the
    lettering's spec are applied here.
    """
    capital_i = _capital("I", lettering, font, tolerances)
    capital_o = _capital("O", lettering, font, tolerances)
    height, stroke, lean = None, None, None
    if capital_i is not None:
        height = float(capital_i.bounds[3])
        stroke, lean = _stem(capital_i)
    width = None if capital_o is None else float(capital_o.bounds[2] - capital_o.bounds[0])
    lines = len({letter.line for letter in lettering.letters})
    small = dict.fromkeys(c for c in lettering.spec.text if c.islower())
    return LetterMeasures(
        height_mm=height,
        stroke_mm=stroke,
        lean_deg=lean,
        o_width_mm=width,
        gaps=_gaps(lettering),
        pitch_mm=lettering.spec.line_gap * lettering.em_mm if lines > 1 else None,
        lower_case=tuple(small),
    )


def _capital(
    letter: str, lettering: Lettering, font: Font, tolerances: Tolerances
) -> Region | None:
    """Return a capital of the same font, size, axes and features; None when there is none."""
    spec = lettering.spec
    own = LetteringSpec(
        letter, spec.font, Size("em", lettering.em_mm), features=spec.features, axes=spec.axes
    )
    try:
        return set_lettering(own, font, tolerances).region
    except GlyphMissing:
        return None


def _stem(capital: Region) -> tuple[float | None, float | None]:
    """Return the width of a stem and its lean in degrees, over the middle third of its height.

    Both are None where no stroke runs there.
    """
    axis = medial_axis(capital).peel(_PEEL_DEG)
    _, low, _, high = capital.bounds
    third = (high - low) / 3
    a, b = axis.points[axis.edges[:, 0]], axis.points[axis.edges[:, 1]]
    rising = (a[:, 1] <= b[:, 1])[:, None]
    a, b = np.where(rising, a, b), np.where(rising, b, a)
    ra, rb = axis.radii[axis.edges[:, 0]], axis.radii[axis.edges[:, 1]]
    ra, rb = np.where(rising[:, 0], ra, rb), np.where(rising[:, 0], rb, ra)
    rise = b[:, 1] - a[:, 1]
    start = np.clip(low + third, a[:, 1], b[:, 1])
    end = np.clip(high - third, a[:, 1], b[:, 1])
    inside = np.maximum(end - start, 0.0)
    if inside.sum() < third / 2:
        return None, None
    steep = np.maximum(rise, LEAST_DIVISOR)
    middle = ((start + end) / 2 - a[:, 1]) / steep
    widths = 2 * (ra + (rb - ra) * middle)
    order = np.argsort(widths, kind="stable")
    half = np.searchsorted(np.cumsum(inside[order]), inside.sum() / 2)
    across = float(((b - a)[:, 0] * inside / steep).sum())
    lean = float(np.degrees(np.arctan2(abs(across), inside.sum())))
    return float(widths[order[half]]), lean


def _gaps(lettering: Lettering) -> tuple[Gap, ...]:
    letters = lettering.letters
    pairs = [(letters[i], letters[i + 1]) for i in _neighbours(lettering)]
    if not pairs:
        return ()
    before = np.array([a.region for a, _ in pairs], dtype=object)
    after = np.array([b.region for _, b in pairs], dtype=object)
    widths = shapely.distance(before, after)
    ends = shapely.get_coordinates(shapely.shortest_line(before, after)).reshape(-1, 2, 2)
    return tuple(
        Gap(a.text, b.text, float(width), ((p[0], p[1]), (q[0], q[1])))
        for (a, b), width, (p, q) in zip(pairs, widths, ends.tolist(), strict=True)
    )


def _neighbours(lettering: Lettering) -> list[int]:
    """Return the places of letters whose next one stands on the same line with no space between.

    The letters, spaces left out, are found again in the text of their line.
    """
    lines = lettering.spec.text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    found: list[int] = []
    at, last = 0, -1
    previous: Letter | None = None
    for number, letter in enumerate(lettering.letters):
        if letter.line != last:
            at, last, previous = 0, letter.line, None
        start = lines[letter.line].find(letter.text, at)
        between = lines[letter.line][at:start] if start >= 0 else ""
        if previous is not None and not any(c.isspace() for c in between):
            found.append(number - 1)
        at = start + len(letter.text) if start >= 0 else at
        previous = letter
    return found
