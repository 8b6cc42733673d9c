"""Where an axis is thin: connected zones of the medial axis whose width is under a limit.

A *zone* is a component of {2 r < limit} on a peeled axis. What it is follows from its *exits*,
the places where it widens past the limit:

    none         the whole piece (or gap) is thin
    one          a tip, or a blind stroke (outside: a blind slot, or a notch)
    two or more  a bridge: short, it is a neck, long, it is a thin stroke (outside: a channel)

Lengths are measured along the axis and cut off where the width passes the limit. The same code
serves the inside (necks, strokes) and the outside (slots, counters). All mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from letterply.shapes.medial import MedialAxis

__all__ = ["Zone", "thin_zones"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Zone:
    """A thin zone.

    Attributes:
        exits: how many places lead out of it into wider ones.
        length_mm: length of its axis.
        width_mm: least width.
        mean_width_mm: width averaged over the length.
        at: where it is narrowest.
        feet: the two points of the outline that are nearest there.
        tip_deg: for one exit, the angle under which the walls close: 2 asin(dr/ds).

    """

    exits: int
    length_mm: float
    width_mm: float
    mean_width_mm: float
    at: tuple[float, float]
    feet: tuple[tuple[float, float], tuple[float, float]]
    tip_deg: float


def thin_zones(axis: MedialAxis, limit_mm: float, tolerance_mm: float) -> tuple[Zone, ...]:
    """Return the zones of a peeled axis thinner than the limit, narrowest first."""
    half = limit_mm / 2
    least, where = axis.least_radii()
    low = np.flatnonzero(least < half)
    if not len(low):
        return ()
    ends, radii, owner = _short_edges(axis, low, tolerance_mm)
    inside = radii < half
    touched = inside.any(axis=1)
    ends, radii, owner, inside = ends[touched], radii[touched], owner[touched], inside[touched]
    index = _numbered(ends)
    # A node counts as thin only when it is: crossings end a zone.
    both = np.asarray(inside.all(axis=1))
    count = int(index.max()) + 1
    graph = coo_array((np.ones(both.sum()), (index[both, 0], index[both, 1])), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    thin_end = np.where(inside[:, 0], index[:, 0], index[:, 1])
    names, zone = np.unique(np.asarray(label)[thin_end], return_inverse=True)
    span = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    r_thin = np.where(inside[:, 0], radii[:, 0], radii[:, 1])
    r_far = np.where(inside[:, 0], radii[:, 1], radii[:, 0])
    share = np.where(both, 1.0, (half - r_thin) / np.maximum(r_far - r_thin, 1e-12))
    length = span * share
    mean_r = np.where(both, (radii[:, 0] + radii[:, 1]) / 2, (r_thin + half) / 2)

    def total(values: _Floats) -> list[float]:
        sums: list[float] = np.bincount(zone, values, len(names)).tolist()
        return sums

    # The narrowest edge of each zone, the first one where several are alike.
    order = np.lexsort((owner, least[owner], zone))
    narrowest = owner[order[np.searchsorted(zone[order], np.arange(len(names)))]]
    found = [
        _zone(axis, edge, least, where, int(exits), long, weight)
        for edge, exits, long, weight in zip(
            narrowest.tolist(),
            total((~both).astype(np.float64)),
            total(length),
            total(length * mean_r),
            strict=True,
        )
    ]
    return tuple(sorted(found, key=lambda z: (z.width_mm, z.at)))


def _numbered(ends: _Floats) -> NDArray[np.int64]:
    """Return numbers (k, 2) for ends (k, 2, 2): the same for ends in the same place."""
    grid = np.rint(ends.reshape(-1, 2) * 1e6).astype(np.int64)
    order = np.lexsort((grid[:, 1], grid[:, 0]))
    new = np.any(np.diff(grid[order], axis=0) != 0, axis=1)
    number = np.empty(len(grid), dtype=np.int64)
    number[order] = np.concatenate(([0], np.cumsum(new)))
    return number.reshape(-1, 2)


def _short_edges(
    axis: MedialAxis, rows: NDArray[np.int64], tolerance_mm: float
) -> tuple[_Floats, _Floats, NDArray[np.int64]]:
    """Return the edges as short straight runs: ends (k, 2, 2), radii (k, 2), their edge (k,).

    Edges that touch a thin one belong too: they carry the zone out to the limit.
    """
    thin_nodes = np.zeros(len(axis.points), dtype=bool)
    thin_nodes[axis.edges[rows].ravel()] = True
    near = np.flatnonzero(thin_nodes[axis.edges].any(axis=1))
    part = MedialAxis(axis.points, axis.radii, axis.edges[near], axis.kinds[near], axis.sites[near])
    points, radii, starts, sizes = part.sample(tolerance_mm)
    first = np.setdiff1d(np.arange(len(points)), starts + sizes - 1, assume_unique=True)
    which = np.repeat(np.arange(len(near)), sizes - 1)
    ends = np.stack((points[first], points[first + 1]), axis=1)
    return ends, np.column_stack((radii[first], radii[first + 1])), near[which]


def _zone(
    axis: MedialAxis,
    edge: int,
    least: _Floats,
    where: _Floats,
    exits: int,
    length: float,
    weight: float,
) -> Zone:
    at = where[edge]
    mean = weight / max(length, 1e-12)
    # Near a tip the radius falls evenly: dr/ds over the whole zone.
    rise = float(2 * (mean - least[edge]) / max(length, 1e-12))
    tip = 2 * np.degrees(np.arcsin(min(max(rise, 0.0), 1.0)))
    feet = tuple(_foot(axis.sites[edge, k], at) for k in (0, 1))
    return Zone(
        exits=exits,
        length_mm=length,
        width_mm=float(2 * least[edge]),
        mean_width_mm=2 * mean,
        at=(float(at[0]), float(at[1])),
        feet=(feet[0], feet[1]),
        tip_deg=float(tip) if exits == 1 else 180.0,
    )


def _foot(site: _Floats, at: _Floats) -> tuple[float, float]:
    a, d = site[:2], site[2:] - site[:2]
    squared = float(d @ d)
    t = float(np.clip((at - a) @ d / squared, 0, 1)) if squared else 0.0
    foot = a + t * d
    return float(foot[0]), float(foot[1])
