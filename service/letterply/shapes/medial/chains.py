"""A medial axis in, few long chains of points and radii out: what a tool can follow. All mm."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from letterply.shapes.medial.axis import MedialAxis

__all__ = ["axis_chains"]

_Floats = NDArray[np.float64]


def axis_chains(axis: MedialAxis, tolerance_mm: float) -> list[tuple[_Floats, _Floats]]:
    """Return the axis as few long chains of points and radii, every edge in one of them."""
    points, radii, starts, sizes = axis.sample(tolerance_mm)
    degree = np.bincount(axis.edges.ravel(), minlength=len(axis.points))
    order = np.argsort(axis.edges.ravel(), kind="stable")
    first = np.searchsorted(axis.edges.ravel()[order], np.arange(len(axis.points) + 1))
    owner = order // 2
    used = np.zeros(len(axis.edges), dtype=bool)
    found: list[tuple[_Floats, _Floats]] = []

    def run(edge: int, frm: int) -> tuple[_Floats, _Floats, int]:
        rows = slice(int(starts[edge]), int(starts[edge] + sizes[edge]))
        p, r = points[rows], radii[rows]
        if axis.edges[edge, 0] != frm:
            p, r = p[::-1], r[::-1]
        to = int(axis.edges[edge].sum() - frm)
        return p, r, to

    # Leaves first, so that chains are long; what is left then is loops.
    seeds = [*np.flatnonzero(degree == 1).tolist(), *np.flatnonzero(degree > 2).tolist(),
             *np.flatnonzero(degree == 2).tolist()]  # fmt: skip
    for seed in seeds:
        while True:
            free = [int(e) for e in owner[first[seed] : first[seed + 1]] if not used[e]]
            if not free:
                break
            at = seed
            ps: list[_Floats] = []
            rs: list[_Floats] = []
            heading: _Floats | None = None
            while free:
                edge = _straightest(axis, free, at, heading)
                used[edge] = True
                p, r, to = run(edge, at)
                ps.append(p if not ps else p[1:])
                rs.append(r if not rs else r[1:])
                heading = p[-1] - p[-2]
                at = to
                free = [int(e) for e in owner[first[at] : first[at + 1]] if not used[e]]
            found.append((np.vstack(ps), np.concatenate(rs)))
    return found


def _straightest(axis: MedialAxis, free: list[int], at: int, heading: _Floats | None) -> int:
    """Return the edge that goes on most nearly straight."""
    if heading is None or len(free) == 1:
        return free[0]
    best, best_cos = free[0], -2.0
    for edge in free:
        far = int(axis.edges[edge].sum() - at)
        way = axis.points[far] - axis.points[at]
        norm = float(np.hypot(*way) * np.hypot(*heading))
        cos = float(way @ heading) / norm if norm else -1.0
        if cos > best_cos:
            best, best_cos = edge, cos
    return best
