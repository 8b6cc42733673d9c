"""Blunt ends of strokes: where a thin stroke stops square, a sturdier one shall stop square too.

All mm.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from letterply.shapes import SAME_MM, Region, ThinRuns

__all__ = ["blunt_ends"]

_Point = NDArray[np.float64]

_ASIDE = 0.7
"""Share of half the width, to either side of the middle, at which the end is looked for."""

_FLAT = 0.1
"""An end is square when its middle lies no farther from the line between both sides, in half
widths; a round end is 0.29 off."""

_MOST_SLANT = 0.7
"""Cosine of the slant of an end up to which it counts as square."""


def blunt_ends(
    region: Region, runs: ThinRuns, half_mm: float
) -> list[tuple[tuple[float, float], Polygon]]:
    """Return a square end for each stroke that stops square, with the end of its axis.

    Args:
        region: the outline.
        runs: the thin part of its axis, dead ends not drawn in.
        half_mm: half the width that the stroke is to have.

    """
    if not len(runs.ends):
        return []
    nodes, flat, count = np.unique(
        np.round(runs.ends.reshape(-1, 2), 6), axis=0, return_inverse=True, return_counts=True
    )
    index = flat.reshape(-1, 2)
    radius = np.zeros(len(nodes))
    radius[index.ravel()] = runs.radii.ravel()
    next_to: dict[int, list[int]] = {}
    for a, b in index.tolist():
        next_to.setdefault(a, []).append(b)
        next_to.setdefault(b, []).append(a)
    found: list[tuple[tuple[float, float], Polygon]] = []
    widest = float(runs.radii.max())
    for leaf in np.flatnonzero(count == 1).tolist():
        r = float(radius[leaf])
        if r >= widest - SAME_MM and r > half_mm * 0.98:
            continue  # an exit into something wider
        back = _back_along(leaf, next_to, nodes, r)
        if back is None:
            continue
        cap = _cap(region, nodes[leaf], back, r, half_mm)
        if cap is not None:
            x, y = nodes[leaf].tolist()
            found.append(((x, y), cap))
    return found


def _cap(region: Region, tip: _Point, back: _Point, r: float, half: float) -> Polygon | None:
    """Return the square end of a stroke that stops at a tip, None when it does not stop square."""
    along = (tip - back) / math.dist(tip, back)
    aside = np.array([-along[1], along[0]])
    places = [tip + aside * (r * _ASIDE * s) for s in (-1, 0, 1)]
    rays = [shapely.LineString([p, p + along * 2.5 * r]) for p in places]
    near = shapely.intersection(region, shapely.Point(*tip).buffer(4 * r))
    reached = [
        _first_run(shapely.intersection(ray, near), p) for ray, p in zip(rays, places, strict=True)
    ]
    if any(d is None or d >= 2.4 * r for d in reached):
        return None
    low, middle, high = (
        p + along * d for p, d in zip(places, reached, strict=True) if d is not None
    )
    if abs(float((middle - (low + high) / 2) @ along)) > _FLAT * r:
        return None
    if math.dist(high, low) < SAME_MM:  # a point: no radius worth a cap
        return None
    edge = (high - low) / math.dist(high, low)
    slant = float(edge @ aside)
    if slant < _MOST_SLANT:
        return None
    start = tip - along * max(half - r, 0.0)
    to_corner = edge * (half / slant)
    centre = (low + high) / 2
    sides = aside * half
    return Polygon([start - sides, centre - to_corner, centre + to_corner, start + sides])


def _first_run(inside: BaseGeometry, origin: _Point) -> float | None:
    """Return how far a ray goes from its origin before it leaves the region."""
    start = shapely.Point(*origin)
    for run in shapely.get_parts(inside).tolist():
        if run.distance(start) < SAME_MM:
            return float(run.length)
    return None


def _back_along(
    leaf: int, next_to: dict[int, list[int]], nodes: _Point, far_mm: float
) -> _Point | None:
    """Return a point of the axis about `far_mm` behind a dead end, None on a point."""
    before, at = leaf, leaf
    while math.dist(nodes[leaf], nodes[at]) < far_mm:
        onward = [n for n in next_to.get(at, []) if n != before]
        if len(onward) != 1:
            break
        before, at = at, onward[0]
    point: _Point = nodes[at]
    return point if math.dist(nodes[leaf], point) > 1e-3 else None
