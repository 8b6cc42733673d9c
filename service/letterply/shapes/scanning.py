"""Parallel lines across a region: where each of them runs inside it.

A scan has a direction of its own: `along` is the way the lines run, `across` the way they are
stacked; both are unit vectors, across is along turned by a quarter to the right. A point is
`across * place + along * way`. All mm, angles in degrees, counter-clockwise from the x axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from letterply.shapes.regions import as_region, rings

__all__ = ["Runs", "directions", "scan"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """The pieces of a set of parallel lines that lie inside a region.

    Attributes:
        line: (n,) int64, which line each run is on; rising.
        start, end: (n,) float64, ways along the line at which it enters and leaves, start < end.

    """

    line: _Ints
    start: _Floats
    end: _Floats


def directions(angle_deg: float) -> tuple[_Floats, _Floats]:
    """Return the unit vectors along and across a scan.

    >>> [v.round(6).tolist() for v in directions(90)]
    [[0.0, 1.0], [1.0, -0.0]]

    """
    turn = math.radians(angle_deg)
    along = np.array([math.cos(turn), math.sin(turn)])
    return along, np.array([along[1], -along[0]])


def scan(pieces: Iterable[Polygon], angle_deg: float, places: _Floats) -> Runs:
    """Return where lines in a direction run inside polygons that do not overlap.

    `places` (k,) mm are rising. A line through a corner counts the corner once: every line enters
    as often as it leaves.
    """
    along, across = directions(angle_deg)
    sides = [np.hstack((r, np.roll(r, -1, axis=0))) for p in pieces for r in rings(as_region(p))]
    if not sides or not len(places):
        return Runs(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))
    every = np.vstack(sides)
    from_place, to_place = every[:, :2] @ across, every[:, 2:] @ across
    # Half open, so that two sides that meet on a line cross it once between them.
    first = np.searchsorted(places, np.minimum(from_place, to_place), side="left")
    after = np.searchsorted(places, np.maximum(from_place, to_place), side="left")
    counts = after - first
    side = np.repeat(np.arange(len(every)), counts)
    line = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts) + first[side]
    share = (places[line] - from_place[side]) / (to_place - from_place)[side]
    from_way, to_way = every[:, :2] @ along, every[:, 2:] @ along
    way = from_way[side] + (to_way - from_way)[side] * share
    order = np.lexsort((way, line))
    line, way = line[order], way[order]
    return Runs(line[::2], way[::2], way[1::2])
