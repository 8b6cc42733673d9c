"""The Voronoi diagram of line segments, as arrays.

Segments in, mm; vertices and edges out. Boost builds the diagram (through pyvoronoi) on the
10 nm grid; everything is read from it once, cell by cell: an object for each edge would cost as
much as building the diagram. Terms: a *site* is a piece of input that owns a cell: a segment, or
one of its ends.

The two halves of an edge are neighbours in Boost's list (2k and 2k + 1), and the cells list their
edges and vertices in turn: so start, end and both cells of every edge follow from the cells. What
does not follow the rule is asked for edge by edge.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np
import pyvoronoi
from numpy.typing import NDArray

from letterply.shapes.tolerances import GRID_PER_MM

__all__ = ["SegmentDiagram", "segment_diagram"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_END = 2
"""Boost's category of a site that is the end of its segment; the start is 1, the segment 3."""
_SEGMENT = 3


@dataclass(frozen=True, slots=True, eq=False)
class SegmentDiagram:
    """The finite edges between sites that do not touch.

    Attributes:
        vertices: (k, 2) float64, mm.
        edges: (m, 2) int64, pairs of vertices.
        sites: (m, 2, 4) float64, what each edge is equally far from: x0, y0, x1, y1; an end
            repeats its point.
        owners: (m, 2) int64, the segment that each site is, or is an end of.
        are_ends: (m, 2) bool, whether the site is an end.

    """

    vertices: _Floats
    edges: _Ints
    sites: _Floats
    owners: _Ints
    are_ends: NDArray[np.bool_]


def segment_diagram(segments: _Floats) -> SegmentDiagram:
    """Return the diagram of segments `(n, 4) float64`, mm, within 20 m of the origin.

    Segments may share ends but must not cross. Edges between a segment and its own end are left
    out, as are edges that run to infinity.
    """
    with _uncollected():
        vertices, owner, category, start, cell = _constructed(segments)
    half = np.arange(0, len(start), 2)
    ends = np.column_stack((start[half], start[half + 1]))
    pairs = np.column_stack((cell[half], cell[half + 1]))
    finite = (ends >= 0).all(axis=1)
    ends, pairs = ends[finite], pairs[finite]
    sites = segments[owner].copy()
    is_end = category < _SEGMENT
    at_end = is_end & (category == _END)
    at_start = is_end & ~at_end
    sites[at_start, 2:] = sites[at_start, :2]
    sites[at_end, :2] = sites[at_end, 2:]
    apart = ~_touch(sites, is_end, pairs)
    ends, pairs = ends[apart], pairs[apart]
    return SegmentDiagram(vertices, ends, sites[pairs], owner[pairs], is_end[pairs])


def _constructed(segments: _Floats) -> tuple[_Floats, _Ints, _Ints, _Ints, _Ints]:
    """Return vertices, of each cell its segment and category, and what `_halves` returns.

    The objects that it is read from are gone when it returns, and no collection meets them.
    """
    diagram = pyvoronoi.Pyvoronoi(GRID_PER_MM)
    add = diagram.AddSegment
    for x0, y0, x1, y1 in segments.tolist():
        add([[x0, y0], [x1, y1]])
    diagram.Construct()
    corners = diagram.GetVertices()
    vertices = np.column_stack(([v.X for v in corners], [v.Y for v in corners]))
    cells = diagram.GetCells()
    owner = np.array([c.site for c in cells], dtype=np.int64)
    category = np.array([c.source_category for c in cells], dtype=np.int64)
    return vertices, owner, category, *_halves(diagram, cells)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Keep the collector of cycles still: it would walk over thousands of lists, none of them one.

    It made reading a diagram a fifth slower.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _halves(diagram: Any, cells: list[Any]) -> tuple[_Ints, _Ints]:
    """Return of each half edge the vertex it starts from (-1 for none) and its cell."""
    edges = [c.edges for c in cells]
    runs = [c.vertices[:-1] for c in cells]
    sizes = np.fromiter(map(len, edges), np.int64, len(edges))
    mine = np.fromiter(chain.from_iterable(edges), np.int64, int(sizes.sum()))
    start = np.full(len(mine), -1, dtype=np.int64)
    cell = np.empty(len(mine), dtype=np.int64)
    cell[mine] = np.repeat(np.arange(len(cells)), sizes)
    if sum(map(len, runs)) == len(mine):
        start[mine] = np.fromiter(chain.from_iterable(runs), np.int64, len(mine))
        if _paired(mine, sizes, start):
            return start, cell
    halves = [diagram.GetEdge(e) for e in range(len(mine))]
    twin = np.array([h.twin for h in halves], dtype=np.int64)
    first = np.flatnonzero(np.arange(len(mine)) < twin)
    order = np.column_stack((first, twin[first])).ravel()
    start = np.array([h.start for h in halves], dtype=np.int64)
    return start[order], cell[order]


def _paired(mine: _Ints, sizes: _Ints, start: _Ints) -> bool:
    """Whether the half edges 2k and 2k + 1 run between the same vertices, in opposite ways."""
    after = np.arange(1, len(mine) + 1)
    stops = np.cumsum(sizes)
    filled = sizes > 0
    after[stops[filled] - 1] = (stops - sizes)[filled]
    end = np.empty(len(mine), dtype=np.int64)
    end[mine] = start[mine[after]]
    return bool((end == start[np.arange(len(mine)) ^ 1]).all())


def _touch(sites: _Floats, is_end: NDArray[np.bool_], pairs: _Ints) -> NDArray[np.bool_]:
    """Tell which pairs of sites are a segment and one of its own ends."""
    a, b = pairs[:, 0], pairs[:, 1]
    mixed = is_end[a] != is_end[b]
    point = np.where(is_end[a], a, b)
    segment = np.where(is_end[a], b, a)
    at = sites[point, :2]
    meets = (at == sites[segment, :2]).all(axis=1) | (at == sites[segment, 2:]).all(axis=1)
    touching: NDArray[np.bool_] = mixed & meets
    return touching
