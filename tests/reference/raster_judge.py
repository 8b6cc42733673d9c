"""Where a shape is narrowest, found without its axis: a raster for where, exact distances for how.

A narrow place is where the distance to the ground, seen as a landscape over the ink, has a pass
between two hills: cells are flooded from the highest down, and where two hills meet there is a pass
(a merge tree of superlevel sets; the flooding is that of any watershed). The landscape is scipy's
exact Euclidean distance transform of the painted shape. Round a pass the ground falls into pieces,
one on either side; the width is the distance between them, taken from the outline itself and not
from cells. Walls of counters are distances between pieces of the ground as a whole: each counter's
to its nearest neighbour, the shortest first, until all hang together.

Nothing here uses the medial axis that the checks use.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numba
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely import LineString, MultiPolygon, Point, Polygon

__all__ = ["Narrow", "local_width", "narrow_places", "painted"]

_CELLS = 2_000_000
"""Of a picture: a word three times as wide as it is high has some 2,500 by 800."""

_RISE_CELLS = 2.5
"""A hill rises so far above its pass, or the pass is the raster's own roughness."""


@dataclass(frozen=True)
class Narrow:
    """A narrow place: its middle and width, and how much wider the lesser side becomes."""

    at: tuple[float, float]
    width_mm: float
    ratio: float


def narrow_places(region: MultiPolygon, limit_mm: float, ratio: float) -> list[Narrow]:
    """Return the places narrower than the limit whose two sides become wider by the ratio."""
    found: list[Narrow] = []
    for piece in region.geoms:
        found += _passes(piece, limit_mm, ratio)
        found += _walls(piece, limit_mm)
    return sorted(found, key=lambda n: n.width_mm)


def _passes(piece: Polygon, limit_mm: float, ratio: float) -> list[Narrow]:
    left, low, right, high = piece.bounds
    cell = float(np.sqrt((right - left) * (high - low) / _CELLS))
    ink, origin = painted(piece, cell)
    columns = ink.shape[1]
    # A cell without ink begins half a cell before its middle, on average.
    height = np.maximum(distance_transform_edt(ink) - 0.5, 0.0)
    found = []
    for place, lesser in _merges(height.ravel(), columns):
        radius = float(height.ravel()[place])
        if lesser - radius < _RISE_CELLS or 2 * radius * cell > limit_mm + 4 * cell:
            continue
        row, column = divmod(int(place), columns)
        at = (origin + (np.array([column, row]) + 0.5) * cell).tolist()
        exact = local_width(piece, (at[0], at[1]), 2 * radius * cell, 4 * cell)
        if exact is None:
            continue
        line, width = exact
        if width < limit_mm and 2 * lesser * cell >= ratio * width:
            middle = line.interpolate(0.5, normalized=True)
            found.append(Narrow((middle.x, middle.y), width, 2 * lesser * cell / max(width, 1e-9)))
    return found


def local_width(
    piece: Polygon, at: tuple[float, float], about_mm: float, slack_mm: float
) -> tuple[LineString, float] | None:
    """Return the shortest line across the ink at a place, and its length.

    None where there is ground on one side only: the place is no passage.
    """
    here, ink = Point(at), piece.buffer(1e-9)
    near_mm = 0.25 * about_mm + slack_mm
    for reach in (1.5, 1.2, 1.05):
        disc = here.buffer(reach * about_mm / 2 + slack_mm, quad_segs=32)
        sides = shapely.get_parts(disc.difference(piece))
        lines = [shapely.shortest_line(a, b) for a, b in itertools.combinations(sides, 2)]
        # A line that runs through ground, or past the place, is no way across it.
        across = [x for x in lines if x.distance(here) <= near_mm and ink.contains(x)]
        if across:
            line = min(across, key=lambda x: x.length)
            return line, float(line.length)
    return None


def _walls(piece: Polygon, limit_mm: float) -> list[Narrow]:
    grounds = [LineString(piece.exterior), *(Polygon(ring) for ring in piece.interiors)]
    pairs = sorted(
        (grounds[i].distance(grounds[j]), i, j)
        for i in range(len(grounds))
        for j in range(i + 1, len(grounds))
    )
    group = list(range(len(grounds)))
    found = []
    for width, i, j in pairs:
        if group[i] == group[j]:
            continue
        group = [group[i] if g == group[j] else g for g in group]
        if width < limit_mm:
            middle = shapely.shortest_line(grounds[i], grounds[j]).interpolate(0.5, normalized=True)
            found.append(Narrow((middle.x, middle.y), float(width), np.inf))
    return found


def painted(
    shape: Polygon | MultiPolygon, cell_mm: float, pad: int = 3
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Return the cells whose middle is ink, rows from below, and the lower left corner, mm.

    By scan lines; `pad` cells of ground stand round the shape.
    """
    left, low, right, high = shape.bounds
    origin = np.array([left, low]) - pad * cell_mm
    columns, rows = (int(np.ceil(s / cell_mm)) + 2 * pad for s in (right - left, high - low))
    turns = np.zeros((rows, columns + 1), dtype=np.int32)
    middles = origin[1] + (np.arange(rows) + 0.5) * cell_mm
    for piece in shapely.get_parts(shape):
        for ring in (piece.exterior, *piece.interiors):
            for (x0, y0), (x1, y1) in itertools.pairwise(ring.coords):
                first, last = np.searchsorted(middles, sorted((y0, y1)))
                if first == last:
                    continue
                x = x0 + (middles[first:last] - y0) * (x1 - x0) / (y1 - y0)
                # The first cell whose middle lies right of the crossing.
                column = np.ceil((x - origin[0]) / cell_mm - 0.5).astype(int).clip(0, columns)
                turns[np.arange(first, last), column] += 1
    return (np.cumsum(turns, axis=1)[:, :columns] % 2).astype(bool), origin


def _merges(height: NDArray[np.float64], columns: int) -> list[tuple[int, float]]:
    """Return the passes: cell and height of the lower one of the two hills that meet there."""
    order = np.argsort(-height, kind="stable")
    order = order[: np.count_nonzero(height > 0)]
    places, lesser, count = _flood(height, order, columns)
    return list(zip(places[:count].tolist(), lesser[:count].tolist(), strict=True))


@numba.njit(cache=False)
def _flood(height, order, columns):  # type: ignore[no-untyped-def]
    parent = np.full(len(height), -1, dtype=np.int64)
    places = np.empty(len(order), dtype=np.int64)
    lesser = np.empty(len(order))
    count = 0
    for cell in order:
        parent[cell] = cell
        for k in range(9):
            step = (k // 3 - 1) * columns + k % 3 - 1
            other = cell + step
            if step == 0 or parent[other] < 0:
                continue
            root = other
            while parent[root] != root:
                parent[root] = parent[parent[root]]
                root = parent[root]
            mine = cell
            while parent[mine] != mine:
                parent[mine] = parent[parent[mine]]
                mine = parent[mine]
            if mine == root:
                continue
            # A root is the top of its hill.
            low, high = (mine, root) if height[mine] < height[root] else (root, mine)
            if height[low] > height[cell]:
                places[count] = cell
                lesser[count] = height[low]
                count += 1
            parent[low] = high
    return places, lesser, count
