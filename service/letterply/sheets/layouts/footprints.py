"""Outlines as cells of a grid: what a part covers, its share of the spacing included.

A *footprint* is the set of grid points within half the spacing of a part, grown by what the grid
could miss. If the footprints of two parts share no grid point, the parts keep the spacing: were
they nearer, the midpoint of the shortest line between them would be less than half the spacing
from both, and the grid point next to it would be in both footprints.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from letterply.sheets.layouts.grid import Shape, Spans
from letterply.stacks import rigid

__all__ = ["Footprint", "FootprintMaker"]

_NEXT_POINT = math.sqrt(0.5) + 1e-4
"""No point is farther from the nearest grid point than this many cells."""

_ALIKE_MM = 1e-4
"""Outlines that differ by no more than this, as those of one letter in two words, share cells."""

_SIMPLIFY = 0.1
"""Cells by which an outline is simplified before and after it is grown."""

_QUAD_SEGS = 8
_CHORD_SHARE = math.cos(1.5 * math.pi / (4 * _QUAD_SEGS))
"""Least radius of the chords of a grown corner over its nominal radius: GEOS rounds the number of
arc steps, so that a step can be 1.5 times its nominal size."""


@dataclass(frozen=True, slots=True, eq=False)
class Footprint:
    """A turned part on the grid.

    Attributes:
        turn_deg: the turn.
        left_mm, low_mm: lower left corner of the turned part's bounding box.
        width_mm, height_mm: size of that box.
        middle_mm: how far the middle of the covered cells lies from the box's left side.
        shape: covered cells; the box's corner lies at cell (`skirt`, `skirt`). Parts that are
            alike share it.

    """

    turn_deg: float
    left_mm: float
    low_mm: float
    width_mm: float
    height_mm: float
    middle_mm: float
    shape: Shape


class FootprintMaker:
    """Makes footprints for one grid and one spacing, the cells of each shape only once.

    Attributes:
        cell_mm: size of a grid cell.
        spacing_mm: least distance between parts.
        reach_mm: how far a footprint reaches beyond its part.
        skirt: the same in cells, rounded up.

    """

    def __init__(self, cell_mm: float, spacing_mm: float) -> None:
        self.cell_mm = cell_mm
        self.spacing_mm = spacing_mm
        needed = spacing_mm / 2 + cell_mm * (_NEXT_POINT + 2 * _SIMPLIFY) + 2 * _ALIKE_MM
        self.reach_mm = needed / _CHORD_SHARE
        self.skirt = math.ceil(self.reach_mm / cell_mm) + 1
        self._made: dict[tuple[int, tuple[float, ...]], tuple[Polygon, tuple[Footprint, ...]]] = {}
        self._grown: dict[bytes, list[NDArray[np.float64]]] = {}
        self._shapes: dict[tuple[bytes, float], Shape] = {}

    def footprints(self, outline: Polygon, turns_deg: tuple[float, ...]) -> tuple[Footprint, ...]:
        """Return one footprint a turn, less those with the same cells as an earlier turn."""
        key = id(outline), turns_deg
        if key not in self._made:
            # The outline is kept with them, so that no other comes to have its id.
            self._made[key] = outline, self._make(outline, turns_deg)
        return self._made[key][1]

    def _make(self, outline: Polygon, turns_deg: tuple[float, ...]) -> tuple[Footprint, ...]:
        points = shapely.get_coordinates(outline.exterior)
        low = points.min(axis=0)
        key = np.round((points - low) / _ALIKE_MM).astype(np.int64).tobytes()
        if key not in self._grown:
            self._grown[key] = [ring - low for ring in self._grow(Polygon(outline.exterior))[:1]]
        made: list[Footprint] = []
        for turn in turns_deg:
            a, b, c, d, _, _ = rigid(turn, 0.0, 0.0)
            matrix = np.array([[a, c], [b, d]])
            box = points @ matrix
            (left, bottom), (width, height) = box.min(axis=0), np.ptp(box, axis=0)
            if (key, turn) not in self._shapes:
                rings = [(ring + low) @ matrix - (left, bottom) for ring in self._grown[key]]
                self._shapes[key, turn] = Shape(self._scan(rings))
            shape = self._shapes[key, turn]
            if any(np.array_equal(shape.spans, other.shape.spans) for other in made):
                continue
            column = np.average(shape.spans[:, 0], weights=shape.spans[:, 2])
            middle = (float(column) - self.skirt) * self.cell_mm
            made.append(
                Footprint(
                    turn, float(left), float(bottom), float(width), float(height), middle, shape
                )
            )
        return tuple(made)

    def shape(self, outline: Polygon, *, solid: bool = True) -> Shape:
        """Return the cells of an outline where the origin is cell (`skirt`, `skirt`).

        Holes count as solid, or else as free as far as the outline's growth leaves them.
        """
        rings = self._grow(Polygon(outline.exterior) if solid else outline)
        return Shape(self._scan(rings[:1] if solid else rings))

    def _grow(self, shape: Polygon) -> list[NDArray[np.float64]]:
        """Return the rings of a grown outline, the exterior first."""
        coarse = shape.simplify(_SIMPLIFY * self.cell_mm)
        grown = coarse.buffer(self.reach_mm, quad_segs=_QUAD_SEGS)
        rings = shapely.get_rings(grown.simplify(_SIMPLIFY * self.cell_mm))
        return [shapely.get_coordinates(ring) for ring in rings]

    def _scan(self, rings: Sequence[NDArray[np.float64]]) -> Spans:
        cells = [ring / self.cell_mm + self.skirt for ring in rings]
        start = np.concatenate([points[:-1] for points in cells])
        return _scan(start, np.concatenate([points[1:] for points in cells]))


def _scan(start: NDArray[np.float64], end: NDArray[np.float64]) -> Spans:
    """Return the runs of whole-numbered points inside closed rings, given their edges, in cells."""
    forward = (start[:, 0] <= end[:, 0])[:, None]
    start, end = np.where(forward, start, end), np.where(forward, end, start)
    # Half open: a column through a shared vertex meets one of its two edges.
    first = np.ceil(start[:, 0]).astype(np.int64)
    count = np.ceil(end[:, 0]).astype(np.int64) - first
    edge = np.repeat(np.arange(len(start)), count)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count) + first[edge]
    slope = (end[edge, 1] - start[edge, 1]) / (end[edge, 0] - start[edge, 0])
    height = start[edge, 1] + (column - start[edge, 0]) * slope
    order = np.lexsort((height, column))
    column, height = column[order], height[order]
    low = np.ceil(height[0::2]).astype(np.int64)
    rows = np.floor(height[1::2]).astype(np.int64) - low + 1
    kept = rows > 0
    spans: Spans = np.column_stack((column[0::2], low, rows))[kept]
    return spans
