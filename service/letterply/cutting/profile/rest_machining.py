"""Rests: what a larger cutter left beside a loop, cut by a smaller one only where it is.

The axis of the small cutter touches a rest from a stretch of its loop. Stretches are open paths,
cut to and fro; a loop beside which rests lie all round is cut as a loop. Lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from letterply.cutting.model import EntryOptions, Toolpath
from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.profiles import RAMP_DEG, LoopCut, ProfileCut, directed, profile_path
from letterply.shapes import ROUNDING, Region, Tolerances, fit_arcs

__all__ = ["beside_rest", "rest_paths", "rest_runs", "rest_share", "to_and_fro"]

_Floats = NDArray[np.float64]


def rest_paths(
    loop: LoopCut, rest: Region, radius_mm: float, cut: ProfileCut, *, clockwise: bool
) -> list[Toolpath]:
    """Return paths of a small cutter along the loop, only where a larger one left something.

    `rest` is what the larger cutter leaves. Open stretches are cut to and fro, going down on the
    way; a loop that lies in the rest all round is cut as a loop.
    """
    line = LineString(directed(loop.points, clockwise=clockwise))
    runs = rest_runs(line, beside_rest(rest, radius_mm))
    if runs is None:
        return [profile_path(loop, cut, clockwise=clockwise)[0]]
    depths = cut.depth_mm, cut.pass_depth_mm
    return [to_and_fro(run, *depths, cut.tolerances, arcs=cut.arcs) for run in runs]


_ALL_ROUND = 0.98
_SHORTEST_MM = 0.05


def rest_runs(line: LineString, beside: BaseGeometry) -> list[_Floats] | None:
    """Return the stretches of a loop that lie beside a rest; None when all of it does.

    Args:
        line: the loop, closed.
        beside: where the cutter's axis touches the rest, see `beside_rest`.

    """
    inside = shapely.intersection(line, beside)
    if inside.length > _ALL_ROUND * line.length:
        return None
    parts = shapely.get_parts(shapely.line_merge(inside)).tolist()
    return [
        np.asarray(part.coords)[:, :2]
        for part in parts
        if isinstance(part, LineString) and part.length > _SHORTEST_MM
    ]


def rest_share(loops: Sequence[LoopCut], rest: Region, radius_mm: float) -> float:
    """Return the share of loops along which a larger cutter left something, 0 to 1."""
    lines = [LineString(loop.points) for loop in loops]
    beside = beside_rest(rest, radius_mm)
    inside = sum(shapely.intersection(line, beside).length for line in lines)
    return float(inside / max(sum(line.length for line in lines), ROUNDING))


def beside_rest(rest: Region, radius_mm: float) -> BaseGeometry:
    """Return where the axis of a cutter touches a rest, and a little beyond."""
    return shapely.buffer(rest, radius_mm + 0.3, quad_segs=8)


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
    steepest = math.tan(math.radians(4 * RAMP_DEG))
    step = min(pass_depth_mm, max(walks[0].length * steepest, depth_mm / 400))
    downs = max(1, math.ceil(depth_mm / step - ROUNDING))
    # Each way once, with the share of the leg as its z; legs differ in nothing but their z.
    entry_options = [
        walk.path(np.array([0.0, walk.length]), np.array([0.0, 1.0])) for walk in walks
    ]

    @lru_cache(maxsize=2)
    def made(way: int) -> Toolpath:
        levels = -depth_mm * np.minimum(np.arange(downs + 2), downs) / downs
        legs = [entry_options[(number + way) % 2] for number in range(downs + 1)]
        path = Toolpath.joined(legs)
        counts = [len(leg) for leg in legs]
        z0, drop = (np.repeat(z, counts) for z in (levels[:-1], np.diff(levels)))
        path.ends[:, 2] = z0 + drop * path.ends[:, 2]
        return path

    ends = points[[0, -1]]
    return replace(
        made(0), entry_options=EntryOptions(ends, ends if downs % 2 else ends[::-1], made)
    )
