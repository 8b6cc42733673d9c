"""Drilling with pecks, and scribing with a drag point. Lengths mm, sheet frame."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from shapely import LineString

from letterply.cutting.paths import ParametricPath, vertical_path
from letterply.cutting.toolpath import EntryOptions, Toolpath
from letterply.shapes import ROUNDING, Tolerances, fit_arcs

__all__ = ["drill_hole", "in_short_order", "scribe_line"]

_CLEAR_MM = 0.5
"""How far above the last depth a peck stops before it drills on."""


def drill_hole(x_mm: float, y_mm: float, depth_mm: float, peck_mm: float) -> Toolpath:
    """Return the path that drills to the depth in pecks, out to the face after each."""
    pecks = max(1, math.ceil(depth_mm / peck_mm - ROUNDING))
    levels: list[float] = []
    for number in range(1, pecks + 1):
        if number > 1:
            above = depth_mm * (number - 1) / pecks - _CLEAR_MM
            levels += [0.0, -max(above, 0.0)]
        levels.append(-depth_mm * number / pecks)
    return vertical_path(x_mm, y_mm, np.array(levels))


_STARTS = 8
"""Places to begin a closed line."""


def scribe_line(
    line: LineString, depth_mm: float, tolerances: Tolerances, *, arcs: bool = True
) -> Toolpath:
    """Return the path that draws a line at the depth: down, along, and up again after it.

    An open line may be drawn from either end, a closed one from several places.
    """
    points = np.asarray(line.coords, dtype=np.float64)[:, :2]
    closed = len(points) > 3 and bool((points[0] == points[-1]).all())
    forth = ParametricPath(fit_arcs(points, tolerances.arc_fit_mm, arcs=arcs), closed=closed)
    starts = np.linspace(0, forth.length, _STARTS, endpoint=False) if closed else np.zeros(2)

    @lru_cache(maxsize=_STARTS)
    def made(way: int) -> Toolpath:
        walk = forth
        if way and not closed:
            walk = ParametricPath(
                fit_arcs(points[::-1], tolerances.arc_fit_mm, arcs=arcs), closed=False
            )
        along = walk.path(starts[way] + np.array([0.0, walk.length]), np.full(2, -depth_mm))
        down = vertical_path(along.start[0], along.start[1], np.array([-depth_mm]))
        return Toolpath.joined([down, along])

    at = forth.at(starts) if closed else points[[0, -1]]
    return replace(made(0), entry_options=EntryOptions(at, at if closed else at[::-1], made))


def in_short_order(lines: Sequence[LineString]) -> list[LineString]:
    """Return lines in an order with short ways between them, open ones turned if that helps."""
    left = list(lines)
    ends = np.array([(*line.coords[0][:2], *line.coords[-1][:2]) for line in left])
    free = np.ones(len(left), dtype=bool)
    at = np.zeros(2)
    ordered: list[LineString] = []
    for _ in range(len(left)):
        to_first = ((ends[:, :2] - at) ** 2).sum(axis=1)
        to_last = ((ends[:, 2:] - at) ** 2).sum(axis=1)
        near = np.where(free, np.minimum(to_first, to_last), np.inf)
        k = int(np.argmin(near))
        free[k] = False
        turned = to_last[k] < to_first[k]
        line = left[k]
        ordered.append(LineString(line.coords[::-1]) if turned else line)
        at = ends[k, :2] if turned else ends[k, 2:]
    return ordered
