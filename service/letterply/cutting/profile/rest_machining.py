"""Rests: what a larger cutter left beside a loop, cut by a smaller one only where it is.

The axis of the small cutter touches a rest from a stretch of its loop. Stretches are open paths,
cut to and fro; a loop beside which rests lie all round is cut as a loop. Lengths mm.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from letterply.cutting.model import IN_CORNERS
from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.profiles import RAMP_DEG, LoopCut, ProfileCut, directed, profile_path
from letterply.cutting.toolpath import EntryOptions, Toolpath
from letterply.shapes import ROUNDING, Region, Tolerances, fit_arcs

__all__ = ["BEYOND_MM", "beside_rest", "rest_paths", "rest_runs", "to_and_fro", "whole_legs"]

_Floats = NDArray[np.float64]


def rest_paths(
    loop: LoopCut,
    rest: Region,
    radius_mm: float,
    cut: ProfileCut,
    *,
    clockwise: bool,
    lift_mm: float = 0.0,
) -> list[Toolpath]:
    """Return paths of a small cutter along the loop, only where a larger one left something.

    `rest` is what the larger cutter leaves. Open stretches are cut to and fro, going down on the
    way; a loop that lies in the rest all round is cut as a loop. Where the way along the loop to
    the next stretch is shorter than what the cutter would go in the time of a lift, `lift_mm`, the
    stretches are one.
    """
    line = LineString(directed(loop.points, clockwise=clockwise))
    depths = cut.depth_mm, cut.pass_depth_mm
    runs = rest_runs(line, beside_rest(rest, radius_mm), lift_mm / whole_legs(5.0, *depths))
    if runs is None:
        return [profile_path(loop, cut, clockwise=clockwise)[0]]
    return [to_and_fro(run, *depths, cut.tolerances, arcs=cut.arcs) for run in runs]


BEYOND_MM = 0.05
_ALL_ROUND = 0.98
_SHORTEST_MM = 0.05


def rest_runs(
    line: LineString, beside: BaseGeometry, bridged_mm: float = 0.0
) -> list[_Floats] | None:
    """Return the stretches of a loop that lie beside a rest; None when all of it does.

    Args:
        line: the loop, closed.
        beside: where the cutter's axis touches the rest, see `beside_rest`.
        bridged_mm: stretches that are no farther apart along the loop are one.

    """
    inside = shapely.intersection(line, beside)
    if inside.is_empty:
        return []
    if bridged_mm:
        gaps = shapely.get_parts(shapely.line_merge(shapely.difference(line, beside)))
        short = gaps[shapely.length(gaps) <= bridged_mm]
        if len(short):
            inside = shapely.union_all([inside, *short])
    if inside.length > _ALL_ROUND * line.length:
        return None
    parts = shapely.get_parts(shapely.line_merge(inside)).tolist()
    return [
        np.asarray(part.coords)[:, :2]
        for part in parts
        if isinstance(part, LineString) and part.length > _SHORTEST_MM
    ]


def beside_rest(rest: Region, radius_mm: float, *, beyond_mm: float = BEYOND_MM) -> BaseGeometry:
    """Return where the axis of a cutter touches a rest, and a little beyond."""
    return shapely.buffer(rest, radius_mm + beyond_mm, quad_segs=8)


_LEG_SHARE = 0.7
"""How much of a pass a leg goes down: where it turns, the cutter meets what two legs leave, and is
slower as soon as that is deeper than a pass. Common practice is not to overload a cutter by half;
no source."""


def legs_down(length_mm: float, depth_mm: float, pass_depth_mm: float) -> int:
    """Return how many times a cutter goes along an open line until it is down."""
    steepest = math.tan(math.radians(4 * RAMP_DEG))
    step = min(_LEG_SHARE * pass_depth_mm, max(length_mm * steepest, depth_mm / 400))
    return max(1, math.ceil(depth_mm / step - ROUNDING))


def _slow_share(downs: int, depth_mm: float, pass_depth_mm: float) -> float:
    """Return along which share of a leg, at its end, the cutter meets more than a pass.

    At the share x of a leg lie 2 x of its step over its end: as much as it has gone down itself,
    and what the leg before, which came from there, left.
    """
    return max(0.0, 1 - pass_depth_mm * downs / (2 * depth_mm) - ROUNDING)


def whole_legs(length_mm: float, depth_mm: float, pass_depth_mm: float) -> float:
    """Return how many times a line is gone along to and fro, in legs at the full feed."""
    downs = legs_down(length_mm, depth_mm, pass_depth_mm)
    slower = _slow_share(downs, depth_mm, pass_depth_mm) * (1 / IN_CORNERS - 1)
    return downs + 1 + (downs - 1) * slower


def to_and_fro(
    points: _Floats,
    depth_mm: float,
    pass_depth_mm: float,
    tolerances: Tolerances,
    *,
    arcs: bool = True,
) -> Toolpath:
    """Return a path that goes down along an open line, to and fro, and ends with a level pass.

    It may begin at either end.
    """
    lines = points, points[::-1]
    walks = [
        ParametricPath(fit_arcs(line, tolerances.arc_fit_mm, arcs=arcs), closed=False)
        for line in lines
    ]
    downs = legs_down(walks[0].length, depth_mm, pass_depth_mm)
    slow = 1 - _slow_share(downs, depth_mm, pass_depth_mm)
    # Each way once, with the share of the leg as its z; legs differ in nothing but their z, and in
    # where they are slow: those between the first and the last.
    plain, slower = (
        [
            walk.path(
                np.array([0.0, walk.length]),
                np.array([0.0, 1.0]),
                np.array([[begin * walk.length, walk.length]]),
            )
            for walk in walks
        ]
        for begin in (1.0, slow)
    )

    @lru_cache(maxsize=2)
    def made(way: int) -> Toolpath:
        levels = -depth_mm * np.minimum(np.arange(downs + 2), downs) / downs
        legs = [
            (slower if 0 < number < downs else plain)[(number + way) % 2]
            for number in range(downs + 1)
        ]
        path = Toolpath.joined(legs)
        counts = [len(leg) for leg in legs]
        z0, drop = (np.repeat(z, counts) for z in (levels[:-1], np.diff(levels)))
        path.ends[:, 2] = z0 + drop * path.ends[:, 2]
        return path

    ends = points[[0, -1]]
    return replace(
        made(0), entry_options=EntryOptions(ends, ends if downs % 2 else ends[::-1], made)
    )
