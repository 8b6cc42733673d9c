"""Where and how the cutter goes into a loop.

It may go in at several places, all of them good: on straight runs, away from tabs and from where
the part is narrow. The order of work takes the one that lies on its way.

A helix in the waste meets the outline on a curve. Beside the start of a loop lies a circle in the
waste that touches the loop there. The cutter goes down round it, runs onto the loop along the
circle, follows the loop, leaves it along the circle again and lifts on its far side: neither ramp
nor lift marks the wall of the part. Lengths mm, sheet frame.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from letterply.cutting.paths import ParametricPath
from letterply.cutting.toolpath import Toolpath
from letterply.shapes import (
    EMPTY,
    LEAST_DIVISOR,
    ROUNDING,
    Region,
    as_region,
    outline_distances,
)

__all__ = ["HelixBeside", "entered", "entries", "helices_beside", "narrowness", "spread"]

_Floats = NDArray[np.float64]

_LEAST_MM = 0.3
"""Radius below which a helix is no more than a plunge; common practice, no source."""

_TOUCH_MM = 0.01
"""How far the circle may lie over the loop: where it touches, the path strays from the loop by the
tolerance of arcs; over what a path keeps away from walls, it would come into the part beyond."""

_AHEAD_MM = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class HelixBeside:
    """A circle in the waste.

    Attributes:
        start: the length along the loop at which it touches.
        touch: (2,) where it touches the loop.
        far: (2,) the point opposite.
        centre: (2,) its middle.
        radius_mm: its radius.
        sense: the way round that runs along with the loop, +1 counter-clockwise.

    """

    start: float
    touch: _Floats
    far: _Floats
    centre: _Floats
    radius_mm: float
    sense: int


_PLACES = 128


def entries(walk: ParametricPath, tabs: _Floats, part: Polygon | None = None) -> _Floats:
    """Return lengths along a loop at which to go in, the best first.

    Places that are hardly worse than the best one are as good, as many and as far apart as pays.
    """
    s = np.linspace(0, walk.length, _PLACES, endpoint=False)
    cost = walk.turning(s, min(8.0, walk.length / 4))
    if part is not None:
        cost = cost + 20.0 * narrowness(np.asarray(shapely.points(walk.at(s))), part)
    if len(tabs):
        gap = np.abs((s[:, None] - tabs[None, :] + walk.length / 2) % walk.length - walk.length / 2)
        cost = cost + 90.0 * (gap.min(axis=1) < 10.0)
    return s[spread(s, cost, walk.length)]


_MOST_WAYS = 8
_APART_MM = 10.0
_AS_GOOD_DEG = 15.0
"""How much more than at the best place the path may turn where it is entered."""


def spread(s: _Floats, cost: _Floats, length_mm: float) -> NDArray[np.int64]:
    """Return which places along a loop to choose from: the best, then the farthest as good."""
    cost = np.round(cost, 3)
    chosen = [int(np.argmin(cost))]
    good = cost <= cost[chosen[0]] + _AS_GOOD_DEG
    gap = np.full(len(s), np.inf)
    while len(chosen) < _MOST_WAYS:
        away = np.abs(s - s[chosen[-1]])
        gap = np.minimum(gap, np.minimum(away, length_mm - away))
        farthest = int(np.argmax(np.where(good, np.round(gap, 3), -1)))
        if gap[farthest] < _APART_MM:
            break
        chosen.append(farthest)
    return np.array(chosen)


def narrowness(points: NDArray[np.object_], part: Polygon) -> _Floats:
    """Return how much farther than usual places beside a part are from where it is wide, mm."""
    core = _core(part)
    if core.is_empty:
        return np.zeros(len(points))
    # None of them lies in it: the sides of where it is wide alone decide.
    away = outline_distances(as_region(core), shapely.get_coordinates(points))
    return np.maximum(away - float(np.quantile(away, 0.1)), 0)


def _core(part: Polygon) -> BaseGeometry:
    """Return where a part is wide: more than 4 mm, or as wide as it gets."""
    for depth in (2.0, 1.0, 0.5):
        core = shapely.buffer(part, -depth)
        if not core.is_empty:
            return core
    return shapely.Point()


def helices_beside(
    walk: ParametricPath,
    starts: _Floats,
    radius_mm: float,
    loop: _Floats,
    *,
    waste_inside: bool,
    loose: Region = EMPTY,
) -> list[HelixBeside]:
    """Return circles of a radius in the waste beside a loop, where there is room for one.

    In a hole with less room a circle is smaller. None comes into `loose`.
    """
    if radius_mm < _LEAST_MM:
        return []
    area = Polygon(loop)
    shapely.prepare(area)
    ccw = shapely.is_ccw(shapely.LinearRing(walk.at(_samples(walk))))
    found = []
    for start in starts.tolist():
        before, touch, after = walk.at(np.array([start - _AHEAD_MM, start, start + _AHEAD_MM]))
        along = (after - before) / max(float(np.hypot(*(after - before))), LEAST_DIVISOR)
        left = np.array([-along[1], along[0]])
        # What a loop surrounds lies on its left when it turns counter-clockwise.
        side = left if bool(ccw) == waste_inside else -left
        sense = 1 if bool(ccw) == waste_inside else -1
        for radius in (radius_mm, radius_mm / 2) if waste_inside else (radius_mm,):
            centre = touch + side * radius
            disc = shapely.Point(centre).buffer(radius - _TOUCH_MM, quad_segs=32)
            free = area.contains(disc) if waste_inside else not area.intersects(disc)
            if radius >= _LEAST_MM and free and not loose.intersects(disc):
                far = touch + 2 * side * radius
                found.append(HelixBeside(start, touch, far, centre, radius, sense))
                break
    return found


def _samples(walk: ParametricPath) -> _Floats:
    return np.linspace(0, walk.length, 65)


def entered(
    helix: HelixBeside, rounds: Sequence[Toolpath], step_mm: float, ramp_deg: float
) -> Toolpath:
    """Return rounds of a loop, each `step_mm` below the one before, entered by a helix.

    Every round starts and ends where the circle touches the loop.
    """
    a_turn = 2 * math.pi * helix.radius_mm * math.tan(math.radians(ramp_deg))
    halves = 2 * math.ceil(step_mm / a_turn - ROUNDING)
    pieces: list[Toolpath] = []
    z = 0.0
    for path in rounds:
        deep = float(path.start[2])
        levels = np.linspace(z, deep, halves + 1)[1:]
        ends = [helix.touch if k % 2 == 0 else helix.far for k in range(halves)]
        pieces.append(_arcs(helix, [*ends, helix.touch], [*levels.tolist(), deep]))
        pieces.append(path)
        pieces.append(_arcs(helix, [helix.far], [deep]))
        z = deep
    return Toolpath.joined(pieces, start=np.array([*helix.far, 0.0]))


def _arcs(helix: HelixBeside, ends: Sequence[_Floats], levels: Sequence[float]) -> Toolpath:
    """Return half circles to each end in turn, z running straight to each level."""
    n = len(ends)
    return Toolpath(
        start=np.full(3, np.nan),
        ends=np.column_stack((np.array(ends), np.array(levels))),
        centres=np.tile(helix.centre, (n, 1)),
        senses=np.full(n, helix.sense, dtype=np.int8),
        rates=np.zeros(n, dtype=np.int8),
    )
