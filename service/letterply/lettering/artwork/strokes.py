"""Strokes as outlines: a chain of points and a width in, contours out.

A stroke is the union of a ribbon along its chords, a join at every bend and a cap at every open
end (SVG 2, section 13.5). Points inside a curve join smoothly; only where segments meet does the
line join count. User units.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.lettering.artwork.model import ArtworkError, Stroke
from letterply.shapes import ROUNDING, Contour, circle, circle_sides

__all__ = ["Chain", "dashed", "stroke_contours"]

_MAX_DASHES = 20_000

_Floats = NDArray[np.float64]
_Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A flattened subpath: points `(n, 2)`, which of them are corners, whether it is closed.

    A closed chain does not repeat its first point. `tangents` `(n, 2, 2)` are the directions in
    which the true curve comes into each corner and goes out, nan elsewhere: mitres follow them,
    not the chords.
    """

    points: _Floats
    corners: _Flags
    closed: bool
    tangents: _Floats


def stroke_contours(chain: Chain, stroke: Stroke, tolerance: float) -> list[Contour]:
    """Return contours whose union is the stroke of a chain, dashes left aside."""
    half = stroke.width / 2
    points, corners, tangents = _distinct(chain)
    if len(points) == 1:
        return _dot(points[0], half, stroke.cap, tolerance)
    after = np.vstack((points[1:], points[:1])) if chain.closed else points[1:]
    before = points if chain.closed else points[:-1]
    step = after - before
    size = np.hypot(step[:, 0], step[:, 1])
    unit = step / size[:, None]
    start, end = before, after
    if not chain.closed and stroke.cap == "square":
        start, end = start.copy(), end.copy()
        start[0] -= half * unit[0]
        end[-1] += half * unit[-1]
    # A bend stands between each chord and the one behind it; an open chain's ends are none.
    into = np.roll(unit, 1, axis=0)
    n = len(before)
    bends = _Bends(before, into, unit, corners[:n], tangents[:n], half, stroke, tolerance)
    shorter = np.minimum(size, np.roll(size, 1))
    flows = ~bends.corners & ~bends.coarse & (half * bends.tangent < shorter / 2)
    joined = np.ones(len(before), dtype=bool)
    if not chain.closed:
        joined[0] = False
    flows[0] = False
    runs = _runs(flows, bends.angle)
    flows[[first for first, _ in runs]] = False
    found = [
        _ribbon(start[a:b], end[b - 1], unit[a:b], bends.mitres[a + 1 : b], half) for a, b in runs
    ]
    found += bends.joins(joined & ~flows)
    if not chain.closed and stroke.cap == "round":
        found += [
            _half_disc(p, out, half, tolerance)
            for p, out in ((points[0], -unit[0]), (points[-1], unit[-1]))
        ]
    return found


def _runs(flows: _Flags, angles: _Floats) -> list[tuple[int, int]]:
    """Return runs of chords that flow into each other, first and behind the last.

    A run turns by a quarter at most, so that its ribbon cannot meet itself.
    """
    found: list[tuple[int, int]] = []
    first, turned = 0, 0.0
    for at in range(1, len(flows)):
        turned += float(angles[at])
        if not flows[at] or turned > math.pi / 2:
            found.append((first, at))
            first, turned = at, 0.0
    found.append((first, len(flows)))
    return found


def _ribbon(start: _Floats, last: _Floats, unit: _Floats, mitres: _Floats, half: float) -> Contour:
    """Return the ribbon along a run of chords, counter-clockwise."""
    normal = half * np.column_stack((-unit[:, 1], unit[:, 0]))
    inner = start[1:]
    right = np.vstack((start[:1] - normal[:1], inner - mitres, last - normal[-1]))
    left = np.vstack((start[:1] + normal[:1], inner + mitres, last + normal[-1]))
    return np.vstack((right, left[::-1]))


def _distinct(chain: Chain) -> tuple[_Floats, _Flags, _Floats]:
    """Return the points without repeats that stand together, their corners and tangents."""
    points, corners, tangents = chain.points, chain.corners, chain.tangents
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.any(points[1:] != points[:-1], axis=1)
    points, corners, tangents = points[keep], corners[keep], tangents[keep]
    while chain.closed and len(points) > 1 and np.array_equal(points[0], points[-1]):
        points, corners, tangents = points[:-1], corners[:-1], tangents[:-1]
    return points, corners, tangents


def _dot(point: _Floats, half: float, cap: str, tolerance: float) -> list[Contour]:
    x, y = (float(v) for v in point)
    if cap == "round":
        return [circle(x, y, half, tolerance)]
    if cap == "square":
        return [np.array([[x - half, y - half], [x + half, y - half],
                          [x + half, y + half], [x - half, y + half]])]  # fmt: skip
    return []


class _Bends:
    """The bends of a chain, each at a point between the chord before it and the one behind."""

    def __init__(
        self,
        points: _Floats,
        into: _Floats,
        out: _Floats,
        corners: _Flags,
        tangents: _Floats,
        half: float,
        stroke: Stroke,
        tolerance: float,
    ) -> None:
        self._points, self._into, self._out = points, into, out
        turned = np.abs(_angle(into, out))
        self._left = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0] > 0
        into = np.where(np.isnan(tangents[:, 0]), into, tangents[:, 0])
        out = np.where(np.isnan(tangents[:, 1]), out, tangents[:, 1])
        self._true = into, out
        dot = np.clip(np.sum(into * out, axis=1), -1.0, 1.0)
        cos_half = np.sqrt((1 + dot) / 2)
        self.corners = corners
        self.angle = np.abs(_angle(into, out))
        self.tangent = np.tan(np.minimum(self.angle / 2, 1.5))
        # A bend inside a curve that a straight edge would cut off visibly is rounded.
        self.coarse = half * (1 - cos_half) > tolerance / 2
        middle = into + out
        normal = np.column_stack((-middle[:, 1], middle[:, 0]))
        # Half the sum of the normals over the square of its length: out to the mitre's tip.
        self.mitres = half * normal / 2 / np.maximum(cos_half, ROUNDING)[:, None] ** 2
        self._bent = np.maximum(self.angle, turned) > ROUNDING
        self._half, self._stroke, self._tolerance = half, stroke, tolerance
        self._sharp = cos_half * stroke.miter_limit < 1

    def joins(self, wanted: _Flags) -> list[Contour]:
        """Return what fills the outer side of the wanted bends: triangles, mitres or fans."""
        wanted = wanted & self._bent
        rounded = wanted & np.where(self.corners, self._stroke.join == "round", self.coarse)
        mitred = wanted & self.corners & (self._stroke.join == "miter") & ~self._sharp
        sides = circle_sides(self._half, self._tolerance)
        found: list[Contour] = []
        for at in np.flatnonzero(wanted):
            point = self._points[at]
            sign = -self._half if self._left[at] else self._half
            # The ends of the ribbons stand square to their chords, the join to the true curve.
            ends = [_aside(d[at], sign) for d in (self._into, self._out)]
            first, second = (_aside(d[at], sign) for d in self._true)
            rim = np.array([first, second])
            if rounded[at]:
                angle = float(self.angle[at])
                steps = math.ceil(sides * angle / math.tau) + 1
                turns = np.linspace(0, angle if self._left[at] else -angle, steps + 1)
                turns += math.atan2(first[1], first[0])
                rim = self._half * np.column_stack((np.cos(turns), np.sin(turns)))
            elif mitred[at]:
                tip = self.mitres[at] if sign > 0 else -self.mitres[at]
                rim = np.array([first, tip, second])
            # Every join is convex; its hull is sound however small the bend.
            hull = shapely.convex_hull(
                shapely.multipoints(np.vstack((point, point + ends, point + rim)))
            )
            if isinstance(hull, shapely.Polygon):
                found.append(shapely.get_coordinates(hull)[:-1])
        return found


def _angle(into: _Floats, out: _Floats) -> _Floats:
    """Return how far each bend turns, radians, left above 0."""
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    found: _Floats = np.arctan2(cross, np.sum(into * out, axis=1))
    return found


def _aside(direction: _Floats, distance: float) -> _Floats:
    return distance * np.array([-direction[1], direction[0]])


def _half_disc(point: _Floats, out: _Floats, half: float, tolerance: float) -> Contour:
    """Return a round cap: the half of a disc that lies outside the end of a line."""
    across = half * np.array([-out[1], out[0]])
    steps = circle_sides(half, tolerance) // 2 + 1
    turns = math.atan2(-across[1], -across[0]) + np.linspace(0, math.pi, steps + 1)[1:-1]
    rim = point + half * np.column_stack((np.cos(turns), np.sin(turns)))
    return np.vstack((point - across, rim, point + across))


def dashed(chain: Chain, stroke: Stroke) -> Iterator[Chain]:
    """Yield the dashes of a chain as open chains; the chain itself when it has none.

    A dash that runs over the start of a closed chain is one.

    Raises:
        ArtworkError: `artwork-too-complex` for more dashes than can be cut.

    """
    pattern = stroke.dashes * (1 + len(stroke.dashes) % 2)
    points = np.vstack((chain.points, chain.points[:1])) if chain.closed else chain.points
    corners = np.append(chain.corners, chain.corners[:1]) if chain.closed else chain.corners
    tangents = chain.tangents
    if chain.closed:
        tangents = np.concatenate((tangents, tangents[:1]))
    step = np.diff(points, axis=0)
    at = np.concatenate(([0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))))
    total = float(at[-1])
    scale = total / stroke.path_length if stroke.path_length else 1.0
    lengths = [d * scale for d in pattern]
    period = sum(lengths)
    if not period > 0 or total == 0:
        yield chain
        return
    if total / period * len(lengths) > _MAX_DASHES:
        raise ArtworkError(
            f"A line has more than {_MAX_DASHES} dashes.",
            code="artwork-too-complex",
            expected="longer dashes",
        )
    spans = _spans(lengths, stroke.dash_offset * scale, total)
    if chain.closed and len(spans) > 1 and spans[0][0] == 0 and spans[-1][1] == total:
        last = spans.pop()
        head = _cut(points, corners, tangents, at, *spans.pop(0))
        tail = _cut(points, corners, tangents, at, *last)
        yield Chain(
            np.vstack((tail.points, head.points[1:])),
            np.concatenate((tail.corners[:-1], corners[:1], head.corners[1:])),
            False,
            np.concatenate((tail.tangents[:-1], tangents[:1], head.tangents[1:])),
        )
    elif chain.closed and spans == [(0.0, total)]:
        yield chain
        return
    for span in spans:
        yield _cut(points, corners, tangents, at, *span)


def _spans(lengths: list[float], offset: float, total: float) -> list[tuple[float, float]]:
    """Return where the dashes begin and end along a line of length `total`."""
    into = offset % sum(lengths)
    place = 0
    while into > 0 and into >= lengths[place]:
        into -= lengths[place]
        place = (place + 1) % len(lengths)
    found: list[tuple[float, float]] = []
    s = -into
    while s < total:
        end = s + lengths[place]
        if place % 2 == 0 and end >= 0:
            found.append((max(s, 0.0), min(end, total)))
        s = end
        place = (place + 1) % len(lengths)
    return found


def _cut(
    points: _Floats, corners: _Flags, tangents: _Floats, at: _Floats, low: float, high: float
) -> Chain:
    inside = (at > low) & (at < high)
    x = np.interp([low, high], at, points[:, 0])
    y = np.interp([low, high], at, points[:, 1])
    ends = np.column_stack((x, y))
    if high <= low:
        # A dash without length has the direction of the line, for a square cap.
        return Chain(_turned_dot(points, at, low), np.zeros(2, dtype=bool), False, _none(2))
    cut = np.vstack((ends[:1], points[inside], ends[1:]))
    marks = np.concatenate(([False], corners[inside], [False]))
    return Chain(cut, marks, False, np.concatenate((_none(1), tangents[inside], _none(1))))


def _none(count: int) -> _Floats:
    return np.full((count, 2, 2), np.nan)


def _turned_dot(points: _Floats, at: _Floats, s: float) -> _Floats:
    place = int(np.clip(np.searchsorted(at, s, side="right") - 1, 0, len(points) - 2))
    step = points[place + 1] - points[place]
    size = math.hypot(*step) or 1.0
    middle = points[place] + step / size * (s - at[place])
    hair = step / size * ROUNDING * max(1.0, float(at[-1]))
    return np.vstack((middle - hair, middle + hair))
