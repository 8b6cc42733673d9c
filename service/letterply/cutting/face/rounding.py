"""Loops rounded in corners, and the corners taken in bites: what keeps a cutter's engagement low.

On a loop a step s beside what is clear, a cutter of radius r is engaged by arccos(1 - s/r); in a
sharp corner of interior angle b by as much more as the loop turns, 180 degrees - b
(`letterply.cutting.face.engagement`). A loop that turns on an arc of radius rho bites
s / sin(b/2) there, measured on the bisector, and no more than about the straight's angle and a half
(plane geometry: where the circle of the cutter crosses that of what is clear). What such a loop
leaves of the corner, rho (1 / sin(b/2) - 1) deep, is taken by *bites*: arcs of smaller and smaller
radius from one wall to the other, the last one sharp. Lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from letterply.shapes import Region, Tolerances, as_region, leftover, leftover_depths, rings

__all__ = ["Corner", "bitten", "rounded"]

_Floats = NDArray[np.float64]

_SHALLOW = 0.065
"""What is left behind an arc of radius 1 in a corner of 140 degrees: a blunter one stays sharp."""

_CORNER = 1.9
"""What lies deeper behind an arc of radius 1 than in a corner of 40 degrees is no corner."""

_LARGER = 1.25
"""Area of what is a corner, in that of a corner between straight walls as deep."""

_ARC = 0.5
"""Length along which a corner borders on what is reached, in that of the arc between its walls."""

_LAST = 0.5
"""What a last bite takes of a corner, in radii of the cutter: one of 85 degrees is rounded once."""

_STEP = 1.28
"""What a loop may take on the bisector of a corner, in radii of the cutter."""

_SMALLER = 0.6
"""The radius of the arc of a bite, in that of the one before."""

_SPECK = 0.1
"""A loop round a speck, in radii of the cutter."""

_HAIR_MM = 1e-4
"""A grid ten times as coarse as that of regions, on which what borders on each other does so."""

_BESIDE_MM = 2e-3
"""So near to a region is on its boundary."""


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """A corner that a loop cuts short, with the bites that take what it leaves of it.

    Attributes:
        area: what the loop leaves, of where the cutter's middle may be.
        bites: (n, 2) each, from wall to wall, in order.

    """

    area: Polygon
    bites: tuple[_Floats, ...]


def rounded(
    room: Region, radius_mm: float, step_mm: float, tolerances: Tolerances, *, wall: bool
) -> tuple[Region, list[Corner]]:
    """Return a region for a cutter's middle with its corners rounded, and what that leaves.

    Args:
        room: where the middle may be.
        radius_mm: of the cutter.
        step_mm: between loops.
        tolerances: how far offsets may stray.
        wall: whether this is the last loop, after which nothing of the corners may be left; others
            leave what the next loop takes without too large a bite.

    """
    fine = tolerances.offset_mm
    left = leftover(room, radius_mm, fine)
    reached = shapely.difference(room, left)
    corners: list[Corner] = []
    cut: list[Polygon] = []
    depths = leftover_depths(left, room)
    for piece, depth in zip(left.geoms, depths.tolist(), strict=True):
        if not _SHALLOW * radius_mm < depth < _CORNER * radius_mm:
            continue
        blunt = radius_mm / (depth + radius_mm)  # sin(b/2)
        half = math.asin(blunt)
        sharp = radius_mm**2 * (1 / math.tan(half) + half - math.pi / 2)
        # The blunt end of something narrow is larger than a corner as deep; a neck borders on what
        # is reached at both ends, what is narrow all over nowhere, and a bulb at the end of a slit
        # along no arc.
        arc = radius_mm * (math.pi - 2 * half)
        borders = _borders(piece, reached)
        if piece.area > _LARGER * sharp or len(borders) != 1 or borders[0] < _ARC * arc:
            continue
        cut.append(piece)
        radii = _bite_radii(blunt, radius_mm, step_mm, wall=wall)
        if radii:
            corners.append(Corner(piece, tuple(_bites(room, piece, radii, fine))))
    if not cut:
        return room, []
    # What is cut off borders on the walls but for a rounding: no hair of the corner is to stay.
    loops = as_region(shapely.difference(room, shapely.union_all(cut), grid_size=_HAIR_MM))
    # In a cusp its very tip is too thin for the area, and stays behind as a speck.
    kept = [p for p in loops.geoms if p.length > _SPECK * radius_mm]
    # What is narrow all over is no corner of anything: its loop goes all round.
    whole = [p for p in room.geoms if not shapely.intersects(p, kept).any()]
    corners = [c for c in corners if not shapely.intersects(c.area, whole).any()]
    return as_region(shapely.MultiPolygon([*kept, *whole])), corners


def _borders(piece: Polygon, reached: BaseGeometry) -> list[float]:
    """Return how long the stretches of its edge are along which a piece borders on what is reached.

    They may be nought.
    """
    near = shapely.intersection(reached, shapely.buffer(piece, 2 * _BESIDE_MM, quad_segs=2))
    shared = shapely.intersection(piece.exterior, shapely.buffer(near, _BESIDE_MM, quad_segs=2))
    if shared.is_empty:
        return []
    parts = shapely.get_parts(shapely.line_merge(shared)).tolist()
    lines = [g for g in parts if g.length > 5 * _BESIDE_MM]
    lengths = [float(g.length) for g in lines] or [0.0]
    for k, (a, b) in enumerate(pairwise([*lines, *lines[:1]])):
        if len(lines) > 1 and shapely.dwithin(a, b, 1e-9):  # the exterior begins between them
            lengths[(k + 1) % len(lines)] += lengths[k]
            del lengths[k]
            break
    return lengths


def _bite_radii(blunt: float, radius_mm: float, step_mm: float, *, wall: bool) -> list[float]:
    """Return the radii of the arcs by which a corner is bitten, 0 for a sharp last one.

    `blunt` is the sine of half its angle.
    """
    behind = 1 / blunt - 1
    enough = _LAST * radius_mm / behind
    if not wall:
        # The next loop, rounded as much, lies a step outside: that much of the corner is its own.
        enough = radius_mm + (_STEP * radius_mm - step_mm / blunt) / behind
    arc, found = radius_mm, []
    while arc > max(enough * (1 + 1e-3), 0.1 * radius_mm):
        arc *= _SMALLER
        found.append(arc)
    return [*found, 0.0] if wall else found


def _bites(room: Region, corner: Polygon, radii: Sequence[float], fine: float) -> list[_Floats]:
    found: list[_Floats] = []
    area = corner
    for arc in radii:
        locus = room
        if arc > 0:
            locus = as_region(shapely.difference(room, leftover(room, arc, fine)))
        beside = shapely.buffer(area, _BESIDE_MM)
        lines = [(shapely.intersection(LineString(_closed(r)), beside), r) for r in rings(locus)]
        along, ring = max(lines, key=lambda line: line[0].length)
        if along.is_empty:
            continue
        # Where walls meet in a cusp its very tip is too thin for the area: the way leads round it.
        found.append(_between(_closed(ring), along))
        if arc > 0:
            rest = as_region(shapely.difference(area, locus)).geoms
            if not len(rest):
                break
            area = max(rest, key=lambda g: g.area)
    return found


def _closed(ring: _Floats) -> _Floats:
    return np.vstack((ring, ring[:1]))


def _between(ring: _Floats, along: BaseGeometry) -> _Floats:
    """Return the stretch of a closed loop from the first to the last of what lies along it."""
    line = LineString(ring)
    at = np.array([line.project(shapely.Point(p)) for p in shapely.get_coordinates(along)])
    first, last = _stretch(at, line.length)
    if last > first:
        return np.asarray(substring(line, first, last).coords)[:, :2]
    ends = substring(line, first, line.length), substring(line, 0.0, last)
    made: _Floats = np.vstack([np.asarray(end.coords)[:, :2] for end in ends])
    return made


def bitten(
    ring: _Floats, corners: Sequence[Corner], reach: BaseGeometry
) -> tuple[_Floats, NDArray[np.bool_]]:
    """Return a closed loop with the bites of its corners put in, and which points are the loop's.

    Each is bitten as soon as the loop has gone past it, in the direction of the loop.

    Args:
        ring: (n, 2), the first point repeated at the end.
        corners: those of all loops at its level.
        reach: where straight ways may go.

    """
    line = LineString(ring)
    inserts: list[tuple[float, _Floats]] = []
    for corner in corners:
        if not corner.bites:
            continue
        ends = shapely.points(corner.bites[0][[0, -1]])
        if shapely.distance(line, ends).max() > 5 * _BESIDE_MM:
            continue  # the corner is another loop's
        at = np.array([line.project(shapely.Point(p)) for p in corner.bites[0][[0, -1]]])
        first, last = _stretch(at, line.length)
        past = _between(ring, MultiPoint([line.interpolate(first), line.interpolate(last)]))
        begin, end = past[0], past[-1]
        way: list[_Floats] = [end[None]]
        for bite in corner.bites:
            there = np.hypot(*(bite[0] - begin)) > np.hypot(*(bite[-1] - begin))
            taken = bite[::-1] if there else bite
            if not reach.covers(LineString([way[-1][-1], taken[0]])):
                way.append(past[::-1])
            way.append(taken)
            past = taken
        if not reach.covers(LineString([past[-1], end])):
            way.append(_tail(corner.bites[0], end, past[-1]))
        inserted = np.vstack([*way, end[None]])
        if reach.covers(LineString(inserted)):  # else it stays uncut, which is told
            inserts.append((last, inserted))
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))))
    points: list[_Floats] = []
    own: list[NDArray[np.bool_]] = []
    done = 0
    for last, inserted in sorted(inserts, key=lambda i: i[0]):
        k = int(np.searchsorted(along, last + 1e-6, side="right"))
        points += [ring[done:k], inserted]
        own += [np.ones(k - done, dtype=bool), np.zeros(len(inserted), dtype=bool)]
        done = k
    points.append(ring[done:])
    own.append(np.ones(len(ring) - done, dtype=bool))
    return np.vstack(points), np.concatenate(own)


def _tail(bite: _Floats, end: _Floats, start: _Floats) -> _Floats:
    """Return the way along a bite from near a point to the end of it that is given."""
    line = LineString(
        bite if np.hypot(*(bite[-1] - end)) < np.hypot(*(bite[0] - end)) else bite[::-1]
    )
    tail = substring(line, line.project(shapely.Point(start)), line.length)
    return np.asarray(tail.coords)[:, :2]


def _stretch(at: _Floats, length: float) -> tuple[float, float]:
    """Return where the shortest stretch of a closed loop with all these lengths begins and ends."""
    s = np.unique(np.mod(at, length))
    gaps = np.diff(np.concatenate((s, s[:1] + length)))
    k = int(np.argmax(gaps))
    return float(s[(k + 1) % len(s)]), float(s[k])
