"""The thin part of a medial axis, as short straight runs without its dead ends.

What is thin is a set of *zones*: connected parts of a peeled axis on which the width 2 r is below
a limit. A zone has *exits*, where it widens past the limit, and *dead ends*, where the axis stops
at a tip, a corner or the blunt end of a stroke. Dead ends are drawn in until a disc round the last
point just reaches as far as the form itself does: discs along the runs make a form thicker, but
not longer. Twigs that do not reach that far vanish. All mm.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from letterply.shapes.medial.axis import MedialAxis
from letterply.shapes.tolerances import LEAST_DIVISOR

__all__ = ["ThinRuns", "thin_runs"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class ThinRuns:
    """Straight runs of the thin part of an axis.

    Attributes:
        ends: (n, 2, 2) float64, both ends of each run, mm; the same point twice for a zone that
            is a point.
        radii: (n, 2) float64, distance to the outline at both.
        zone: (n,) int64, which zone each run belongs to, counted from 0 without gaps.
        exits: (zones,) int64, how many exits each zone has.

    """

    ends: _Floats
    radii: _Floats
    zone: _Ints
    exits: _Ints

    def split(self, step_mm: float) -> ThinRuns:
        """Return the same runs, none longer than `step_mm`; radii grow evenly along a run."""
        length = np.hypot(*(self.ends[:, 1] - self.ends[:, 0]).T)
        counts = np.maximum(np.ceil(length / step_mm), 1).astype(np.int64)
        which = np.repeat(np.arange(len(counts)), counts)
        nth = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        low = (nth / counts[which])[:, None]
        high = ((nth + 1) / counts[which])[:, None]
        a, d = self.ends[which, 0], self.ends[which, 1] - self.ends[which, 0]
        r, dr = self.radii[which, :1], self.radii[which, 1:] - self.radii[which, :1]
        ends = np.stack((a + d * low, a + d * high), axis=1)
        return ThinRuns(
            ends, np.hstack((r + dr * low, r + dr * high)), self.zone[which], self.exits
        )

    def of(self, zones: Iterable[int]) -> ThinRuns:
        """Return the runs of some zones, counted anew."""
        wanted = np.array(sorted(zones), dtype=np.int64)
        mine = np.isin(self.zone, wanted)
        zone = np.searchsorted(wanted, self.zone[mine]).astype(np.int64)
        return ThinRuns(self.ends[mine], self.radii[mine], zone, self.exits[wanted])


def thin_runs(
    axis: MedialAxis,
    limit_mm: float,
    tolerance_mm: float,
    *,
    reach_mm: float,
    body: MedialAxis | None = None,
    tip_angle_deg: float = 40.0,
    short_mm: float | None = None,
) -> ThinRuns:
    """Return the zones of a peeled axis that are thinner than the limit.

    Args:
        axis: a peeled axis, on which zones are judged.
        limit_mm: width below which it is thin.
        tolerance_mm: how far runs may stray from the axis.
        reach_mm: dead ends are drawn in by this, less the radius that they have.
        body: the same axis peeled further: what runs are taken from; None for all of it.
        tip_angle_deg: a zone with one exit whose walls close under a wider angle is a corner and
            left out.
        short_mm: so is one that is shorter; None for the length of a tip of that angle.

    A whole piece that is thin keeps at least the point of its axis that is drawn in last.
    """
    ends, radii, crossing, edge = _thin_pieces(axis, limit_mm / 2, tolerance_mm)
    if not len(ends):
        return ThinRuns(ends, radii, edge, edge)
    nodes, flat = np.unique(np.round(ends.reshape(-1, 2), 6), axis=0, return_inverse=True)
    index = flat.reshape(-1, 2)
    loops = index[:, 0] == index[:, 1]
    ends, radii, index = ends[~loops], radii[~loops], index[~loops]
    crossing, edge = crossing[~loops], edge[~loops]
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    graph = coo_array((np.ones(len(index)), (index[:, 0], index[:, 1])), shape=(len(nodes),) * 2)
    _, label = connected_components(graph, directed=False)
    zone = np.asarray(label, dtype=np.int64)[index[:, 0]]
    is_exit = np.zeros(len(nodes), dtype=bool)
    is_exit[index[crossing]] = True
    exits = np.bincount(zone, weights=crossing.sum(axis=1))
    total = np.bincount(zone, weights=length)
    mean = np.bincount(zone, weights=length * radii.mean(axis=1)) / np.maximum(total, LEAST_DIVISOR)
    least = np.full(len(exits), np.inf)
    np.minimum.at(least, zone, radii.min(axis=1))
    rise = np.clip(2 * (mean - least) / np.maximum(total, LEAST_DIVISOR), 0, 1)
    blunt = 2 * np.degrees(np.arcsin(rise)) > tip_angle_deg
    if short_mm is None:
        short_mm = limit_mm / (2 * math.sin(math.radians(tip_angle_deg / 2)))
    corner = (exits == 1) & (blunt | (total < short_mm))
    mine = ~corner[zone]
    if body is not None:
        mine &= _shared(axis, body)[edge]
    ends, radii, index, zone = ends[mine], radii[mine], index[mine], zone[mine]
    kept, ends, radii = _drawn_in(index, ends, radii, is_exit, exits[zone] == 0, reach_mm)
    old, renumbered = np.unique(zone[kept], return_inverse=True)
    found = renumbered.astype(np.int64).reshape(-1)
    return ThinRuns(ends[kept], radii[kept], found, exits[old].astype(np.int64))


def _shared(axis: MedialAxis, body: MedialAxis) -> NDArray[np.bool_]:
    """Tell which edges of an axis another one, made from it, still has."""

    def named(a: MedialAxis) -> list[bytes]:
        ends = np.ascontiguousarray(a.points[a.edges]).reshape(-1, 4)
        names: list[bytes] = ends.view(f"V{4 * ends.itemsize}").ravel().tolist()
        return names

    kept = set(named(body))
    return np.array([name in kept for name in named(axis)], dtype=bool)


def _thin_pieces(
    axis: MedialAxis, half: float, tolerance_mm: float
) -> tuple[_Floats, _Floats, NDArray[np.bool_], _Ints]:
    """Return the thin part as pieces: ends (n, 2, 2), radii (n, 2), exits (n, 2), edges (n,)."""
    least, _ = axis.least_radii()
    rows = np.flatnonzero(least < half)
    part = MedialAxis(axis.points, axis.radii, axis.edges[rows], axis.kinds[rows], axis.sites[rows])
    points, at, starts, sizes = part.sample(tolerance_mm)
    if not len(points):
        none = np.empty(0, dtype=np.int64)
        return np.empty((0, 2, 2)), np.empty((0, 2)), np.empty((0, 2), dtype=bool), none
    first = np.setdiff1d(np.arange(len(points)), starts + sizes - 1, assume_unique=True)
    ends = np.stack((points[first], points[first + 1]), axis=1)
    radii = np.column_stack((at[first], at[first + 1]))
    edge = np.repeat(rows, sizes - 1)
    wide = radii >= half
    some = np.asarray(~wide.all(axis=1))
    ends, radii, wide, edge = ends[some], radii[some], wide[some], edge[some]
    crossing = np.asarray(wide.any(axis=1))
    near, far = radii.min(axis=1), radii.max(axis=1)
    share = np.where(crossing, (half - near) / np.maximum(far - near, LEAST_DIVISOR), 1.0)
    thin = np.argmin(radii, axis=1)
    row = np.arange(len(ends))
    a, b = ends[row, thin], ends[row, 1 - thin]
    cut = a + (b - a) * share[:, None]
    ends[row, 1 - thin] = np.where(crossing[:, None], cut, b)
    radii[row, 1 - thin] = np.where(crossing, half, radii[row, 1 - thin])
    return ends, radii, wide, edge


def _drawn_in(
    index: _Ints,
    ends: _Floats,
    radii: _Floats,
    is_exit: NDArray[np.bool_],
    closed: NDArray[np.bool_],
    reach_mm: float,
) -> tuple[NDArray[np.bool_], _Floats, _Floats]:
    """Draw dead ends in; return which runs are left, and their ends and radii.

    From every dead end the form reaches as far as its radius there. Runs are taken off from the
    end that reaches least, adding their length, until the reach is met; where they meet a part
    that goes on elsewhere, nothing more is taken.
    """
    count = len(is_exit)
    degree = np.bincount(index.ravel(), minlength=count)
    order = np.argsort(index.ravel(), kind="stable")
    first = np.searchsorted(index.ravel()[order], np.arange(count + 1))
    owner = order // 2
    radius = np.zeros(count)
    radius[index.ravel()] = radii.ravel()
    kept = np.ones(len(index), dtype=bool)
    ends, radii = ends.copy(), radii.copy()
    reach = radius.copy()
    queue = [(float(reach[v]), int(v)) for v in np.flatnonzero((degree == 1) & ~is_exit)]
    heapq.heapify(queue)
    while queue:
        so_far, leaf = heapq.heappop(queue)
        for run in owner[first[leaf] : first[leaf + 1]].tolist():
            if not kept[run]:
                continue
            side = int(index[run, 1] == leaf)
            far = int(index[run, 1 - side])
            length = math.dist(ends[run, 0], ends[run, 1])
            if so_far + length > reach_mm:
                share = max(reach_mm - so_far, 0.0) / length
                ends[run, side] += (ends[run, 1 - side] - ends[run, side]) * share
                radii[run, side] += (radii[run, 1 - side] - radii[run, side]) * share
                break
            degree[far] -= 1
            if degree[far] == 0 and closed[run] and not is_exit[far]:
                ends[run], radii[run] = ends[run, 1 - side], radii[run, 1 - side]
                break
            kept[run] = False
            reach[far] = max(reach[far], so_far + length)
            if degree[far] == 1 and not is_exit[far]:
                heapq.heappush(queue, (float(reach[far]), far))
            break
    return kept, ends, radii
