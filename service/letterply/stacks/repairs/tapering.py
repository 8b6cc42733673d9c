"""Growth that fades: how far the outline moves beside thin parts, and on into wide ones.

On the medial axis a thin stroke lacks some of half the limit. That much is added there, and it is
handed on along the outline, falling by `SLOPE`, into whatever is wide: the outline moves out by no
step, the swelling of a pen stays a swelling, and a stem that a thin stroke runs into swells on the
side of that stroke alone. Where the width itself falls faster than `CROTCH_SLOPE`, two strokes
touch or a corner begins: such a dip is filled to the limit and hands nothing on. All mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from letterply.shapes import LEAST_DIVISOR, MedialAxis, Region, ThinRuns, as_lines, outline_index

__all__ = ["CROTCH_SLOPE", "SLOPE", "Taper", "faded", "handed_on", "tapered"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

SLOPE = 1 / 8
"""How much less the outline moves, on either side, a millimetre further along the stroke; common
practice, no source."""

_BEYOND = 2.0
"""How fast what a stroke lacks is lost on an outline away from the disc that touches it."""

_TOUCHES = 1.25
"""How far, in its radii, the outline may lie from the middle of a disc that touches it."""

_CORNER_RAD = math.radians(45)
"""What turns outward by more is the corner of an end or a serif: growth does not go round it."""

_TO_CORNER = 0.5
"""How steeply it falls towards such a corner."""

_FAR_MM = 1e3

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
        need: (n,) float64, by how much it falls short of half the limit, dips aside.
        dips: (n,) bool, where it falls short in a dip: beside what it runs into, or in a pinch.
        growth: (n,) float64, by how much the outline moves on either side at most.

    """

    points: _Floats
    edges: _Ints
    radii: _Floats
    need: _Floats
    dips: NDArray[np.bool_]
    growth: _Floats

    def extent(self, least_mm: float) -> BaseGeometry:
        """Return where more than that may be added, as lines along the axis."""
        grows = self.growth > least_mm
        edges = self.edges[grows[self.edges].all(axis=1)]
        return as_lines(self.points[edges])

    def needs_at(self, places: _Floats, limit_mm: float) -> _Floats:
        """Return by how much the stroke falls short at places (k, 2) of its outline, (k,) mm."""
        short = self.need > 0
        found = np.zeros(len(places))
        if not short.any():
            return found
        near = cKDTree(places).sparse_distance_matrix(
            cKDTree(self.points[short]), limit_mm, output_type="coo_matrix"
        )
        beyond = near.data - self.radii[short][near.col]
        np.maximum.at(found, near.row, self.need[short][near.col] - _BEYOND * beyond)
        return found

    def in_dips(self, places: _Floats) -> NDArray[np.bool_]:
        """Tell which places (k, 2) of the outline lie beside a dip."""
        if not self.dips.any():
            return np.zeros(len(places), dtype=bool)
        away, nearest = cKDTree(self.points[self.dips]).query(places)
        found: NDArray[np.bool_] = away <= _TOUCHES * self.radii[self.dips][nearest]
        return found

    def dead_ends(self) -> tuple[_Floats, _Floats, _Floats]:
        """Return the dead ends of strokes: points (k, 2), ways they point (k, 2), radii (k,)."""
        degree = np.bincount(self.edges.ravel(), minlength=len(self.points))
        last = np.flatnonzero((degree[self.edges] == 1).any(axis=1))
        edges = self.edges[last]
        first = degree[edges[:, 0]] == 1
        tip = np.where(first, edges[:, 0], edges[:, 1])
        ahead = self.points[tip] - self.points[np.where(first, edges[:, 1], edges[:, 0])]
        long = np.hypot(*ahead.T)
        real = long > LEAST_DIVISOR
        return self.points[tip[real]], ahead[real] / long[real, None], self.radii[tip[real]]


def faded(
    taper: Taper,
    before: Region,
    after: Region,
    limit_mm: float,
    step_mm: float,
    tolerance_mm: float,
) -> list[tuple[_Floats, _Floats]]:
    """Return what lets growth fade out, as chains of discs: points (n, 2) on the outline, radii.

    Args:
        taper: what strokes lack.
        before: the outline.
        after: the outline with the limit reached.
        limit_mm: width that strokes have there.
        step_mm: how far apart discs lie at most.
        tolerance_mm: how far chords may stray from the outline, radii no more than that.

    """
    found: list[tuple[_Floats, _Floats]] = []
    index = outline_index(after)
    for ring in shapely.get_rings(shapely.get_parts(before)).tolist():
        points = shapely.get_coordinates(shapely.segmentize(ring, step_mm))
        moved, _ = index.nearest(points[:-1])
        own = np.minimum(moved, taper.needs_at(points[:-1], limit_mm))
        if not own.max() > tolerance_mm:
            continue
        steps = np.hypot(*np.diff(points, axis=0).T)
        # In a dip nothing is lost: it is filled to the limit, and what it runs into comes after.
        dip = taper.in_dips(points)
        corner = _turns(points) > _CORNER_RAD
        barred = np.where(corner | np.roll(corner, -1), _FAR_MM, steps)
        own[corner] = 0.0
        grown = handed_on(own, np.where(dip[:-1] & dip[1:], 0.0, barred))
        to_corner = -handed_on(np.where(corner, 0.0, -_FAR_MM), steps, _TO_CORNER)
        grown = np.minimum(grown, np.maximum(to_corner, own))
        grown[_at_thin_end(points[:-1], taper, limit_mm)] = 0.0
        radii = np.append(grown, grown[0])
        some = radii > tolerance_mm
        along = np.concatenate(([0.0], np.cumsum(steps)))
        for first, last in _stretches(some):
            stretch = slice(first, last + 1)
            if last == first:
                continue
            kept = _bends(points[stretch], tolerance_mm) | _bends(
                np.column_stack((along[stretch], radii[stretch])), tolerance_mm
            )
            found.append((points[stretch][kept], radii[stretch][kept]))
    return found


def _turns(points: _Floats) -> _Floats:
    """Return by how much a closed ring turns at each of its points, to the left, radians."""
    ways = np.diff(points, axis=0)
    before = np.roll(ways, 1, axis=0)
    cross = before[:, 0] * ways[:, 1] - before[:, 1] * ways[:, 0]
    turns: _Floats = np.arctan2(cross, np.einsum("ij,ij->i", before, ways))
    return turns


def handed_on(values: _Floats, steps: _Floats, slope: float = SLOPE) -> _Floats:
    """Return the least values not below these that fall by no more than a slope round a ring.

    Args:
        values: (n,) float64, at its points.
        steps: (n,) float64, from each point to the next, from the last to the first.
        slope: how much less a millimetre on.

    """
    count = len(values)
    along = slope * np.concatenate(([0.0], np.cumsum(np.tile(steps, 2))[:-1]))
    twice = np.tile(values, 2)
    onward = np.maximum.accumulate(twice + along) - along
    back = np.maximum.accumulate((twice - along)[::-1])[::-1] + along
    handed: _Floats = np.maximum(onward[count:], back[:count])
    return handed


def _at_thin_end(places: _Floats, taper: Taper, limit_mm: float) -> NDArray[np.bool_]:
    """Tell which places of an outline go round the dead end of a thin stroke, which has its cap."""
    tips, ahead, radii = taper.dead_ends()
    thin = radii < limit_mm / 2
    tips, ahead = tips[thin], ahead[thin]
    away = places[:, None] - tips[None]
    near = np.hypot(away[..., 0], away[..., 1]) <= limit_mm
    beyond = np.einsum("ijk,jk->ij", away, ahead) > 0
    found: NDArray[np.bool_] = (near & beyond).any(axis=1)
    return found


def _stretches(some: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the first and last of each run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], some, [False])).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in edges.reshape(-1, 2)]


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
    dips = is_thin & (own > radius + tolerance_mm)
    return Taper(nodes, edges, radius, need, dips, _upper(need, edges, length, SLOPE))


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
