"""Grooves: V-carving from the medial axis.

The tip of a V-bit follows the axis of the groove's region at the depth at which its walls touch
both sides:

    z = -(r - t/2) / tan(a/2)

with r the radius of the inscribed disc, t the flat of the tip and a the included angle (plane
geometry). Where r falls to t/2, in a sharp corner, the tip comes up to the face, so corners come
out sharp. Along parabolic and point-point edges the radius is convex: samples are close enough
that chords between them carve at most `depth_mm` of the tolerances too deep.

A depth limit makes the floor flat: the bit runs round the floor's edge at that depth, and an end
mill clears the floor before it (see `letterply.cutting.face.pocket`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from letterply.catalogue import Cutter
from letterply.cutting.paths import polyline_path
from letterply.cutting.toolpath import EntryOptions, Toolpath
from letterply.shapes import (
    EMPTY,
    ROUNDING,
    MedialAxis,
    Region,
    Tolerances,
    axis_chains,
    medial_axis,
    offset,
    rings,
)

__all__ = [
    "GrooveCut",
    "axis_profiles",
    "carve_groove",
    "floor_region",
    "floor_step",
    "groove_depth",
    "widest_radius",
]

_PRUNE = 2.0
"""What is missed of the outline by less than so many times the flattening of curves is one of
their vertices, not a corner."""

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class GrooveCut:
    """Paths of the V-bit, and how deep they go below the face."""

    paths: tuple[Toolpath, ...]
    depth_mm: float


def groove_depth(radius_mm: float, cutter: Cutter) -> float:
    """Return the depth of the tip where the inscribed disc has this radius, not below 0.

    Worked examples: a 90 degree bit without a flat in a groove 6 mm wide (r = 3) goes 3 mm deep;
    with a flat of 0.2 mm, 2.9 mm.
    """
    return max(radius_mm - cutter.tip_diameter_mm / 2, 0.0) / cutter.half_angle_tan


def floor_region(
    region: Region, cutter: Cutter, max_depth_mm: float, tolerances: Tolerances
) -> Region:
    """Return the flat floor that a depth limit leaves, empty where the walls meet above it."""
    return offset(region, -max_depth_mm * cutter.half_angle_tan, tolerances.offset_mm)


@lru_cache(maxsize=64)
def _axis(region: Region, tolerances: Tolerances) -> MedialAxis:
    """Return the axis that tips follow: looked at to choose a bit, and again to carve."""
    return medial_axis(region).prune(_PRUNE * tolerances.flatten_mm)


def axis_profiles(region: Region, tolerances: Tolerances) -> list[tuple[_Floats, _Floats]]:
    """Return the middle lines of a region, (n, 2), each with its distances to the walls, (n,)."""
    return list(axis_chains(_axis(region, tolerances), _COARSE_MM))


_COARSE_MM = 0.1
"""How far lines may stray that only tell how long something takes."""


def carve_groove(
    region: Region,
    cutter: Cutter,
    pass_depth_mm: float,
    tolerances: Tolerances,
    *,
    max_depth_mm: float | None = None,
    start_mm: float = 0.0,
    last_mm: float = 0.0,
    floor_rest: Region = EMPTY,
) -> GrooveCut:
    """Return the paths that carve the region with a V-bit.

    Args:
        region: area where the groove starts.
        cutter: the V-bit.
        pass_depth_mm: depth of one pass.
        tolerances: how far each step may stray.
        max_depth_mm: depth below the start at which the floor goes flat; None to let walls meet.
        start_mm: depth of the floor that the groove is carved into; 0 for the face.
        last_mm: what a last pass, in one go, takes off walls and floor, measured downwards; 0 for
            none.
        floor_rest: what end mills leave of a flat floor: the bit goes over it in narrow steps.

    """
    plan_tolerance = tolerances.depth_mm * cutter.half_angle_tan / 2
    chains = []
    for points, radii in axis_chains(_axis(region, tolerances), plan_tolerance):
        z = (cutter.tip_diameter_mm / 2 - radii) / cutter.half_angle_tan
        chain = _held(np.column_stack((points, z)), most=0.0)
        chains.append(chain if max_depth_mm is None else _held(chain, least=-max_depth_mm))
    if max_depth_mm is not None:
        chains = [c for chain in chains for c in _above_floor(chain, -max_depth_mm)]
        edge = offset(
            region,
            -(max_depth_mm * cutter.half_angle_tan + cutter.tip_diameter_mm / 2),
            tolerances.offset_mm,
        )
        flat = [np.vstack((ring, ring[:1])) for ring in rings(edge)]
        flat += _floor_lines(edge, floor_rest, cutter, tolerances)
        chains += [np.column_stack((xy, np.full(len(xy), -max_depth_mm))) for xy in flat]
    chains = [c for c in chains if len(c) > 1 and (c[:, 2] < 0).any()]
    deepest = max((-float(c[:, 2].min()) for c in chains), default=0.0)
    rough = [_held(c + (0.0, 0.0, last_mm), most=0.0) for c in chains] if last_mm else chains
    rough_depth = max((-float(c[:, 2].min()) for c in rough), default=0.0)
    runs: list[_Floats] = []
    passes = max(1, math.ceil(rough_depth / pass_depth_mm - ROUNDING))
    for number in range(1, passes + 1):
        limit = -rough_depth * number / passes
        done = -rough_depth * (number - 1) / passes
        # A chain that an earlier pass has carved to its depth is not carved again.
        runs += [
            _held(c, least=limit)
            for c in rough
            if c[:, 2].min() < done or (number == 1 and not last_mm)
        ]
    if last_mm:
        runs += chains
    below = np.array([0.0, 0.0, start_mm])
    paths = tuple(_carved(_without_repeats(run) - below) for run in runs)
    return GrooveCut(paths, start_mm + deepest)


_RIDGE_MM = 0.02
"""Height of the ridges that a V-bit may leave on a flat floor."""


def floor_step(cutter: Cutter) -> float:
    """Return how far apart lines of a V-bit lie on a flat floor, mm."""
    return max(0.6 * cutter.tip_diameter_mm, 2 * _RIDGE_MM * cutter.half_angle_tan)


def _floor_lines(
    edge: Region, rest: Region, cutter: Cutter, tolerances: Tolerances
) -> list[_Floats]:
    """Return lines inside the floor's edge, close enough that no ridge between them is seen.

    Lines s apart leave ridges (s - t) / (2 tan(a/2)) high between tips of the width t; at a
    corner of interior angle b they lie s / sin(b/2) apart, so less than a tip is stepped.
    """
    if rest.is_empty:
        return []
    step = floor_step(cutter)
    near = shapely.buffer(rest, 2 * step, quad_segs=8)
    found: list[_Floats] = []
    # Each from the edge: offsets of offsets round each corner of a rounding again, without end.
    for number in count(1):
        inner = offset(edge, -number * step, tolerances.offset_mm)
        if inner.is_empty:
            break
        for ring in rings(inner):
            cut = shapely.intersection(LineString(np.vstack((ring, ring[:1]))), near)
            found += [
                np.asarray(run.coords)[:, :2]
                for run in shapely.get_parts(shapely.line_merge(cut)).tolist()
                if isinstance(run, LineString) and run.length > 0
            ]
    return _linked(found, edge, 4 * step)


def _linked(runs: Sequence[_Floats], floor: Region, most_mm: float) -> list[_Floats]:
    """Return runs at one depth, joined where the way to the next is short and on the floor.

    A lift takes longer than such a way. Each run is followed by the nearest one left, from either
    of its ends.
    """
    if not runs:
        return []
    ends = np.array([(*run[0], *run[-1]) for run in runs])
    free = np.ones(len(runs), dtype=bool)
    ground = shapely.buffer(floor, ROUNDING)
    shapely.prepare(ground)
    made: list[list[_Floats]] = []
    for first in range(len(runs)):
        if not free[first]:
            continue
        free[first] = False
        chain = [runs[first]]
        while free.any():
            at = chain[-1][-1]
            to_first = np.hypot(ends[:, 0] - at[0], ends[:, 1] - at[1])
            to_last = np.hypot(ends[:, 2] - at[0], ends[:, 3] - at[1])
            k = int(np.argmin(np.where(free, np.minimum(to_first, to_last), np.inf)))
            run = runs[k] if to_first[k] <= to_last[k] else runs[k][::-1]
            way = LineString([at, run[0]])
            if way.length > most_mm or not ground.covers(way):
                break
            free[k] = False
            chain.append(run)
        made.append(chain)
    return [np.vstack(chain) for chain in made]


def _held(chain: _Floats, *, least: float = -math.inf, most: float = math.inf) -> _Floats:
    """Return a chain (n, 3) with z held between two levels, bending exactly where it meets them.

    Only clipping the points would tilt the piece that crosses a level.
    """
    level = least if math.isfinite(least) else most
    above = chain[:, 2] > level
    crossing = np.flatnonzero(above[1:] != above[:-1])
    if len(crossing):
        a, b = chain[crossing], chain[crossing + 1]
        share = (level - a[:, 2]) / (b[:, 2] - a[:, 2])
        chain = np.insert(chain, crossing + 1, a + (b - a) * share[:, None], axis=0)
    held = chain.copy()
    held[:, 2] = np.clip(chain[:, 2], least, most)
    return held


def _above_floor(chain: _Floats, floor: float) -> list[_Floats]:
    """Return the runs of a chain that rise from the floor: the floor itself is cleared flat."""
    on_floor = chain[:, 2] <= floor + ROUNDING
    both = on_floor[1:] & on_floor[:-1]
    cuts = np.flatnonzero(both)
    if not len(cuts):
        return [chain]
    runs, first = [], 0
    for cut in cuts.tolist():
        if cut > first:
            runs.append(chain[first : cut + 1])
        first = cut + 1
    if first < len(chain) - 1:
        runs.append(chain[first:])
    return runs


def _carved(run: _Floats) -> Toolpath:
    """Return the path along a run; from its other end too where that is no deeper."""
    path = polyline_path(run)
    if run[-1, 2] < run[0, 2] - ROUNDING:
        return path
    ends = run[[0, -1], :2]
    lines = run, run[::-1]
    return replace(
        path, entry_options=EntryOptions(ends, ends[::-1], lambda way: polyline_path(lines[way]))
    )


def _without_repeats(points: _Floats) -> _Floats:
    moved = np.any(np.abs(np.diff(points, axis=0)) > ROUNDING, axis=1)
    kept: _Floats = points[np.concatenate(([True], moved))]
    return kept


def widest_radius(region: Region) -> float:
    """Return the radius of the largest disc in the region, mm; 0 when empty."""
    if region.is_empty:
        return 0.0
    found = shapely.maximum_inscribed_circle(region, tolerance=1e-3)
    return float(shapely.length(found))
