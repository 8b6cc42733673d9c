"""Outlines as cells of a grid: what a part covers, its share of the spacing included.

A *footprint* is the set of grid points within half the spacing of a part, grown by what the grid
could miss. If the footprints of two parts share no grid point, the parts keep the spacing: were
they nearer, the midpoint of the shortest line between them would be less than half the spacing
from both, and the grid point next to it would be in both footprints.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.affinity import affine_transform

from letterply.stacks.model import rigid

__all__ = ["Footprint", "FootprintMaker", "Spans"]

Spans = tuple[tuple[int, int, int], ...]
"""Runs of cells in the grid's columns: column, first row, number of rows."""

_NEXT_POINT = math.sqrt(0.5) + 1e-4
"""No point is farther from the nearest grid point than this many cells."""

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
        spans: covered cells; the box's corner lies at cell (`skirt`, `skirt`).
        rows: number of rows that the spans reach over.
        columns: the same for columns.

    """

    turn_deg: float
    left_mm: float
    low_mm: float
    width_mm: float
    height_mm: float
    spans: Spans
    rows: int
    columns: int


class FootprintMaker:
    """Makes footprints for one grid and one spacing, each shape only once.

    Attributes:
        cell_mm: size of a grid cell.
        reach_mm: how far a footprint reaches beyond its part.
        skirt: the same in cells, rounded up.

    """

    def __init__(self, cell_mm: float, spacing_mm: float) -> None:
        self.cell_mm = cell_mm
        needed = spacing_mm / 2 + cell_mm * (_NEXT_POINT + 2 * _SIMPLIFY)
        self.reach_mm = needed / _CHORD_SHARE
        self.skirt = math.ceil(self.reach_mm / cell_mm) + 1
        self._made: dict[tuple[bytes, tuple[float, ...]], tuple[Footprint, ...]] = {}

    def footprints(self, outline: Polygon, turns_deg: tuple[float, ...]) -> tuple[Footprint, ...]:
        """Return one footprint a turn, less those with the same cells as an earlier turn."""
        key = (shapely.to_wkb(outline), turns_deg)
        if key not in self._made:
            made: list[Footprint] = []
            for turn in turns_deg:
                footprint = self._footprint(outline, turn)
                if all(footprint.spans != other.spans for other in made):
                    made.append(footprint)
            self._made[key] = tuple(made)
        return self._made[key]

    def _footprint(self, outline: Polygon, turn_deg: float) -> Footprint:
        turned = affine_transform(Polygon(outline.exterior), rigid(turn_deg, 0.0, 0.0))
        left, low, right, high = turned.bounds
        spans = self.spans(turned, left, low)
        return Footprint(
            turn_deg=turn_deg,
            left_mm=left,
            low_mm=low,
            width_mm=right - left,
            height_mm=high - low,
            spans=spans,
            rows=max(row + count for _, row, count in spans),
            columns=max(column for column, _, _ in spans) + 1,
        )

    def spans(
        self, outline: Polygon, left_mm: float, low_mm: float, *, solid: bool = True
    ) -> Spans:
        """Return the cells of an outline where (`left_mm`, `low_mm`) is cell (`skirt`, `skirt`).

        Holes count as solid, or else as free as far as the outline's growth leaves them.
        """
        shape = Polygon(outline.exterior) if solid else outline
        coarse = shape.simplify(_SIMPLIFY * self.cell_mm)
        grown = coarse.buffer(self.reach_mm, quad_segs=_QUAD_SEGS)
        rings = list(shapely.get_rings(grown.simplify(_SIMPLIFY * self.cell_mm)))
        if solid:  # what the growth of a bay closes is no hole either
            rings = rings[:1]
        ends = [shapely.get_coordinates(ring) for ring in rings]
        start = np.concatenate([points[:-1] for points in ends])
        end = np.concatenate([points[1:] for points in ends])
        corner = (left_mm, low_mm)
        return _scan(
            (start - corner) / self.cell_mm + self.skirt, (end - corner) / self.cell_mm + self.skirt
        )


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
    found = np.column_stack((column[0::2], low, rows))[kept]
    return tuple((int(c), int(r), int(n)) for c, r, n in found)
