"""Gaps between letters evened out by what is seen: the white between their outlines.

Our own measure. Each side of a letter has a profile: how far its ink stays back from its outermost
point, line by line over the height of a capital, no deeper than `_DEPTH_EM` (white farther in
belongs to the letter, not to the gap). The white of a gap is its mean width with both profiles
counted in. Every gap of the text is brought to the median white that the font's own spacing gives,
but no nearer than a share of it. Letters that the font joins stay joined. Units of the first font.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.lettering.fonts.font import Font
from letterply.shapes import flatten_segments

__all__ = ["Profile", "optical_shifts", "side_profiles"]

_Floats = NDArray[np.float64]
_Glyphs = Sequence[tuple[int, int, float, float]]

_LINES = 65
"""Lines over the height of a capital."""

_DEPTH_EM = 0.18
"""White deeper inside a letter than this does not count: common practice, no source."""

_LEAST_SHARE = 0.3
"""No two outlines come nearer, line by line, than this share of the median white."""


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """The two sides of a letter.

    Attributes:
        left, right: outermost x of its ink, line by line; infinite where a line has none.
        bounds: outermost x on the left and on the right.
        white: mean white that it keeps back on the left and on the right.

    """

    left: _Floats
    right: _Floats
    bounds: tuple[float, float]
    white: tuple[float, float]


def optical_shifts(
    lines: Sequence[Sequence[tuple[_Glyphs, float, bool]]],
    joining: Sequence[Sequence[bool]],
    fonts: Sequence[Font],
) -> list[_Floats]:
    """Return for each line how much each gap grows: one value fewer than it has letters.

    Args:
        lines: (glyphs about the anchor, x of the anchor, whether its gaps stay) a letter.
        joining: whether each letter's script joins, whose gaps stay too.
        fonts: those that the glyphs refer to.

    """
    gaps: list[tuple[int, int, float, float]] = []
    for number, line in enumerate(lines):
        sides = [None if fixed else side_profiles(glyphs, fonts) for glyphs, _, fixed in line]
        for i in range(len(line) - 1):
            a, b = sides[i], sides[i + 1]
            if a is None or b is None or joining[number][i] or joining[number][i + 1]:
                continue
            step = line[i + 1][1] - line[i][1]
            nearest = _nearest(a, b, step)
            if nearest <= 0:
                continue
            between = step + b.bounds[0] - a.bounds[1]
            gaps.append((number, i, between + a.white[1] + b.white[0], nearest))
    shifts = [np.zeros(max(len(line) - 1, 0)) for line in lines]
    if gaps:
        wanted = float(np.median([white for _, _, white, _ in gaps]))
        for number, i, white, nearest in gaps:
            shifts[number][i] = max(wanted - white, _LEAST_SHARE * wanted - nearest)
    return shifts


def side_profiles(glyphs: _Glyphs, fonts: Sequence[Font]) -> Profile | None:
    """Return the profiles of a letter about its anchor, or None when it has no ink."""
    base = fonts[0]
    starts: list[_Floats] = []
    ends: list[_Floats] = []
    for font, glyph, x, y in glyphs:
        unit = base.units_per_em / fonts[font].units_per_em
        for contour in fonts[font].outline(glyph):
            step = fonts[font].units_per_em / 2000
            points = flatten_segments(contour, step) * unit + (x, y)
            starts.append(points)
            ends.append(np.roll(points, -1, axis=0))
    if not starts:
        return None
    a, b = np.vstack(starts), np.vstack(ends)
    # In the middles of even bands, off whole figures: outlines like to have points on them.
    lines = (np.arange(_LINES) + 0.5) * (base.cap_height / _LINES) + 0.0123
    left = np.full(_LINES, np.inf)
    right = np.full(_LINES, -np.inf)
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    for n, y in enumerate(lines):
        hit = (low <= y) & (y < high)
        if hit.any():
            p, q = a[hit], b[hit]
            x = p[:, 0] + (y - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0])
            left[n], right[n] = x.min(), x.max()
    if not np.isfinite(left).any():
        return None
    bounds = float(left.min()), float(right.max())
    deep = _DEPTH_EM * base.units_per_em
    white = (
        float(np.minimum(left - bounds[0], deep).mean()),
        float(np.minimum(bounds[1] - right, deep).mean()),
    )
    return Profile(left, right, bounds, white)


def _nearest(a: Profile, b: Profile, step: float) -> float:
    """Return how near two letters come, looking one line up and down as well."""
    right = np.maximum(a.right, np.maximum(_moved(a.right, 1), _moved(a.right, -1)))
    return float(np.min(step + b.left - right))


def _moved(values: _Floats, by: int) -> _Floats:
    found = np.roll(values, by)
    found[0 if by > 0 else -1] = -np.inf
    return found
