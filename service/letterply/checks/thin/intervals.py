"""Thinness as a function of the limit: what is thin at any size, from one reading of the axis.

`letterply.checks.thin.zones.thin_zones` says which zones of an axis lie under one limit. Here the
limit runs from nought upwards: zones arise where the radius is least, grow, meet and become one.
A *width interval* is a zone over the range of limits in which its exits and its narrowest place
(that of `thin_zones`) stay the same. A shape at another size, or a material with another limit, is
the same axis under another limit: every question of that sort is answered from the intervals.

The radius along an edge of the axis has no maximum inside it, so an edge split at its minimum
runs one way, and the zones under a limit are the components of a graph of nodes: one pass over
the nodes by radius finds all of them (a merge tree). All mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from letterply.checks.thin.pinches import find_pinches
from letterply.checks.thin.zones import Cut, even_edges, narrowest_cuts
from letterply.shapes import BISECTOR, LEAST_DIVISOR, LINE, PARABOLA, MedialAxis

__all__ = ["Ramp", "WidthInterval", "find_width_intervals", "pinch_intervals"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_Row = tuple[float, int, float, float]
"""Of a zone with one exit: radius, the run that leads out, length and weight without that run."""

_POINTED_MM = 0.02
"""What is less wide at its end runs out into a point."""

_SHORTEST = 1.001
"""An interval whose limits differ by less than this ratio is the noise of flattened curves."""

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
class WidthInterval:
    """A zone over a range of limits.

    Attributes:
        low_mm, high_mm: it is there for limits above the one up to the other; infinite for what
            is left when all is thin.
        width_mm: least width.
        exits: how many places lead out of it.
        at: where it is narrowest.
        cuts: where a break across its narrowest place is to be looked for.
        ramp: for one exit and a width above nought, how it grows; else None.

    """

    low_mm: float
    high_mm: float
    width_mm: float
    exits: int
    at: tuple[float, float]
    cuts: tuple[Cut, ...]
    ramp: Ramp | None = None


def pinch_intervals(axis: MedialAxis) -> tuple[WidthInterval, ...]:
    """Return the pinches of an axis as intervals: thin at every limit above their width.

    A zone is told at its narrowest place; its pinches are those places and the others that part
    first.
    """
    return tuple(
        WidthInterval(width, math.inf, width, 2, pinch.at, (pinch.cut,))
        for pinch in find_pinches(axis)
        for width in (pinch.cut.width_mm,)
    )


@dataclass(slots=True)
class _Zone:
    """A component while the pass runs.

    Attributes:
        birth: node of its least radius.
        waist: its narrowest node that is no point of a tip, or None.
        passing: the first node at which several ways out met, or None.
        peak: node of its largest radius.
        low: radius at which it began, or changed last.
        length: length of its whole runs, and
        weight: the integral of the radius along them.
        crossing: runs that lead out.
        rows: for one exit, how it grew since.
        fixed: its narrowest node when it ended.

    """

    birth: int
    waist: int | None
    passing: int | None
    peak: int
    low: float
    length: float
    weight: float
    crossing: set[int]
    rows: list[_Row]
    fixed: int = -1

    def narrowest(self, places: list[int]) -> int:
        """Return its narrowest node, points of tips left out where there is anything else."""
        found = [self.waist] if self.waist is not None else []
        if self.passing is not None and len(self.crossing) > 1:
            found.append(self.passing)
        if found:
            return min(found, key=places.__getitem__)
        return self.birth if self.crossing else self.peak


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


def find_width_intervals(axis: MedialAxis) -> tuple[WidthInterval, ...]:
    """Return the width intervals of a peeled axis by the limit at which they begin."""
    if not len(axis.edges):
        return ()
    runs = _split(axis)
    intervals: list[tuple[float, float, int, int, list[_Row]]] = []
    for zone, high in _Pass(runs).zones():
        intervals.append((zone.low, high, zone.fixed, len(zone.crossing), zone.rows))
    # Of the edges at a node one of even width counts: its far end is as narrow.
    edge_of = np.full(len(runs.radii), -1, dtype=np.int64)
    even = even_edges(axis)[runs.edge]
    for some in (np.flatnonzero(~even)[::-1], np.flatnonzero(even)[::-1]):
        for ends in (runs.high[some], runs.low[some]):
            edge_of[ends] = runs.edge[some]
    births = np.array([s[2] for s in intervals], dtype=np.int64)
    at = runs.points[births]
    cuts = narrowest_cuts(axis, edge_of[births], at)
    ramps = _ramps(runs, intervals)
    found = [
        WidthInterval(
            low_mm=2 * low,
            high_mm=2 * high,
            width_mm=2 * least,
            exits=exits,
            at=(x, y),
            cuts=cuts[k],
            ramp=ramps[k],
        )
        for k, ((low, high, _, exits, _), (x, y), least) in enumerate(
            zip(intervals, at.tolist(), runs.radii[births].tolist(), strict=True)
        )
    ]
    return tuple(sorted(found, key=lambda s: (s.low_mm, s.width_mm, s.at)))


def _split(axis: MedialAxis) -> _Runs:
    start, end = axis.edges[:, 0], axis.edges[:, 1]
    least, where, every = axis.dips()
    dip = np.flatnonzero(
        (least < axis.radii[start] - LEAST_DIVISOR) & (least < axis.radii[end] - LEAST_DIVISOR)
    )
    middle = len(axis.points) + np.arange(len(dip))
    radii = np.concatenate((axis.radii, least[dip]))
    points = np.vstack((axis.points, where[dip]))
    whole = start != end  # an edge without length is a node
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
    h = np.maximum(h, LEAST_DIVISOR)

    def upto(r: _Floats) -> _Floats:
        bent = np.sqrt(np.maximum(2 * h * r - h * h, 0))
        arc = (bent * np.sqrt(1 + (bent / h) ** 2) + h * np.arcsinh(bent / h)) / 2
        flat = np.sqrt(np.maximum(r * r - h * h, 0))
        return np.where(kinds == PARABOLA, arc, np.where(kinds == BISECTOR, flat, 0.0))

    return upto(high) - upto(low)


class _Pass:
    """One pass over the nodes of the runs by radius.

    Attributes:
        radii, places: radius of each node, and its number in the order of radii.
        low: lower node of each run.
        lengths: length of each run.
        ended: zones with the radius at which they ended or changed, in order, noise left out.

    """

    def __init__(self, runs: _Runs) -> None:
        self.order = np.argsort(runs.radii, kind="stable")
        rank = np.empty(len(self.order), dtype=np.int64)
        rank[self.order] = np.arange(len(self.order))
        turned = rank[runs.low] > rank[runs.high]
        self.low: list[int] = np.where(turned, runs.high, runs.low).tolist()
        high: list[int] = np.where(turned, runs.low, runs.high).tolist()
        self.up: list[list[int]] = [[] for _ in self.order]
        self.down: list[list[int]] = [[] for _ in self.order]
        for run, (a, b) in enumerate(zip(self.low, high, strict=True)):
            self.up[a].append(run)
            self.down[b].append(run)
        self.radii: list[float] = runs.radii.tolist()
        self.places: list[int] = rank.tolist()
        self.lengths: list[float] = runs.lengths.tolist()
        self.ended: list[tuple[_Zone, float]] = []
        self._home: list[_Zone | None] = [None] * len(self.order)
        self._joined: dict[int, _Zone] = {}

    def zones(self) -> list[tuple[_Zone, float]]:
        """Return every zone with the radius at which it ends or changes."""
        living: list[_Zone] = []
        for node in self.order.tolist():
            r = self.radii[node]
            coming, leaving = self.down[node], self.up[node]
            if not coming:
                waist = None if len(leaving) == 1 and r < _POINTED_MM else node
                zone = _Zone(node, waist, None, node, r, 0.0, 0.0, set(leaving), [])
                living.append(zone)
            elif len(coming) == len(leaving) == 1:  # nearly every node: the zone goes on
                (run,), (after,) = coming, leaving
                zone = self._zone_of(self.low[run])
                zone.crossing.remove(run)
                zone.crossing.add(after)
                self._lengthen(zone, coming, r)
            else:
                zone = self._meet(node, coming, leaving)
            if len(zone.crossing) == 1:
                (run,) = zone.crossing
                zone.rows.append((r, run, zone.length, zone.weight))
            zone.peak = node
            self._home[node] = zone
        left = (z for z in living if id(z) not in self._joined)
        self.ended.extend((_snapshot(z, self.places), math.inf) for z in left)
        return self.ended

    def _zone_of(self, node: int) -> _Zone:
        zone = self._home[node]
        assert zone is not None  # the lower end of a run is always visited first
        while id(zone) in self._joined:
            zone = self._joined[id(zone)]
        self._home[node] = zone
        return zone

    def _lengthen(self, zone: _Zone, coming: list[int], r: float) -> None:
        """Add runs that end at the radius r."""
        for run in coming:
            zone.length += self.lengths[run]
            zone.weight += self.lengths[run] * (self.radii[self.low[run]] + r) / 2

    def _meet(self, node: int, coming: list[int], leaving: list[int]) -> _Zone:
        """Return the zone after a node at which runs meet, part or end: all that met are in it."""
        r, places = self.radii[node], self.places
        met = {id(z): z for z in (self._zone_of(self.low[run]) for run in coming)}
        zone = min(met.values(), key=lambda z: places[z.birth])
        before, narrowest = len(zone.crossing), zone.narrowest(places)
        waists = [z.waist for z in met.values() if z.waist is not None]
        if len(met) > 1:
            self._join(zone, list(met.values()), r)
        zone.crossing.difference_update(coming)
        zone.crossing.update(leaving)
        if waists:
            zone.waist = min(waists, key=places.__getitem__)
        passings = [z.passing for z in met.values() if z.passing is not None]
        if passings:
            zone.passing = min(passings, key=places.__getitem__)
        elif len(zone.crossing) > 1:
            zone.passing = node
        changed = len(zone.crossing) != before or zone.narrowest(places) != narrowest
        if len(met) == 1 and changed and r >= zone.low * _SHORTEST:
            was = _snapshot(zone, places)
            was.fixed = narrowest
            was.crossing.difference_update(leaving)
            was.crossing.update(coming)
            self.ended.append((was, r))
        if len(met) > 1 or changed:
            zone.low = r
            zone.rows = []
        self._lengthen(zone, coming, r)
        return zone

    def _join(self, zone: _Zone, met: list[_Zone], r: float) -> None:
        """End the zones that met and put the others into the one."""
        self.ended.extend((_snapshot(z, self.places), r) for z in met if r >= z.low * _SHORTEST)
        for other in met:
            if other is not zone:
                self._joined[id(other)] = zone
                zone.length += other.length
                zone.weight += other.weight
                zone.crossing |= other.crossing


def _snapshot(zone: _Zone, places: list[int]) -> _Zone:
    return replace(
        zone,
        crossing=set(zone.crossing),
        rows=list(zone.rows),
        fixed=zone.narrowest(places),
    )


def _ramps(
    runs: _Runs, intervals: list[tuple[float, float, int, int, list[_Row]]]
) -> list[Ramp | None]:
    """Return the ramp of every interval with one exit, up to the limit above which it is a tip."""
    found: list[Ramp | None] = [None] * len(intervals)
    sizes, rows, tops = [], [], []
    for low, high, birth, exits, mine in intervals:
        least = float(runs.radii[birth])
        top = min(high, _RAMP_REACH * least)
        wanted = [row for row in mine if row[0] < top] if exits == 1 and low < top else []
        if least < _POINTED_MM:
            wanted = []
        sizes.append(len(wanted))
        rows += wanted
        tops += [*(row[0] for row in wanted[1:]), top][: len(wanted)]
    if not rows:
        return found
    starts, number, base_length, base_weight = (np.array(x) for x in zip(*rows, strict=True))
    share = np.linspace(0, 1, _STEPS + 1)[1:]
    r = (starts[:, None] + (np.array(tops) - starts)[:, None] * share).ravel()
    run = np.repeat(number.astype(np.int64), _STEPS)
    ends = np.column_stack((runs.radii[runs.low[run]], runs.radii[runs.high[run]]))
    low_r, high_r = ends.min(axis=1), ends.max(axis=1)
    straight = runs.lengths[run] * (r - low_r) / np.maximum(high_r - low_r, LEAST_DIVISOR)
    curved = _along(runs.kinds[run], runs.heights[run], low_r, r)
    extra = np.clip(np.where(runs.kinds[run] == LINE, straight, curved), 0, runs.lengths[run])
    length = np.repeat(base_length, _STEPS) + extra
    weight = np.repeat(base_weight, _STEPS) + extra * (low_r + r) / 2
    width = 2 * weight / np.maximum(length, LEAST_DIVISOR)
    at = 0
    for k, size in enumerate(sizes):
        if size:
            part = slice(at, at + size * _STEPS)
            found[k] = Ramp(2 * r[part], length[part], width[part])
            at += size * _STEPS
    return found
