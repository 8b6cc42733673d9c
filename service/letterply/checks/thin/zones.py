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

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from letterply.shapes import LEAST_DIVISOR, MedialAxis, peeled

__all__ = ["Cut", "Feet", "Zone", "even_edges", "narrowest_cuts", "spread_cuts", "thin_zones"]

_Floats = NDArray[np.float64]

Feet = tuple[tuple[float, float], tuple[float, float]]
"""The two points of an outline on either side of a place of its axis."""

_SAME_WIDTH = 0.005
"""Share by which the ends of an edge may differ and still be a run of one width."""


_SPREAD = 16
"""How many cuts are spread over a piece that is thin throughout."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A line across the ink, from wall to wall.

    Attributes:
        feet: its ends.
        width_mm: how wide the ink is there.

    """

    feet: Feet
    width_mm: float


@dataclass(frozen=True, slots=True)
class Zone:
    """A thin zone.

    Attributes:
        exits: how many places lead out of it into wider ones.
        length_mm: length of its axis.
        width_mm: least width, tips left out where there is anything else: what tapers away to a
            point in passing does not make a stroke as thin as a point. Of what does nothing but
            taper away from its middle, the width there.
        mean_width_mm: width averaged over the length.
        at: where it is narrowest.
        cuts: where a break across it is to be looked for, the narrowest place first.
        along: cuts spread over its length.
        tip_deg: for one exit, the angle under which the walls close: 2 asin(dr/ds).

    """

    exits: int
    length_mm: float
    width_mm: float
    mean_width_mm: float
    at: tuple[float, float]
    cuts: tuple[Cut, ...]
    tip_deg: float
    along: tuple[Cut, ...] = ()

    @property
    def feet(self) -> Feet:
        """The two points of the outline that are nearest where it is narrowest."""
        return self.cuts[0].feet

    @property
    def extent_mm(self) -> float:
        """Its length, with the half width by which a blind end goes on beyond the axis."""
        return self.length_mm + (self.width_mm / 2 if self.exits == 1 else 0.0)

    def is_corner(self, limit_mm: float, tip_angle_deg: float) -> bool:
        """Whether a zone with one exit is no more than a plain corner: too blunt or too short.

        Too short is what a tip of this angle would not reach.
        """
        if self.exits != 1:
            return False
        least = limit_mm / (2 * math.sin(math.radians(tip_angle_deg / 2)))
        return self.tip_deg > tip_angle_deg or self.extent_mm < least


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
    if not touched.any():  # thinner between its ends by less than the tolerance
        return ()
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
    share = np.where(both, 1.0, (half - r_thin) / np.maximum(r_far - r_thin, LEAST_DIVISOR))
    length = span * share
    mean_r = np.where(both, (radii[:, 0] + radii[:, 1]) / 2, (r_thin + half) / 2)

    def total(values: _Floats) -> list[float]:
        sums: list[float] = np.bincount(zone, values, len(names)).tolist()
        return sums

    lengths, weights = total(length), total(length * mean_r)
    exits = total((~both).astype(np.float64))
    tips = _is_tip(index, radii, both, zone, len(names), 2 * tolerance_mm)
    first = _narrowest(axis, least, owner, tips, zone)
    narrowest = owner[first]
    at, widths = where[narrowest], 2 * least[narrowest]
    for k in np.flatnonzero((np.array(exits) == 0) & tips[first]).tolist():
        # It only tapers away from its middle: that is as wide as it is.
        rows = np.flatnonzero(zone == k)
        row, end = divmod(int(np.argmax(radii[rows])), 2)
        narrowest[k], at[k] = owner[rows[row]], ends[rows[row], end]
        widths[k] = 2 * radii[rows[row], end]
    along = [spread_cuts(axis, np.unique(owner[zone == k])) for k in range(len(names))]
    cuts = narrowest_cuts(axis, narrowest, at)
    for k in np.flatnonzero(np.array(exits) == 0).tolist():
        cuts[k] += along[k]
    found = [
        Zone(
            exits=int(exits[k]),
            length_mm=lengths[k],
            width_mm=width,
            mean_width_mm=2 * weights[k] / lengths[k] if lengths[k] > 0 else width,
            at=(x, y),
            cuts=cuts[k],
            tip_deg=_tip(width / 2, weights[k], lengths[k]) if exits[k] == 1 else 180.0,
            along=along[k],
        )
        for k, (width, (x, y)) in enumerate(zip(widths.tolist(), at.tolist(), strict=True))
    ]
    return tuple(sorted(found, key=lambda z: (z.width_mm, z.at)))


def _narrowest(
    axis: MedialAxis,
    least: _Floats,
    owner: NDArray[np.int64],
    tips: NDArray[np.bool_],
    zone: NDArray[np.int64],
) -> NDArray[np.int64]:
    """Return the narrowest run of each zone that is no tip; of several alike an even one first."""
    uneven = ~even_edges(axis)
    order = np.lexsort((owner, uneven[owner], np.round(least[owner], 6), tips, zone))
    first: NDArray[np.int64] = order[np.searchsorted(zone[order], np.arange(zone.max() + 1))]
    return first


def _is_tip(
    index: NDArray[np.int64],
    radii: _Floats,
    both: NDArray[np.bool_],
    zone: NDArray[np.int64],
    count: int,
    pointed_mm: float,
) -> NDArray[np.bool_]:
    """Tell which runs only taper away to a point; where a zone has no others, none of them.

    A zone with one exit and nothing but such runs is one tip, which is judged by its end.
    """
    at_node = np.empty(int(index.max()) + 1)
    at_node[index.ravel()] = radii.ravel()
    alive, _ = peeled(index, at_node, both, at_node < pointed_mm)
    inner = np.bincount(zone[alive & both], minlength=count) > 0
    exits = np.bincount(zone[~both], minlength=count)
    tips: NDArray[np.bool_] = ~alive & (inner | (exits != 1))[zone]
    return tips


def _tip(least_r: float, weight: float, length: float) -> float:
    """Return the angle of a tip: near it the radius falls evenly, dr/ds over the whole zone."""
    length = max(length, LEAST_DIVISOR)
    rise = 2 * (weight / length - least_r) / length
    return 2 * math.degrees(math.asin(min(max(rise, 0.0), 1.0)))


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


def even_edges(axis: MedialAxis) -> NDArray[np.bool_]:
    """Tell which edges are as wide at one end as at the other, as between parallel walls."""
    radii = axis.radii[axis.edges]
    even: NDArray[np.bool_] = np.ptp(radii, axis=1) <= _SAME_WIDTH * radii.min(axis=1)
    return even


def narrowest_cuts(
    axis: MedialAxis, edges: NDArray[np.int64], at: _Floats
) -> list[tuple[Cut, ...]]:
    """Return the cuts at the narrowest places of zones: one each, or two.

    A second one is at the far end of an edge that is as wide there, so that chance chose the
    place: a load bends a stroke of one width most where its lever is longest.

    Args:
        axis: the axis.
        edges: (k,) the edges that the places are on.
        at: (k, 2) float64, the places.

    """
    even = even_edges(axis)[edges]
    places = axis.points[axis.edges[edges]]
    away = np.hypot(*(places - at[:, None]).transpose(2, 0, 1))
    far = places[np.arange(len(edges)), away.argmax(axis=1)]
    near_feet, far_feet = (_feet(axis.sites[edges], place) for place in (at, far))
    width = (2 * _foot_distance(axis.sites[edges, 0], at)).tolist()
    return [
        (Cut(near, w), Cut(other, w)) if both else (Cut(near, w),)
        for near, other, w, both in zip(near_feet, far_feet, width, even.tolist(), strict=True)
    ]


def spread_cuts(axis: MedialAxis, edges: NDArray[np.int64]) -> tuple[Cut, ...]:
    """Return cuts spread evenly over some edges of an axis; none where they have no length."""
    lengths = axis.lengths()[edges]
    total = float(lengths.sum())
    if not total:
        return ()
    ends = np.cumsum(lengths)
    along = (np.arange(_SPREAD) + 0.5) / _SPREAD * total
    which = np.searchsorted(ends, along).clip(0, len(edges) - 1)
    share = 1 - (ends[which] - along) / np.maximum(lengths[which], LEAST_DIVISOR)
    a, b = axis.edges[edges[which]].T
    at = axis.points[a] + (axis.points[b] - axis.points[a]) * share[:, None]
    sites = axis.sites[edges[which]]
    width = _foot_distance(sites[:, 0], at) + _foot_distance(sites[:, 1], at)
    return tuple(Cut(f, w) for f, w in zip(_feet(sites, at), width.tolist(), strict=True))


def _foot_distance(sites: _Floats, at: _Floats) -> _Floats:
    a, d = sites[:, :2], sites[:, 2:] - sites[:, :2]
    squared = np.einsum("ij,ij->i", d, d)
    t = np.einsum("ij,ij->i", at - a, d) / np.where(squared > 0, squared, 1)
    away = a + np.clip(t, 0, 1)[:, None] * d - at
    distance: _Floats = np.hypot(away[:, 0], away[:, 1])
    return distance


def _feet(sites: _Floats, at: _Floats) -> list[Feet]:
    a, d = sites[..., :2], sites[..., 2:] - sites[..., :2]
    squared = np.einsum("ijk,ijk->ij", d, d)
    t = np.einsum("ijk,ijk->ij", at[:, None] - a, d) / np.where(squared > 0, squared, 1)
    feet = a + np.clip(t, 0, 1)[..., None] * d
    return [((x0, y0), (x1, y1)) for (x0, y0), (x1, y1) in feet.tolist()]
