"""What was added to an outline, told by the thin places that asked for it. All mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from letterply.shapes import (
    Region,
    ThinRuns,
    as_lines,
    as_region,
    largest_disc,
    normalise,
    polygons,
)

__all__ = ["Growth", "growths_of", "with_fading"]


@dataclass(frozen=True, slots=True)
class Growth:
    """A thin place that was made sturdy.

    Attributes:
        at: where it was thinnest.
        width_mm: how wide it was there.
        region: what was added.

    """

    at: tuple[float, float]
    width_mm: float
    region: Region


def growths_of(before: Region, after: Region, thin: ThinRuns, limit: float) -> tuple[Growth, ...]:
    """Return what was added, each piece with the thin zone that it lies nearest to."""
    fresh = [p for p in polygons(shapely.difference(after, before)) if p.area > 1e-4]
    if not fresh:
        return ()
    found = []
    places = _places(before, thin, limit)
    shapes = np.array([p for p, _, _ in places], dtype=object)
    near = np.argmin(shapely.distance(np.array(fresh, dtype=object)[:, None], shapes), axis=1)
    for k in np.unique(near).tolist():
        pieces: list[Polygon] = [p for p, n in zip(fresh, near, strict=True) if n == k]
        _, at, width = places[k]
        found.append(Growth(at, width, normalise(shapely.MultiPolygon(pieces))))
    return tuple(sorted(found, key=lambda g: (g.at, g.width_mm)))


def _places(
    before: Region, thin: ThinRuns, limit: float
) -> list[tuple[BaseGeometry, tuple[float, float], float]]:
    """Return of every thin place its extent, where it is thinnest, and how wide it is there."""
    found: list[tuple[BaseGeometry, tuple[float, float], float]] = []
    for zone in range(len(thin.exits)):
        mine = thin.of([zone])
        place = np.unravel_index(int(np.argmin(mine.radii)), mine.radii.shape)
        x, y = mine.ends[place]
        extent = as_lines(mine.ends)
        found.append((extent, (float(x), float(y)), 2 * float(mine.radii[place])))
    touched = shapely.union_all([g for g, _, _ in found])
    for piece in polygons(before):
        if not shapely.intersects(touched, piece):
            at, radius = largest_disc(piece)
            if 2 * radius < limit:
                found.append((shapely.Point(at), at, 2 * radius))
    return found


def with_fading(growths: Sequence[Growth], grown: Region, faded_: Region) -> tuple[Growth, ...]:
    """Return growths with what fades out of each: every further piece goes to the nearest."""
    pieces = polygons(shapely.difference(faded_, grown))
    if not pieces or not growths:
        return tuple(growths)
    regions = np.array([g.region for g in growths], dtype=object)
    away = shapely.distance(np.array(pieces, dtype=object)[:, None], regions)
    nearest = np.argmin(np.round(away, 3), axis=1)
    found: list[Growth] = []
    for k, growth in enumerate(growths):
        mine = [p for p, n in zip(pieces, nearest.tolist(), strict=True) if n == k]
        whole = normalise(as_region(shapely.union_all([growth.region, *mine])))
        found.append(replace(growth, region=whole) if mine else growth)
    return tuple(found)
