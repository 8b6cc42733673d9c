"""Thinness as a function of the limit: what is thin at any size, from one reading of the axis.

`letterply.checks.thinness.thin_zones` says which zones of an axis lie under one limit. Here the
limit runs from nought upwards: zones arise where the radius is least, grow, meet and become one.
A *spell* is a zone over the range of limits in which its narrowest place and its exits stay the
same. A shape at another size, or a material with another limit, is the same axis under another
limit, so every question of that sort is answered from the spells.

The radius along an edge of the axis has no maximum inside it, so an edge split at its minimum
runs one way, and the zones under a limit are the components of a graph of nodes: one pass over
the nodes by radius finds all of them (a merge tree). All mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.shapes.medial import BISECTOR, PARABOLA, MedialAxis

__all__ = ["Ramp", "Spell", "find_spells"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_SHORTEST = 1.001
"""A spell whose limits differ by less than this ratio is the noise of flattened curves."""

_STEPS = 6
"""Points of a ramp between two nodes."""

_RAMP_REACH = 5.0
"""A zone with one exit is a tip, and no stroke, above this many of its widths: see `necks`."""


@dataclass(frozen=True, slots=True, eq=False)
class Ramp:
    """How a zone with one exit grows.

    Attributes:
        limits_mm: (k,) float64, ascending.
        lengths_mm: (k,) float64, length of its axis at each limit.
        widths_mm: (k,) float64, mean width at each limit.

    """

    limits_mm: _Floats
    lengths_mm: _Floats
    widths_mm: _Floats


@dataclass(frozen=True, slots=True)
class Spell:
    """A zone over a range of limits.

    Attributes:
        low_mm, high_mm: it is there for limits above the one up to the other; infinite for what
            is left when all is thin.
        width_mm: least width.
        exits: how many places lead out of it.
        at: where it is narrowest.
        feet: the two points of the outline that are nearest there.
        ramp: for one exit and a width above nought, how it grows; else None.

    """

    low_mm: float
    high_mm: float
    width_mm: float
    exits: int
    at: tuple[float, float]
    feet: tuple[tuple[float, float], tuple[float, float]]
    ramp: Ramp | None = None


@dataclass(slots=True)
class _Zone:
    """A component while the pass runs."""

    birth: int
    low: float
    length: float
    weight: float
    crossing: set[int]
    rows: list[tuple[float, int, float, float]]


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """Edges split at their least radius: runs from a lower to a higher node."""

    radii: _Floats
    points: _Floats
    low: _Ints
    high: _Ints
    edge: _Ints
    lengths: _Floats
    kinds: NDArray[np.int8]
    heights: _Floats


def find_spells(axis: MedialAxis) -> tuple[Spell, ...]:
    """Return the spells of a peeled axis by the limit at which they begin; none for no axis."""
    if not len(axis.edges):
        return ()
    runs = _split(axis)
    spells: list[tuple[float, float, int, int, list[tuple[float, int, float, float]]]] = []
    for zone, high in _pass(runs):
        exits = len(zone.crossing)
        if high >= zone.low * _SHORTEST:
            spells.append((zone.low, high, zone.birth, exits, list(zone.rows)))
    edge_of = np.full(len(runs.radii), -1, dtype=np.int64)
    for ends in (runs.high[::-1], runs.low[::-1]):
        edge_of[ends] = runs.edge[::-1]
    births = np.array([s[2] for s in spells], dtype=np.int64)
    at = runs.points[births]
    feet = np.stack([_feet(axis.sites[edge_of[births], k], at) for k in (0, 1)], axis=1)
    found = [
        Spell(
            low_mm=2 * low,
            high_mm=2 * high,
            width_mm=2 * float(runs.radii[birth]),
            exits=exits,
            at=(x, y),
            feet=((first[0], first[1]), (second[0], second[1])),
            ramp=_ramp(runs, rows, high, float(runs.radii[birth])) if exits == 1 else None,
        )
        for (low, high, birth, exits, rows), (x, y), (first, second) in zip(
            spells, at.tolist(), feet.tolist(), strict=True
        )
    ]
    return tuple(sorted(found, key=lambda s: (s.low_mm, s.width_mm, s.at)))


def _split(axis: MedialAxis) -> _Runs:
    start, end = axis.edges[:, 0], axis.edges[:, 1]
    least, where, every = axis.dips()
    dip = np.flatnonzero((least < axis.radii[start] - 1e-12) & (least < axis.radii[end] - 1e-12))
    middle = len(axis.points) + np.arange(len(dip))
    radii = np.concatenate((axis.radii, least[dip]))
    points = np.vstack((axis.points, where[dip]))
    whole = np.ones(len(axis.edges), dtype=bool)
    whole[dip] = False
    edge = np.concatenate((np.flatnonzero(whole), dip, dip))
    low = np.concatenate((start[whole], middle, middle))
    high = np.concatenate((end[whole], start[dip], end[dip]))
    turned = radii[low] > radii[high]
    low, high = np.where(turned, high, low), np.where(turned, low, high)
    kinds, heights = axis.kinds[edge], every[edge]
    lengths = _along(kinds, heights, radii[low], radii[high])
    straight = np.hypot(*(points[high] - points[low]).T)
    return _Runs(
        radii, points, low, high, edge, np.where(kinds == PARABOLA, lengths, straight), kinds,
        heights,
    )  # fmt: skip


def _along(kinds: NDArray[np.int8], h: _Floats, low: _Floats, high: _Floats) -> _Floats:
    """Return the length of a curved edge between two radii; nought for straight ones.

    Parabola r = (t² + h²) / 2h: the arc from its apex to t is
    (t sqrt(1 + (t/h)²) + h asinh(t/h)) / 2. Bisector r² = t² + h²: straight, the length is t.
    """
    h = np.maximum(h, 1e-12)

    def upto(r: _Floats) -> _Floats:
        bent = np.sqrt(np.maximum(2 * h * r - h * h, 0))
        arc = (bent * np.sqrt(1 + (bent / h) ** 2) + h * np.arcsinh(bent / h)) / 2
        flat = np.sqrt(np.maximum(r * r - h * h, 0))
        return np.where(kinds == PARABOLA, arc, np.where(kinds == BISECTOR, flat, 0.0))

    return upto(high) - upto(low)


def _pass(runs: _Runs) -> list[tuple[_Zone, float]]:
    """Return every zone with the radius at which it ends or changes, in order."""
    order = np.argsort(runs.radii, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    turned = rank[runs.low] > rank[runs.high]
    low = np.where(turned, runs.high, runs.low).tolist()
    high = np.where(turned, runs.low, runs.high).tolist()
    up: list[list[int]] = [[] for _ in order]
    down: list[list[int]] = [[] for _ in order]
    for run, (a, b) in enumerate(zip(low, high, strict=True)):
        up[a].append(run)
        down[b].append(run)
    radii, places = runs.radii.tolist(), rank.tolist()
    lengths = runs.lengths.tolist()
    home: list[_Zone | None] = [None] * len(order)
    joined: dict[int, _Zone] = {}
    ended: list[tuple[_Zone, float]] = []

    def zone_of(node: int) -> _Zone:
        zone = home[node]
        assert zone is not None  # the lower end of a run is always visited first
        while id(zone) in joined:
            zone = joined[id(zone)]
        home[node] = zone
        return zone

    living: list[_Zone] = []
    for node in order.tolist():
        r = radii[node]
        coming, leaving = down[node], up[node]
        if not coming:
            zone = _Zone(node, r, 0.0, 0.0, set(leaving), [])
            living.append(zone)
        elif len(coming) == len(leaving) == 1:  # nearly every node: the zone goes on
            (run,), (after,) = coming, leaving
            zone = zone_of(low[run])
            zone.crossing.remove(run)
            zone.crossing.add(after)
            zone.length += lengths[run]
            zone.weight += lengths[run] * (radii[low[run]] + r) / 2
        else:
            met = {id(z): z for z in (zone_of(low[run]) for run in coming)}
            zone = min(met.values(), key=lambda z: places[z.birth])
            before = len(zone.crossing)
            if len(met) > 1:
                ended.extend((_snapshot(other), r) for other in met.values())
                for other in met.values():
                    if other is not zone:
                        joined[id(other)] = zone
                        zone.length += other.length
                        zone.weight += other.weight
                        zone.crossing |= other.crossing
            zone.crossing.difference_update(coming)
            zone.crossing.update(leaving)
            if len(met) == 1 and len(zone.crossing) != before:
                was = _snapshot(zone)
                was.crossing.difference_update(leaving)
                was.crossing.update(coming)
                ended.append((was, r))
            if len(met) > 1 or len(zone.crossing) != before:
                zone.low = r
                zone.rows = []
            for run in coming:
                zone.length += lengths[run]
                zone.weight += lengths[run] * (radii[low[run]] + r) / 2
        if len(zone.crossing) == 1:
            (run,) = zone.crossing
            zone.rows.append((r, run, zone.length, zone.weight))
        home[node] = zone
    ended.extend((z, math.inf) for z in living if id(z) not in joined)
    return ended


def _snapshot(zone: _Zone) -> _Zone:
    return _Zone(
        zone.birth, zone.low, zone.length, zone.weight, set(zone.crossing), list(zone.rows)
    )


def _ramp(
    runs: _Runs, rows: list[tuple[float, int, float, float]], high: float, least: float
) -> Ramp | None:
    """Return the ramp of a zone, up to the limit above which it is a tip."""
    top = min(high, _RAMP_REACH * least)
    rows = [row for row in rows if row[0] < top]
    if least < 1e-6 or not rows:
        return None
    starts = np.array([row[0] for row in rows])
    stops = np.append(starts[1:], top)
    share = np.linspace(0, 1, _STEPS + 1)[1:]
    r = (starts[:, None] + (stops - starts)[:, None] * share).ravel()
    which = np.repeat(np.arange(len(rows)), _STEPS)
    run = np.array([row[1] for row in rows])[which]
    base = runs.radii[runs.low[run]]
    far = runs.radii[runs.high[run]]
    base, far = np.minimum(base, far), np.maximum(base, far)
    straight = runs.lengths[run] * (r - base) / np.maximum(far - base, 1e-12)
    curved = _along(runs.kinds[run], runs.heights[run], base, r)
    extra = np.where(
        (runs.kinds[run] == PARABOLA) | (runs.kinds[run] == BISECTOR), curved, straight
    )
    extra = np.clip(extra, 0, runs.lengths[run])
    length = np.array([row[2] for row in rows])[which] + extra
    weight = np.array([row[3] for row in rows])[which] + extra * (base + r) / 2
    return Ramp(2 * r, length, 2 * weight / np.maximum(length, 1e-12))


def _feet(sites: _Floats, at: _Floats) -> _Floats:
    a, d = sites[:, :2], sites[:, 2:] - sites[:, :2]
    squared = np.einsum("ij,ij->i", d, d)
    t = np.einsum("ij,ij->i", at - a, d) / np.where(squared > 0, squared, 1)
    feet: _Floats = a + np.clip(t, 0, 1)[:, None] * d
    return feet
