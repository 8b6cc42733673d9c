"""Joins of connected scripts: where letters that belong together miss each other, and what to do.

Two letters side by side *join by design* when the font's own spacing makes them touch. A line is
connected when its script joins by nature, or when most of its pairs join by design. A *miss* is a
gap between two letters of a connected line that is a hair wide, or any gap between two letters
that join by design and were set apart (by tracking, a bent baseline or evened spacing). Lengths mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString
from shapely.affinity import translate

from letterply.shapes import ROUNDING, Region

__all__ = ["HAIR_MM", "Miss", "Neighbours", "bridge", "find_misses", "shift_to_join"]

HAIR_MM = 0.3
"""A gap below this comes out as a slit that no one wants: common practice, no source."""

_HAIR_OF_EM = 0.03
"""In small letters a hair is less: the font's own gaps shrink as well."""

_MOST = 0.5
"""Share of pairs that join from which a line counts as connected."""

_BRIDGE_OF_EM = 0.045
"""Width of a bridge: about that of a thin stroke."""

_LEAST_BRIDGE_MM = 0.6
_OVERLAP_MM = 0.05
_REACH = 4.0
"""Letters are moved together by at most so many times the gap."""


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Two letters side by side.

    Attributes:
        before, after: their places among all letters.
        regions: as placed, mm.
        plain: the same two as the font spaces them, upright.
        joining: whether their script joins by its nature.

    """

    before: int
    after: int
    regions: tuple[Region, Region]
    plain: tuple[Region, Region]
    joining: bool


@dataclass(frozen=True, slots=True)
class Miss:
    """Two letters that should join and do not.

    Attributes:
        before, after: their places among all letters.
        gap_mm: how far apart they are.
        ends: the two nearest points.
        by_design: whether the font's own spacing joins them.

    """

    before: int
    after: int
    gap_mm: float
    ends: tuple[tuple[float, float], tuple[float, float]]
    by_design: bool


def find_misses(pairs: Sequence[Neighbours], em_mm: float) -> list[Miss]:
    """Return the misses among the pairs of one line, in order."""
    if not pairs:
        return []
    designed = [bool(shapely.intersects(*pair.plain)) for pair in pairs]
    connected = sum(designed) >= _MOST * len(pairs)
    hair = min(HAIR_MM, _HAIR_OF_EM * em_mm)
    found: list[Miss] = []
    for pair, by_design in zip(pairs, designed, strict=True):
        if not connected and not pair.joining:
            continue
        gap = float(shapely.distance(*pair.regions))
        if gap == 0 or (gap >= hair and not by_design):
            continue
        near = shapely.get_coordinates(shapely.shortest_line(*pair.regions)).tolist()
        ends = (near[0][0], near[0][1]), (near[1][0], near[1][1])
        found.append(Miss(pair.before, pair.after, gap, ends, by_design))
    return found


def bridge(miss: Miss, em_mm: float) -> shapely.Polygon:
    """Return a bridge over a miss: a capsule along its shortest line, a little into both."""
    width = max(_LEAST_BRIDGE_MM, _BRIDGE_OF_EM * em_mm)
    a, b = np.array(miss.ends)
    unit = (b - a) / max(float(np.hypot(*(b - a))), ROUNDING)
    line = LineString([a - unit * width / 2, b + unit * width / 2])
    return shapely.buffer(line, width / 2, quad_segs=16)


def shift_to_join(pair: Neighbours, miss: Miss, along: tuple[float, float]) -> float | None:
    """Return how far the letter behind a miss moves along the line to join, or None if too far.

    `along` is the direction of the line there, as a unit vector.
    """
    still, moving = pair.regions
    most = _REACH * miss.gap_mm

    def joined(by: float) -> bool:
        moved = translate(moving, -by * along[0], -by * along[1])
        return bool(shapely.intersects(still, moved))

    if not joined(most):
        return None
    low, high = 0.0, most
    while high - low > 1e-4:
        middle = (low + high) / 2
        if joined(middle):
            high = middle
        else:
            low = middle
    return high + _OVERLAP_MM
