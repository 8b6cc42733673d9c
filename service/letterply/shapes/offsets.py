"""Offsets and openings of regions by a disc, through GEOS, with the error on the safe side.

GEOS puts the vertices of an offset arc on the true circle, so its chords cut inside by the
sagitta, and it rounds the number of arc steps, so that a step can be 1.5 times and the sagitta
2.25 times the nominal one. `quad_segments` allows for that: every offset here stays within
`tolerance_mm` of the true one. All distances are mm.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from letterply.shapes.nearness import distances_of_groups, outline_distances
from letterply.shapes.regions import EMPTY, Region, as_region
from letterply.shapes.tolerances import SAME_MM

__all__ = [
    "clear_offset",
    "deepest_leftover",
    "leftover",
    "leftover_depths",
    "offset",
    "opening",
    "quad_segments",
    "surroundings",
]

_MAX_QUAD_SEGMENTS = 512


def quad_segments(radius_mm: float, tolerance_mm: float) -> int:
    """Return GEOS's segments a quarter circle that keep its arcs within the tolerance.

    From the sagitta r (1 - cos(u/2)) of a chord of angle u, with a tolerance 2.25 times smaller
    to make up for GEOS's rounding of the number of steps.
    """
    radius = abs(radius_mm)
    allowed = tolerance_mm / 2.25
    if radius <= allowed:
        return 2
    step = 2 * math.acos(1 - allowed / radius)
    return min(max(2, math.ceil(math.pi / 2 / step)), _MAX_QUAD_SEGMENTS)


def offset(region: Region, distance_mm: float, tolerance_mm: float) -> Region:
    """Return the region grown (distance above 0) or shrunk (below 0) by a disc.

    The outline lies within the tolerance of the true offset, on its inner side where it is
    rounded. A region that shrinks away comes out empty.
    """
    if distance_mm == 0 or region.is_empty:
        return region
    segments = quad_segments(distance_mm, tolerance_mm)
    moved = as_region(shapely.buffer(region, distance_mm, quad_segs=segments))
    return _without_specks(moved, region, distance_mm) if distance_mm < 0 else moved


_SPECK_MM2 = 0.01


_SPECK_MM = 0.01


def _without_specks(moved: Region, region: Region, distance_mm: float) -> Region:
    """Return a shrunk region without specks that GEOS leaves where nothing should be.

    Now and then it leaves a sliver of a hundredth of a millimetre too near to the outline: a
    cutter led there would cut into the wall.
    """
    areas = shapely.area(shapely.get_parts(moved))
    if not len(areas) or areas.min() >= _SPECK_MM2:
        return moved
    edge, least = shapely.boundary(region), -distance_mm - _SPECK_MM
    kept = [
        piece
        for piece, area in zip(moved.geoms, areas, strict=True)
        if area >= _SPECK_MM2 or float(shapely.distance(edge, piece)) >= least
    ]
    return moved if len(kept) == len(areas) else MultiPolygon(kept)


def clear_offset(region: Region, distance_mm: float, tolerance_mm: float) -> Region:
    """Return the region grown by at least `distance_mm`, at most a tolerance more.

    For paths that must clear a part: no point of the outline is nearer to the region than the
    distance.
    """
    return offset(region, distance_mm + tolerance_mm, tolerance_mm)


def opening(region: Region, radius_mm: float, tolerance_mm: float) -> Region:
    """Return what a disc of this radius covers while it stays inside the region.

    Empty where the region is narrower than the disc everywhere.
    """
    if radius_mm <= 0 or region.is_empty:
        return region
    inner = offset(region, -radius_mm, tolerance_mm)
    if inner.is_empty:
        return EMPTY
    # The dilation may stick out by the tolerance: what is reached is never outside the region.
    grown = offset(inner, radius_mm, tolerance_mm)
    return as_region(shapely.intersection(grown, region))


def leftover(
    region: Region, radius_mm: float, tolerance_mm: float, *, inner: Region | None = None
) -> Region:
    """Return what a round cutter of this radius cannot reach inside the region.

    Slivers thinner than twice the tolerance are dropped: every vertex of a flattened curve
    would leave one. `inner` is the region shrunk by the radius, where that is known already.
    """
    if radius_mm <= 0 or region.is_empty:
        return EMPTY
    if inner is None:
        inner = offset(region, -radius_mm, tolerance_mm)
    # Rounding leaves threads along straight sides that tie separate corners together: whatever
    # is thinner than twice the tolerance goes, but for the cusps next to what stays. What a disc
    # of the tolerance reaches inside the leftover is the shrunk region less the grown reach: so
    # outlines that nearly coincide, on which overlays are slow, are cut near those cores alone.
    shrunk = _a_hair_in(region, tolerance_mm)
    cores = shapely.difference(shrunk, offset(inner, radius_mm + tolerance_mm, tolerance_mm))
    if cores.is_empty:
        return EMPTY
    near = shapely.buffer(cores, 8 * tolerance_mm, quad_segs=4)
    reached = shapely.intersection(near, offset(inner, radius_mm, tolerance_mm))
    return as_region(shapely.difference(shapely.intersection(near, region), reached))


@lru_cache(maxsize=8)
def _a_hair_in(region: Region, tolerance_mm: float) -> Region:
    """Return a region shrunk by a tolerance; kept, since cutter after cutter is asked for."""
    return as_region(shapely.buffer(region, -tolerance_mm, quad_segs=4))


def surroundings(outline: Polygon, margin_mm: float) -> Region:
    """Return the space round a polygon and in its holes, out to a margin, without sharp corners.

    What a cutter of a radius up to the margin leaves of it is left by the polygon, not by the
    frame.
    """
    left, low, right, high = outline.bounds
    frame = shapely.box(left, low, right, high)
    soft = shapely.buffer(frame, 3 * margin_mm, quad_segs=16)
    return as_region(shapely.difference(soft, outline))


def deepest_leftover(left: Region, around: Region) -> tuple[float, Polygon | None]:
    """Return how deep the deepest piece of a leftover lies behind what is reached, and the piece.

    See `leftover_depths`.
    """
    if left.is_empty:
        return 0.0, None
    depths = leftover_depths(left, around)
    k = int(np.argmax(depths))
    return float(depths[k]), left.geoms[k]


_DEPTH_STEP_MM = 0.1
"""How far apart places are at which a leftover's depth is looked at: half of it is the error."""


def leftover_depths(left: Region, around: Region) -> NDArray[np.float64]:
    """Return how deep each piece of a leftover lies behind what is reached, (n,) mm.

    `around` is what was to be cleared. Depth is measured from where a piece borders on what is
    reached: what is reached beyond a thin wall does not count. A piece that borders on nothing
    reached is as deep as it is long.
    """
    if left.is_empty:
        return np.empty(0)
    # Grown by next to nothing: where edges of both run together, rounding leaves no thread.
    reached = shapely.difference(around, shapely.buffer(left, SAME_MM, quad_segs=1))
    pieces = np.array(left.geoms, dtype=object)
    x0, y0, x1, y1 = shapely.bounds(pieces).T
    depths: NDArray[np.float64] = np.hypot(x1 - x0, y1 - y0)
    if reached.is_empty:
        return depths
    # Along straight walls the deepest place lies between two corners. GEOS densifies lines: of a
    # polygon that touches itself it would leave nothing.
    rings, of_piece = shapely.get_rings(pieces, return_index=True)
    dense = shapely.segmentize(rings, _DEPTH_STEP_MM)
    corners, of_ring = shapely.get_coordinates(dense, return_index=True)
    # The corners lie outside of what is reached or on its edge: its sides alone decide.
    away = outline_distances(as_region(reached), corners)
    borders = away <= 2 * SAME_MM
    first = np.flatnonzero(borders[:-1] & borders[1:] & (of_ring[:-1] == of_ring[1:]))
    if not len(first):
        return depths
    sides = np.hstack((corners[first], corners[first + 1]))
    owner = of_piece[of_ring]
    far = distances_of_groups(corners, owner, sides, owner[first], len(pieces))
    bordering = np.isfinite(far)
    depths[owner[first]] = 0.0
    np.maximum.at(depths, owner[bordering], far[bordering])
    return depths
