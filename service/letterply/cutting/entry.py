"""Going down by a helix in the waste, and meeting the outline on a curve.

Beside the start of a loop lies a circle in the waste that touches the loop there. The cutter goes
down round it, runs onto the loop along the circle, follows the loop, leaves it along the circle
again and lifts on its far side: neither ramp nor lift marks the wall of the part. Lengths mm,
sheet frame.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from letterply.cutting.model import Toolpath
from letterply.cutting.walking import Walk

__all__ = ["HelixBeside", "entered", "helix_beside"]

_Floats = NDArray[np.float64]

_LEAST_MM = 0.3
"""Radius below which a helix is no more than a plunge; common practice, no source."""

_TOUCH_MM = 0.02
_AHEAD_MM = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class HelixBeside:
    """A circle in the waste.

    Attributes:
        touch: (2,) where it touches the loop.
        far: (2,) the point opposite.
        centre: (2,) its middle.
        radius_mm: its radius.
        sense: the way round that runs along with the loop, +1 counter-clockwise.

    """

    touch: _Floats
    far: _Floats
    centre: _Floats
    radius_mm: float
    sense: int


def helix_beside(
    walk: Walk, start: float, radius_mm: float, loop: _Floats, *, waste_inside: bool
) -> HelixBeside | None:
    """Return a circle of a radius in the waste beside a loop; None where there is no room.

    In a hole with less room the circle is smaller.
    """
    area = Polygon(loop)
    before, touch, after = walk.at(np.array([start - _AHEAD_MM, start, start + _AHEAD_MM]))
    along = (after - before) / max(float(np.hypot(*(after - before))), 1e-12)
    left = np.array([-along[1], along[0]])
    inward = left if shapely.is_ccw(shapely.LinearRing(walk.at(_samples(walk)))) else -left
    side = inward if waste_inside else -inward
    sense = 1 if float(side @ left) > 0 else -1
    for radius in (radius_mm, radius_mm / 2):
        if radius < _LEAST_MM:
            return None
        centre = touch + side * radius
        disc = shapely.Point(centre).buffer(radius - _TOUCH_MM)
        free = area.contains(disc) if waste_inside else not area.intersects(disc)
        if free:
            return HelixBeside(touch, touch + 2 * side * radius, centre, radius, sense)
        if not waste_inside:
            return None
    return None


def _samples(walk: Walk) -> _Floats:
    return np.linspace(0, walk.length, 65)


def entered(
    helix: HelixBeside, rounds: Sequence[Toolpath], step_mm: float, ramp_deg: float
) -> Toolpath:
    """Return rounds of a loop, each `step_mm` below the one before, entered by a helix.

    Every round starts and ends where the circle touches the loop.
    """
    a_turn = 2 * math.pi * helix.radius_mm * math.tan(math.radians(ramp_deg))
    halves = 2 * math.ceil(step_mm / a_turn - 1e-9)
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
