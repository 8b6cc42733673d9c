"""Growth that fades: how far the outline moves along each stroke, from thin parts into wide ones.

On the medial axis a thin stroke lacks some of half the limit. That much is added there, and what
is added fades out along the axis by `SLOPE` into whatever is wide: the outline moves out by no
step, and the swelling of a pen stays a swelling. Where the width itself falls faster than
`CROTCH_SLOPE`, two strokes touch or a corner begins: such a dip is filled to the limit and hands
nothing on to the strokes beside it. All mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from letterply.shapes import LEAST_DIVISOR, MedialAxis, ThinRuns

__all__ = ["CROTCH_SLOPE", "SLOPE", "Taper", "tapered"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

SLOPE = 1 / 8
"""How much less the outline moves, on either side, a millimetre further along the stroke; common
practice, no source."""

CROTCH_SLOPE = math.sin(math.radians(20))
"""How fast half the width of a stroke may change: its walls close under 40 degrees at most, as
with tips."""


@dataclass(frozen=True, slots=True, eq=False)
class Taper:
    """Growth along an axis, at its nodes.

    Attributes:
        points: (n, 2) float64, nodes, mm.
        edges: (m, 2) int64, pairs of nodes.
        radii: (n,) float64, distance to the outline.
        growth: (n,) float64, by how much the outline moves on either side.

    """

    points: _Floats
    edges: _Ints
    radii: _Floats
    growth: _Floats

    def chains(self, least_mm: float, tolerance_mm: float) -> list[tuple[_Floats, _Floats]]:
        """Return what grows to a radius above `least_mm`, as chains of points and radii.

        Chords stray by no more than the tolerance, radii by no more than twice. At a dead end no
        disc reaches farther than the form does.
        """
        wanted = self.radii + self.growth
        grows = (self.growth > tolerance_mm) & (wanted > least_mm + tolerance_mm)
        edges = self.edges[grows[self.edges].any(axis=1)]
        if not len(edges):
            return []
        degree = np.bincount(self.edges.ravel(), minlength=len(self.points))
        numbered = np.column_stack((self.points, np.arange(len(self.points))))
        merged = shapely.line_merge(shapely.MultiLineString(numbered[edges].tolist()))
        found = []
        for line in shapely.get_parts(merged).tolist():
            nodes = shapely.get_coordinates(line, include_z=True)[:, 2].astype(np.int64)
            points = self.points[nodes]
            steps = np.hypot(*np.diff(points, axis=0).T)
            along = np.concatenate(([0.0], np.cumsum(steps)))
            radii = wanted[nodes]
            if degree[nodes[0]] == 1:
                radii = np.minimum(radii, max(self.radii[nodes[0]], least_mm) + along)
            if degree[nodes[-1]] == 1:
                reach = max(self.radii[nodes[-1]], least_mm)
                radii = np.minimum(radii, reach + along[-1] - along)
            kept = _bends(points, tolerance_mm) | _bends(
                np.column_stack((along, radii)), tolerance_mm
            )
            found.append((points[kept], radii[kept]))
        return found


def _bends(points: _Floats, tolerance_mm: float) -> NDArray[np.bool_]:
    """Tell which points of a line it needs to stay within a tolerance."""
    numbered = np.column_stack((points, np.arange(len(points))))
    line = shapely.simplify(shapely.linestrings(numbered), tolerance_mm, preserve_topology=False)
    kept = np.zeros(len(points), dtype=bool)
    kept[shapely.get_coordinates(line, include_z=True)[:, 2].astype(np.int64)] = True
    return kept


def tapered(
    body: MedialAxis, thin: ThinRuns, limit_mm: float, step_mm: float, tolerance_mm: float
) -> Taper:
    """Return the growth of the strokes of an outline.

    Args:
        body: its peeled axis.
        thin: the thin part of it, dead ends drawn in.
        limit_mm: the width that strokes are to have: where `thin` ends.
        step_mm: how far apart nodes may lie.
        tolerance_mm: how far chords may stray from the axis.

    """
    wide_ends, wide_radii = _wide_pieces(body, limit_mm / 2, tolerance_mm)
    ends, radii = np.vstack((thin.ends, wide_ends)), np.vstack((thin.radii, wide_radii))
    none = np.zeros(len(ends), dtype=np.int64)
    marked = ThinRuns(ends, radii, (np.arange(len(ends)) < len(thin.ends)).astype(np.int64), none)
    runs = marked.split(step_mm)
    nodes, first, flat = np.unique(
        np.round(runs.ends.reshape(-1, 2), 6), axis=0, return_index=True, return_inverse=True
    )
    edges = flat.reshape(-1, 2).astype(np.int64)
    radius = runs.radii.ravel()[first]
    is_thin = np.zeros(len(nodes), dtype=bool)
    is_thin[edges[runs.zone == 1]] = True
    length = np.hypot(*(runs.ends[:, 1] - runs.ends[:, 0]).T)
    # What a stroke lacks, dips aside: its width is that of its neighbours, less what a stroke may.
    own = _upper(radius, edges, length, CROTCH_SLOPE)
    need = np.where(is_thin, np.maximum(limit_mm / 2 - own, 0.0), 0.0)
    return Taper(nodes, edges, radius, _upper(need, edges, length, SLOPE))


def _upper(values: _Floats, edges: _Ints, lengths: _Floats, slope: float) -> _Floats:
    """Return the least values not below these that fall by no more than a slope along edges."""
    top = float(values.max())
    count = len(values)
    # From a source over the top, each node is as far as it lies below, in lengths; a way of no
    # length would be none.
    start = (top - values) / slope + 1.0
    rows = np.concatenate((np.full(count, count), edges[:, 0]))
    columns = np.concatenate((np.arange(count), edges[:, 1]))
    ways = np.concatenate((start, np.maximum(lengths, LEAST_DIVISOR)))
    order = np.lexsort((ways, columns, rows))
    pairs = np.column_stack((rows, columns))[order]
    fresh = np.concatenate(([True], (np.diff(pairs, axis=0) != 0).any(axis=1)))
    rows, columns = pairs[fresh].T
    graph = coo_array((ways[order][fresh], (rows, columns)), shape=(count + 1, count + 1))
    far = np.asarray(dijkstra(graph.tocsr(), directed=False, indices=[count]))[0, :count]
    upper: _Floats = np.maximum(values, top - (far - 1.0) * slope)
    return upper


def _wide_pieces(axis: MedialAxis, half: float, tolerance_mm: float) -> tuple[_Floats, _Floats]:
    """Return what of an axis is not thin, as pieces: ends (n, 2, 2), radii (n, 2)."""
    points, at, starts, sizes = axis.sample(tolerance_mm)
    first = np.setdiff1d(np.arange(len(points)), starts + sizes - 1, assume_unique=True)
    ends = np.stack((points[first], points[first + 1]), axis=1)
    radii = np.column_stack((at[first], at[first + 1]))
    some = radii.max(axis=1) >= half
    ends, radii = ends[some], radii[some]
    thin = np.argmin(radii, axis=1)
    row = np.arange(len(ends))
    near, far = radii[row, thin], radii[row, 1 - thin]
    crossing = near < half
    share = np.where(crossing, (half - near) / np.maximum(far - near, LEAST_DIVISOR), 0.0)
    a, b = ends[row, thin], ends[row, 1 - thin]
    ends[row, thin] = a + (b - a) * share[:, None]
    radii[row, thin] = np.where(crossing, half, near)
    return ends, radii
