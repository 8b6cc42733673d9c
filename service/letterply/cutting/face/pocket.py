"""Pockets: clearing an area to a flat floor by offset loops, largest cutter first.

Loops lie one stepover apart, from the wall inwards, and are cut from the inside out, so that the
wall comes last and in one go. A stepover below the cutter's radius leaves no pillar: at a convex
corner of interior angle b full cover needs a spacing of at most r (1 + sin(b/2)), and what the
innermost loop surrounds is nearer to it than a stepover (plane geometry). Where more of the cutter
is in the stock than loops let in, it goes slower (`letterply.cutting.face.engagement`). What a
large cutter does not reach is left to smaller ones, each only where the one before it left
something (`letterply.cutting.face.beside`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.cutting.face.beside import FREE_MM, PocketCut, from_beside
from letterply.cutting.face.engagement import full_stretches
from letterply.cutting.face.rounding import Corner, bitten, rounded
from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.profiles import clearance, directed
from letterply.cutting.profile.rest_machining import beside_rest, rest_runs
from letterply.cutting.toolpath import Rate, Toolpath
from letterply.shapes import (
    EMPTY,
    ROUNDING,
    Region,
    Tolerances,
    as_region,
    fit_arcs,
    offset,
    opening,
    polygons,
    rings,
)

__all__ = ["ENGAGED_DEG", "STEPOVER", "clear_pocket", "reached_by"]

STEPOVER = 0.4
"""Stepover as a share of the diameter: 40 % to 50 % for roughing, common practice, no source."""

ENGAGED_DEG = 130.0
"""Angle of a cutter's edge that loops let into the stock, but where it is the first to go there: a
slot has 180; common practice, no source."""

_CLEARED = 0.9
"""Share of what the cutter reaches beyond a stepover that is relied on."""

_SLANT_DEG = 35.0
"""Angle at which the way from one loop to the next goes into the stock, at most."""

_SPIRAL_POINTS = 9

_TRIES = 6
"""Places where a spiral may begin, one after the other along a loop."""

_STRAIGHT_RAD = 0.8
"""A loop that turns by less along a spiral has no corner there: 45 degrees."""

_SMOOTH_MM = 0.2

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    """A loop of the cutter's centre, turned the way it is cut.

    Attributes:
        points: (n, 2), the first one repeated at the end.
        level: its depth in the nest of loops, 0 at the wall.
        piece: which connected piece of the room it goes round, of those of its level; -1 where
            that is not known.
        around: which piece of the next level, one step outside, that piece lies in.
        cleared: where there is no stock when it is cut; None where that is not known.
        corners: what the loops of its level leave in corners.

    """

    points: _Floats
    level: int
    piece: int = -1
    around: int = -1
    cleared: Region | None = None
    corners: tuple[Corner, ...] = ()

    def follows(self, other: _Ring) -> bool:
        """Whether it lies beside another loop, or a step outside of it, with nothing between."""
        if self.level == other.level:
            return self.piece == other.piece
        return self.level == other.level - 1 and self.piece == other.around


def reached_by(region: Region, radius_mm: float, tolerances: Tolerances) -> Region:
    """Return what a cutter of this radius clears, its paths a tolerance away from the walls."""
    return opening(region, radius_mm + clearance(tolerances), tolerances.offset_mm)


def clear_pocket(region: Region, cut: PocketCut, *, within: Region | None = None) -> list[Toolpath]:
    """Return the paths that clear a region with one cutter, one path a connected piece.

    `within` is the whole pocket when `region` is only what a larger cutter left of it: the
    cutter may move there, but cuts only where something is left, along stretches of loops where
    the rest of the loop is clear already. Empty when it fits nowhere.
    """
    pocket = region if within is None else within
    room = offset(pocket, -cut.radius_mm - clearance(cut.tolerances), cut.tolerances.offset_mm / 2)
    if room.is_empty:
        return []
    paths: list[Toolpath] = []
    if within is None:
        for piece in polygons(room):
            whole = as_region(piece)
            paths.append(_in_passes(_inside_out(_nest(whole, cut), whole, cut), cut))
        return paths
    wanted = beside_rest(region, cut.radius_mm, beyond_mm=FREE_MM)
    for piece in polygons(room):
        nest, stretches = _stretches(as_region(piece), wanted, cut)
        if nest:
            whole = as_region(piece)
            paths.append(_in_passes(_inside_out(nest, whole, cut), cut))
        paths += from_beside(stretches, region, wanted, piece, cut)
    return paths


def _nest(room: Region, cut: PocketCut) -> list[_Ring]:
    """Return the loops of one piece of room, rounded in corners."""
    step = 2 * cut.radius_mm * STEPOVER
    found: list[_Ring] = []
    cleared: Region = EMPTY
    levels = [room]
    while not levels[-1].is_empty:
        inner = offset(room, -len(levels) * step, cut.tolerances.offset_mm)
        # What is this small is cleared by the loop round it.
        speck = _CLEARED * (cut.radius_mm - step)
        levels.append(
            as_region(
                MultiPolygon([p for p in inner.geoms if not shapely.buffer(p, -speck).is_empty])
            )
        )
    levels.pop()
    trees = [shapely.STRtree(list(region.geoms)) for region in levels]
    for level in range(len(levels) - 1, -1, -1):
        locus, corners = rounded(
            levels[level], cut.radius_mm, step, cut.tolerances, wall=level == 0
        )
        for ring in rings(locus):
            at = shapely.Point(ring[0])
            piece = int(trees[level].nearest(at))
            around = int(trees[level - 1].nearest(at)) if level else -1
            found.append(_Ring(_closed(ring, cut), level, piece, around, cleared, tuple(corners)))
        reached = [Polygon(c.bites[-1]).buffer(0) for c in corners if _is_area(c)]
        cleared = as_region(shapely.buffer(shapely.union_all([locus, *reached]), cut.radius_mm))
    return found


def _is_area(corner: Corner) -> bool:
    return bool(corner.bites) and len(corner.bites[-1]) > 2


def _closed(ring: _Floats, cut: PocketCut) -> _Floats:
    return directed(np.vstack((ring, ring[:1])), clockwise=cut.conventional)


def _stretches(
    room: Region, wanted: BaseGeometry, cut: PocketCut
) -> tuple[list[_Ring], list[_Floats]]:
    """Return the loops of one piece of room, and stretches of loops, that are `wanted`.

    That is the place of the axis where something is left. Stretches come innermost first.
    """
    step = 2 * cut.radius_mm * STEPOVER
    found: list[_Ring] = []
    stretches: list[list[_Floats]] = []
    current = room
    while not current.is_empty:
        partly: list[_Floats] = []
        for ring in rings(current):
            closed = _closed(ring, cut)
            runs = rest_runs(LineString(closed), wanted)
            if runs is None:
                # What a larger cutter cleared is not known here, and a smaller one goes slowly.
                found.append(_Ring(closed, len(stretches)))
            else:
                partly += runs
        stretches.append(partly)
        current = offset(room, -len(stretches) * step, cut.tolerances.offset_mm)
    return found, [run for partly in reversed(stretches) for run in partly]


@dataclass(frozen=True, slots=True, eq=False)
class _Loop:
    """A loop as it is cut.

    Attributes:
        walk: the loop with the bites of its corners.
        slow: where it is engaged too far, (m, 2) lengths.
        way: how the cutter comes from the loop before; None where it comes from above, by a ramp
            along the loop.

    """

    walk: ParametricPath
    slow: _Floats
    way: ParametricPath | None


def _inside_out(nest: list[_Ring], room: Region, cut: PocketCut) -> list[_Loop]:
    """Return loops in order: inner ones before the ones round them, with short ways between.

    Where the room falls into parts towards its inside, each is cleared from its own entry, until
    they meet.
    """
    lead = 2 * cut.radius_mm * STEPOVER / math.tan(math.radians(_SLANT_DEG))
    reach = shapely.buffer(room, 2 * cut.tolerances.arc_fit_mm)
    shapely.prepare(reach)
    left = sorted(nest, key=lambda r: (-r.level, tuple(r.points[0])))
    ordered: list[_Loop] = []
    before = at = np.empty((0, 2))
    last: _Ring | None = None
    while left:
        ring = left[0] if last is None else _nearest(left, last, at)
        left.remove(ring)
        points, way = ring.points, None
        if last is not None:
            points, way = _started(points, before, at, lead, reach)
            if ring.piece >= 0 and not ring.follows(last):
                way = None  # what lies between them may not be clear yet
        last, before = ring, points
        walk, slow = _walk(replace(ring, points=points), cut, reach)
        ordered.append(_Loop(walk, slow, None if way is None else _open_walk(way, cut)))
        # A ramp takes a part of the loop more.
        at = walk.at(np.array([cut.ramp_mm if way is None else 0.0]))[0]
    return ordered


def _nearest(left: Sequence[_Ring], last: _Ring, at: _Floats) -> _Ring:
    """Return the loop that comes next: a neighbour of the last one, else the nearest.

    Any loop may follow in whose piece of the room no loop is left.
    """
    waiting = {(r.level - 1, r.around) for r in left}
    deepest = max(r.level for r in left)
    ready = [
        r
        for r in left
        if (r.level == deepest if r.piece < 0 else (r.level, r.piece) not in waiting)
    ]

    def way(ring: _Ring) -> tuple[bool, float]:
        away = float(((ring.points - at) ** 2).sum(axis=1).min())
        return ring.piece >= 0 and not ring.follows(last), away

    return min(ready, key=way)


def _started(
    points: _Floats, before: _Floats, at: _Floats, lead_mm: float, reach: BaseGeometry
) -> tuple[_Floats, _Floats | None]:
    """Return a loop turned to where a spiral from a point of the loop inside it meets it, and that.

    The spiral, (k, 2) with both ends, goes from one to the other while it runs along them, where
    they are straightest near by. Where the other loop is not next to the one inside it, the loop
    starts as near as can be, after a straight way; None where that leaves `reach`.
    """
    line, inner = LineString(points), LineString(before)
    nearest = float(line.project(shapely.Point(at)))
    ahead = min(lead_mm, line.length) * np.linspace(0.0, 1.0, _SPIRAL_POINTS)
    found: list[tuple[float, float, _Floats]] = []
    for later in range(_TRIES):
        start = nearest + later * lead_mm
        outer = _along(line, start + ahead)
        beside = [inner.project(shapely.Point(p)) for p in outer]
        close = _along(inner, np.array(beside))
        close[0] = at if not later else close[0]
        spiral = close + (outer - close) * (ahead / ahead[-1])[:, None]
        if start + ahead[-1] > nearest + line.length:
            break
        if np.hypot(*(outer - close).T).max() > 1.5 * lead_mm:
            continue
        if later:
            spiral = np.vstack((_way_round(inner, at, spiral[0]), spiral))
        if not reach.contains(LineString(spiral)):
            continue
        # A corner just before or after it counts, too.
        steps = np.diff(
            _along(line, start + lead_mm * np.linspace(-1.0, 2.0, _SPIRAL_POINTS)), axis=0
        )
        turning = np.abs(np.diff(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))).sum()
        found.append((float(turning), float(start + ahead[-1]) % line.length, spiral))
        if turning < _STRAIGHT_RAD:
            break
    if found:
        _, start, spiral = min(found, key=lambda f: f[0] if f[0] > _STRAIGHT_RAD else 0.0)
    else:
        start, spiral = nearest, np.vstack((at, _along(line, np.array([nearest]))))
    begin = spiral[-1]
    lengths = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    k = int(np.searchsorted(lengths, start, side="right"))
    turned = np.vstack((begin[None], points[k:-1], points[:k], begin[None]))
    moved = np.any(np.abs(np.diff(turned, axis=0)) > ROUNDING, axis=1)
    kept: _Floats = turned[np.concatenate(([True], moved))]
    return kept, spiral if reach.contains(LineString(spiral)) else None


def _along(line: LineString, lengths: _Floats) -> _Floats:
    return shapely.get_coordinates(shapely.line_interpolate_point(line, lengths % line.length))


def _way_round(loop: LineString, first: _Floats, last: _Floats) -> _Floats:
    """Return the way along a closed loop from one of its points to another, ahead."""
    a, b = (float(loop.project(shapely.Point(p))) for p in (first, last))
    count = max(2, math.ceil(((b - a) % loop.length) / _SMOOTH_MM))
    way = _along(loop, a + ((b - a) % loop.length) * np.linspace(0.0, 1.0, count))
    return np.vstack((first[None], way[1:-1]))


def _open_walk(way: _Floats, cut: PocketCut) -> ParametricPath:
    chain = fit_arcs(way, cut.tolerances.arc_fit_mm, arcs=cut.arcs)
    return ParametricPath(chain, closed=False)


def _walk(ring: _Ring, cut: PocketCut, reach: BaseGeometry) -> tuple[ParametricPath, _Floats]:
    """Return a loop with the bites of its corners, and where it is engaged too far, (m, 2)."""
    points, own = bitten(ring.points, ring.corners, reach)
    chain = fit_arcs(points, cut.tolerances.arc_fit_mm, arcs=cut.arcs)
    walk = ParametricPath(chain, closed=True)
    full = full_stretches(walk, ring.cleared, cut.radius_mm, ENGAGED_DEG)
    if own.all() or not len(full):
        return walk, full
    # Bites are made for less: what the loop itself has cleared before them is not known here.
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    middle = full.mean(axis=1) * along[-1] / walk.length
    return walk, full[own[np.searchsorted(along, middle).clip(0, len(own) - 1)]]


def _in_passes(loops: list[_Loop], cut: PocketCut) -> Toolpath:
    """Return one path: at each depth all loops, linked inside the pocket where that is possible.

    A link that would leave the room goes up over the stock and comes down by a ramp again.
    """
    passes = cut.pass_count
    pieces: list[Toolpath] = []
    for number in range(1, passes + 1):
        above = -cut.depth_mm * (number - 1) / passes
        deep = -cut.depth_mm * number / passes
        for loop in loops:
            around = loop.walk.length
            if loop.way is not None and pieces:
                level = np.array([deep, deep])
                pieces.append(loop.way.path(np.array([0.0, loop.way.length]), level))
                pieces.append(loop.walk.path(np.array([0.0, around]), level, loop.slow))
                continue
            if pieces:
                here = loop.walk.at(np.array([0.0]))[0]
                pieces.append(_over(pieces[-1].ends[-1, :2], here, above, cut.lift_mm))
            pieces.append(
                loop.walk.path(
                    np.array([0.0, cut.ramp_mm, cut.ramp_mm + around]),
                    np.array([above, deep, deep]),
                    loop.slow,
                )
            )
    return Toolpath.joined(pieces, start=np.array([*pieces[0].start[:2], 0.0]))


def _over(at: _Floats, to: _Floats, z: float, lift_mm: float) -> Toolpath:
    """Return a lift, a way over the stock and a move down to the floor of the pass before."""
    ends = np.array([[*at, lift_mm], [*to, lift_mm], [*to, z]])
    path = Toolpath.straight(np.array([*at, np.nan]), ends)
    path.rates[-1] = Rate.SINK
    return path
