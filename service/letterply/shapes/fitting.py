"""Whether an outline fits a rectangle, and at which turns: the one answer that all rooms use.

An outline fits at a turn when its box there does. Quarter turns come first, then the other turns
that a layout tries; where there is no grain and none of these helps, steps of five degrees.
Lengths mm, angles degrees.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from letterply.shapes.tolerances import SAME_MM

__all__ = [
    "FREE_TURNS_DEG",
    "GRAIN_TURNS_DEG",
    "QUARTER_TURNS_DEG",
    "turns_that_fit",
]

GRAIN_TURNS_DEG = (0.0, 180.0)
"""Turns that keep the grain along the part."""

QUARTER_TURNS_DEG = (0.0, 90.0, 180.0, 270.0)

FREE_TURNS_DEG = (
    *QUARTER_TURNS_DEG,
    *(float(turn) for turn in range(45, 360, 90)),
    *(float(turn) for turn in range(0, 360, 15) if turn % 45),
)
"""Turns where there is no grain, preferred first."""

_FINE_TURNS_DEG = tuple(float(turn) for turn in range(0, 180, 5))


def turns_that_fit(
    outline: Polygon,
    rooms_mm: Sequence[tuple[float, float]],
    turns_deg: tuple[float, ...],
    *,
    any_turn: bool,
) -> tuple[float, ...]:
    """Return the turns to try, or nothing when the outline fits none of the rooms.

    Those are `turns_deg` when one of them fits. Otherwise, with `any_turn`, the turns at steps
    of five degrees at which it fits.

    Args:
        outline: what is to fit.
        rooms_mm: width and height of each room.
        turns_deg: turns that are allowed.
        any_turn: whether others are, too.

    >>> bar = shapely.box(0, 0, 520, 20)
    >>> turns_that_fit(bar, [(500, 400)], (0.0, 90.0), any_turn=False)
    ()
    >>> 45.0 in turns_that_fit(bar, [(500, 400)], (0.0, 90.0), any_turn=True)
    True

    """
    points = shapely.get_coordinates(outline.exterior)

    def fits(turn_deg: float) -> bool:
        cos, sin = _cos_sin(turn_deg)
        wide, high = np.ptp(points @ np.array([[cos, sin], [-sin, cos]]), axis=0).tolist()
        return any(
            wide <= width + SAME_MM and high <= height + SAME_MM for width, height in rooms_mm
        )

    if any(fits(turn) for turn in turns_deg):
        return turns_deg
    return tuple(turn for turn in _FINE_TURNS_DEG if fits(turn)) if any_turn else ()


def _cos_sin(turn_deg: float) -> tuple[float, float]:
    """Return cosine and sine of a turn, exact for quarter turns."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    turn = turn_deg % 360
    return quarter.get(turn) or (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
