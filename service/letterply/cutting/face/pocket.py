"""Pockets: clearing an area to a flat floor by offset loops, largest cutter first.

Loops lie one stepover apart, from the wall inwards, and are cut from the inside out, so that the
wall comes last and in one go. A stepover below the cutter's radius leaves no pillar: at a convex
corner of interior angle b full cover needs a spacing of at most r (1 + sin(b/2)), and what the
innermost loop surrounds is nearer to it than a stepover (plane geometry). In inside corners, where
the cutter is held on more than one side, it goes slower (`letterply.cutting.face.engagement`). What
a large cutter does not reach is left to smaller ones, each only where the one before it left
something.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from letterply.cutting.face.engagement import full_corners
from letterply.cutting.model import Rate, Toolpath
from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.profiles import RAMP_DEG, clearance, directed
from letterply.cutting.profile.rest_machining import beside_rest, rest_runs, to_and_fro
from letterply.shapes import (
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

__all__ = ["STEPOVER", "PocketCut", "clear_pocket", "reached_by"]

STEPOVER = 0.4
"""Stepover as a share of the diameter: 40 % to 50 % for roughing, common practice, no source."""

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    """A loop of the cutter's centre, its depth in the nest of loops (0 at the wall), what is clear.

    `cleared` is where there is no stock when the loop is cut; None where that is not known.
    """

    points: _Floats
    level: int
    cleared: Region | None


def reached_by(region: Region, radius_mm: float, tolerances: Tolerances) -> Region:
    """Return what a cutter of this radius clears, its paths a tolerance away from the walls."""
    return opening(region, radius_mm + clearance(tolerances), tolerances.offset_mm)


@dataclass(frozen=True, slots=True)
class PocketCut:
    """How a pocket is cleared.

    Attributes:
        radius_mm: of the cutter.
        depth_mm: of the last pass.
        pass_depth_mm: of each pass, at most.
        tolerances: of offsets and arcs.
        conventional: whether the cutter goes clockwise round the pocket.
        arcs: whether curves leave as arcs.
        lift_mm: height over the stock of a short way inside one path: that of all travel, for
            what holds the sheet is lower.

    """

    radius_mm: float
    depth_mm: float
    pass_depth_mm: float
    tolerances: Tolerances
    conventional: bool = False
    arcs: bool = True
    lift_mm: float = 5.0


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
    wanted = None if within is None else beside_rest(region, cut.radius_mm)
    for piece in polygons(room):
        nest, stretches = _nest(as_region(piece), cut.radius_mm, cut.tolerances, wanted)
        if nest:
            paths.append(_in_passes(nest, as_region(piece), cut))
        paths += [
            to_and_fro(run, cut.depth_mm, cut.pass_depth_mm, cut.tolerances, arcs=cut.arcs)
            for run in stretches
        ]
    return paths


def _nest(
    room: Region, radius_mm: float, tolerances: Tolerances, wanted: BaseGeometry | None
) -> tuple[list[_Ring], list[_Floats]]:
    """Return the loops of one piece of room, and stretches of loops.

    Loops come innermost first, next to each other in order; so do the stretches of those that
    are `wanted` in part, which is the place of the axis where something is left.
    """
    step = 2 * radius_mm * STEPOVER
    found: list[_Ring] = []
    stretches: list[list[_Floats]] = []
    level = 0
    current = room
    while not current.is_empty:
        inner = offset(room, -(level + 1) * step, tolerances.offset_mm)
        # What a larger cutter cleared is not known here, and a smaller one goes slowly anyway.
        cleared = (
            None
            if wanted is not None or inner.is_empty
            else as_region(shapely.buffer(inner, radius_mm))
        )
        partly: list[_Floats] = []
        for ring in rings(current):
            closed = np.vstack((ring, ring[:1]))
            runs = None if wanted is None else rest_runs(LineString(closed), wanted)
            if runs is None:
                found.append(_Ring(closed, level, cleared))
            else:
                partly += runs
        stretches.append(partly)
        level += 1
        current = inner
    return _inside_out(found), [run for partly in reversed(stretches) for run in partly]


def _inside_out(nest: list[_Ring]) -> list[_Ring]:
    """Order loops so that inner ones go before the ones round them, with short ways between."""
    left = sorted(nest, key=lambda r: (-r.level, tuple(r.points[0])))
    ordered: list[_Ring] = []
    at: _Floats | None = None
    while left:
        deepest = left[0].level
        # Any loop may follow whose inner neighbours are done: those of the deepest level left.
        ready = [r for r in left if r.level == deepest]
        if at is None:
            chosen = ready[0]
        else:
            here = at
            chosen = min(ready, key=lambda r: float(((r.points - here) ** 2).sum(axis=1).min()))
        left.remove(chosen)
        if at is not None:
            chosen = replace(chosen, points=_started_near(chosen.points, at))
        ordered.append(chosen)
        at = chosen.points[0]
    return ordered


def _started_near(points: _Floats, at: _Floats) -> _Floats:
    nearest = int(np.argmin(((points[:-1] - at) ** 2).sum(axis=1)))
    turned = np.roll(points[:-1], -nearest, axis=0)
    return np.vstack((turned, turned[:1]))


def _in_passes(nest: list[_Ring], room: Region, cut: PocketCut) -> Toolpath:
    """Return one path: at each depth all loops, linked inside the pocket where that is possible.

    A link that would leave the room goes up over the stock and comes down by a ramp again.
    """
    walks = []
    for ring in nest:
        points = _directed_from(ring.points, clockwise=cut.conventional)
        walk = ParametricPath(
            fit_arcs(points, cut.tolerances.arc_fit_mm, arcs=cut.arcs), closed=True
        )
        walks.append((walk, full_corners(walk, ring.cleared, cut.radius_mm, STEPOVER)))
    shapely.prepare(room)
    reach = shapely.buffer(room, 2 * cut.tolerances.arc_fit_mm)
    passes = max(1, math.ceil(cut.depth_mm / cut.pass_depth_mm - ROUNDING))
    pieces: list[Toolpath] = []
    for number in range(1, passes + 1):
        above = -cut.depth_mm * (number - 1) / passes
        deep = -cut.depth_mm * number / passes
        at: _Floats | None = None
        for walk, corners in walks:
            here = walk.at(np.array([0.0]))[0]
            if at is not None and reach.contains(LineString([at, here])):
                to = np.array([[*here, deep]])
                pieces.append(Toolpath.straight(pieces[-1].ends[-1], to))
                level = np.array([deep, deep])
                pieces.append(walk.path(np.array([0.0, walk.length]), level, corners))
            else:
                if pieces:
                    pieces.append(_over(pieces[-1].ends[-1, :2], here, above, cut.lift_mm))
                down = (above - deep) / math.tan(math.radians(RAMP_DEG))
                pieces.append(
                    walk.path(
                        np.array([0.0, down, down + walk.length]),
                        np.array([above, deep, deep]),
                        corners,
                    )
                )
            at = pieces[-1].ends[-1, :2]
    return Toolpath.joined(pieces, start=np.array([*pieces[0].start[:2], 0.0]))


def _over(at: _Floats, to: _Floats, z: float, lift_mm: float) -> Toolpath:
    """Return a lift, a way over the stock and a move down to the floor of the pass before."""
    ends = np.array([[*at, lift_mm], [*to, lift_mm], [*to, z]])
    path = Toolpath.straight(np.array([*at, np.nan]), ends)
    path.rates[-1] = Rate.PLUNGE
    return path


def _directed_from(points: _Floats, *, clockwise: bool) -> _Floats:
    """Return a loop turned the way that is asked for, starting where it did."""
    turned = directed(points, clockwise=clockwise)
    return _started_near(turned, points[0])
