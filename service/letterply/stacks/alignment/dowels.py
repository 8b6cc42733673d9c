"""Dowel holes: in places that every layer can carry, found on the medial axis, not guessed.

For each part of an upper layer the places lie where it overlaps all layers below, at least
`web_mm` of material round the hole. Two holes as far apart as the overlap allows fix a part; one
stops it from sliding only, and is reported by the caller.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.shapes import Region, medial_axis, normalise, outline_index

__all__ = ["dowel_places"]

_STEP_MM = 0.5
"""Spacing of candidate places along the axis: finer than a maker can tell."""


def dowel_places(
    overlap: Region, diameter_mm: float, web_mm: float
) -> tuple[tuple[float, float], ...]:
    """Return up to two hole centres in the overlap, (x, y) mm, as far apart as can be.

    Empty when no place leaves `web_mm` round a hole. Two holes are at least four diameters
    apart, or there is only one, in the roomiest place.
    """
    if overlap.is_empty:
        return ()
    candidates, radii = _candidates(overlap, diameter_mm / 2 + web_mm)
    if not len(candidates):
        return ()
    i, j = _farthest_pair(candidates)
    if math.dist(candidates[i], candidates[j]) < 4 * diameter_mm:
        best = candidates[int(np.argmax(radii))]
        return ((_round(best[0]), _round(best[1])),)
    ends = sorted(((candidates[i][0], candidates[i][1]), (candidates[j][0], candidates[j][1])))
    return tuple((_round(x), _round(y)) for x, y in ends)


def _candidates(
    overlap: Region, needed_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    # Finer detail than a tenth does not move a dowel: the axis of the simplified outline is
    # several times cheaper.
    simple = normalise(shapely.simplify(overlap, 0.05))
    axis = medial_axis(simple).peel(60)
    if not len(axis.edges):
        return np.empty((0, 2)), np.empty(0)
    ends = axis.points[axis.edges]
    runs = shapely.segmentize(shapely.linestrings(ends), _STEP_MM)
    points = shapely.get_coordinates(runs)
    # The axis comes straight between its nodes here: measure the room at each place.
    true, _ = outline_index(overlap).nearest(points)
    keep = true >= needed_mm
    return points[keep], true[keep]


def _farthest_pair(points: NDArray[np.float64]) -> tuple[int, int]:
    """Return the indices of the two points farthest apart (among the hull's points)."""
    hull = shapely.convex_hull(shapely.multipoints(points))
    corners = shapely.get_coordinates(hull)
    apart = np.hypot(
        corners[:, None, 0] - corners[None, :, 0], corners[:, None, 1] - corners[None, :, 1]
    )
    i, j = divmod(int(np.argmax(apart)), len(corners))
    away = points[None, :, :] - corners[[i, j], None, :]
    first, second = (away**2).sum(axis=2).argmin(axis=1).tolist()
    return first, second


def _round(value: float) -> float:
    """Keep four decimals: what a program writes."""
    return round(float(value), 4)
