"""Outlines of irregular sheets: left-overs with bites in their edge and holes in them. All mm.

Rings are points in the frame of the sheet, lower left of the box round it at the origin; the first
one is its edge, the rest are holes. Exact to a hundredth of a millimetre.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.polygon import orient

__all__ = ["Rings", "check_rings", "gone_of", "outline_of", "quarter_turned", "rings_of"]

Ring = tuple[tuple[float, float], ...]
Rings = tuple[Ring, ...]

_SAME_MM = 0.05
"""How far an outline may miss the box that it is said to fill."""

_DIGITS = 2


def check_rings(rings: Rings, width_mm: float, height_mm: float, key: str) -> None:
    """Raise `ValueError` for rings that are no outline of a sheet of this size."""
    if any(len(ring) < 3 for ring in rings):
        raise ValueError(f"{key}: a ring of its outline has fewer than three points")
    if not all(math.isfinite(v) for ring in rings for point in ring for v in point):
        raise ValueError(f"{key}: a point of its outline is no place")
    shape = outline_of(rings)
    if not shape.is_valid or shape.area <= 0:
        raise ValueError(f"{key}: its outline crosses or touches itself, or a hole lies outside it")
    box = np.array([0.0, 0.0, width_mm, height_mm])
    if np.abs(np.array(shape.bounds) - box).max() > _SAME_MM:
        raise ValueError(f"{key}: its outline does not reach from 0, 0 to its width and height")


@lru_cache(maxsize=256)
def outline_of(rings: Rings) -> Polygon:
    """Return the shape of rings, exterior counter-clockwise."""
    return orient(Polygon(rings[0], rings[1:]))


@lru_cache(maxsize=256)
def gone_of(rings: Rings, width_mm: float, height_mm: float) -> tuple[Polygon, ...]:
    """Return what the box round an outline holds besides it; nothing without one."""
    if not rings:
        return ()
    rest = shapely.box(0.0, 0.0, width_mm, height_mm) - outline_of(rings)
    return tuple(p for p in shapely.get_parts(rest).tolist() if isinstance(p, Polygon))


def quarter_turned(rings: Rings, height_mm: float) -> Rings:
    """Return rings on the sheet turned by a quarter, counter-clockwise.

    >>> quarter_turned((((0.0, 0.0), (30.0, 0.0), (0.0, 20.0)),), 20.0)
    (((20.0, 0.0), (20.0, 30.0), (0.0, 0.0)),)

    """
    return tuple(tuple((height_mm - y, x) for x, y in ring) for ring in rings)


def rings_of(shape: Polygon) -> Rings:
    """Return the rings of a shape, points to a hundredth, first and last not the same."""
    return tuple(
        tuple((round(x, _DIGITS) + 0.0, round(y, _DIGITS) + 0.0) for x, y in ring.coords[:-1])
        for ring in (shape.exterior, *shape.interiors)
    )
