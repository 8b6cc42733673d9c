"""Sheets measured again: no placement is believed before it has been through here.

The searches work on grids and simplified shapes. These functions look at the true outlines.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from letterply.catalogue import Stock
from letterply.shapes import GRID_MM

__all__ = ["SLACK_MM", "clear_of_places", "least_gap", "within_margins"]

SLACK_MM = 2 * GRID_MM
"""Placements are written on the 10 nm grid, so a distance may fall short by two steps."""


def least_gap(outlines: Sequence[Polygon], *, up_to_mm: float, in_counters: bool = False) -> float:
    """Return the least distance between any two outlines, mm, or `up_to_mm` if none is nearer.

    Counters count as solid: a part that lies inside another's counter has distance 0, for the
    counter falls out when the other is cut. With `in_counters` parts may lie there, and their
    distance to the counter's edge counts.
    """
    shapes = [o if in_counters else Polygon(o.exterior) for o in outlines]
    solid = np.array(shapes, dtype=object)
    if len(solid) < 2:
        return up_to_mm
    near = shapely.STRtree(solid).query(solid, predicate="dwithin", distance=up_to_mm)
    first, second = near[:, near[0] < near[1]]
    if not len(first):
        return up_to_mm
    return min(up_to_mm, float(shapely.distance(solid[first], solid[second]).min()))


def within_margins(outlines: Sequence[Polygon], stock: Stock) -> bool:
    """Whether every outline lies within the sheet's margins and where the machine reaches."""
    if not outlines:
        return True
    left, low, right, high = shapely.total_bounds(list(outlines))
    start = stock.edge_mm - SLACK_MM
    width, height = stock.room_mm
    return bool(
        left >= start
        and low >= start
        and right <= stock.edge_mm + width + SLACK_MM
        and high <= stock.edge_mm + height + SLACK_MM
    )


def clear_of_places(outlines: Sequence[Polygon], stock: Stock) -> bool:
    """Whether every outline keeps what a cutter takes beside it from what is kept clear.

    From the edge of an irregular sheet, and of its holes, it keeps the margin besides.
    """
    barred = stock.barred
    if not outlines or not barred:
        return True
    solid = [Polygon(o.exterior) for o in outlines]
    return all(
        float(np.min(shapely.distance(area, solid))) >= stock.beside_mm + margin - SLACK_MM
        for area, margin in barred
    )
