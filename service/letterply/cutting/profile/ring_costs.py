"""What each cutter of the rack takes along one ring of an outline, and what it leaves there.

A *ring* is the outside of a part, or one of its holes. A cutter either follows it all the way, or
goes only where a larger one does not reach deeper than the *detail*: how deep an inside corner may
stay round. What a cutter leaves deeper than that is its *deep* leftover. Where a smaller one gets
at some of it, the smaller one *helps*. Lengths mm, times s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter
from letterply.cutting.model import Feeds
from letterply.cutting.profile.profiles import clearance
from letterply.cutting.profile.rest_machining import beside_rest, legs_down
from letterply.shapes import (
    EMPTY,
    ROUNDING,
    SAME_MM,
    Region,
    Tolerances,
    as_region,
    leftover,
    leftover_depths,
    offset,
    surroundings,
)

__all__ = ["LIFT_S", "Reach", "Ring", "Tool", "rings_of"]

LIFT_S = 2.0
"""Time between two paths: up, over and down again; own measurement, on small letters."""

_GAIN_MM2 = 0.02
"""A smaller cutter helps where it gets at this area."""


@dataclass(frozen=True, slots=True, eq=False)
class Tool:
    """A cutter with its feeds along an outline, and in corners that a larger one left."""

    cutter: Cutter
    feeds: Feeds
    in_corners: Feeds


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """Where a cutter gets to in the space beside a ring.

    Attributes:
        axis: where its middle may be.
        left: what it does not reach.
        depth_mm: how far the deepest of that lies behind what it reaches.
        deep: the part of `left` that lies deeper than the detail.

    """

    axis: Region
    left: Region
    depth_mm: float
    deep: Region


class Ring:
    """One ring of an outline.

    Attributes:
        line: the ring, filled.
        hole: its number among the holes of its outline; None for the outside.
        detail_mm: how deep its inside corners may stay round.

    """

    def __init__(
        self,
        line: Polygon,
        hole: int | None,
        detail_mm: float,
        tools: Sequence[Tool],
        depth_mm: float,
        tolerances: Tolerances,
    ) -> None:
        self.line = line
        self.hole = hole
        self.detail_mm = detail_mm
        self._tools = tools
        self._depth = depth_mm
        self._tolerances = tolerances
        self._reaches: dict[int, Reach] = {}
        self._rests: dict[tuple[int, int], tuple[Region, float, float]] = {}

    @cached_property
    def space(self) -> Region:
        """What is round the ring, or in the hole."""
        if self.hole is not None:
            return as_region(self.line)
        return surroundings(self.line, max(t.cutter.radius_mm for t in self._tools))

    def reach(self, tool: int) -> Reach:
        """Return where a cutter gets to."""
        if tool not in self._reaches:
            self._reaches[tool] = self._reach(self._tools[tool].cutter.radius_mm)
        return self._reaches[tool]

    def _reach(self, radius_mm: float) -> Reach:
        # Paths keep a tolerance away from the part: what is that narrow is left, too.
        fine = self._tolerances.offset_mm
        away = radius_mm + clearance(self._tolerances)
        axis = offset(self.space, -away, fine)
        left = leftover(self.space, away, fine, inner=axis)
        if left.is_empty:
            return Reach(axis, EMPTY, 0.0, EMPTY)
        depths = leftover_depths(left, self.space)
        pieces = np.array(left.geoms, dtype=object)[depths > self.detail_mm]
        deep = EMPTY
        if len(pieces) and axis.is_empty:
            deep = left
        elif len(pieces):
            near = offset(axis, away + self.detail_mm, fine)
            deep = as_region(shapely.difference(shapely.multipolygons(pieces), near))
        return Reach(axis, left, float(depths.max()), deep)

    def helps(self, small: int, large: int) -> bool:
        """Whether a smaller cutter gets at what a larger one leaves too deep."""
        return not self.rest(small, large).is_empty

    def rest(self, small: int, large: int) -> Region:
        """Return what a smaller cutter gets at of what a larger one leaves too deep."""
        return self._rest(small, large)[0]

    def _rest(self, small: int, large: int) -> tuple[Region, float, float]:
        """Return what a smaller cutter gets at, how long that takes, and how far along the ring."""
        key = small, large
        if key not in self._rests:
            self._rests[key] = self._measured_rest(small, large)
        return self._rests[key]

    def _measured_rest(self, small: int, large: int) -> tuple[Region, float, float]:
        deep = self.reach(large).deep
        if deep.is_empty:
            return EMPTY, 0.0, 0.0
        todo = as_region(shapely.difference(deep, self.reach(small).left))
        if todo.area <= _GAIN_MM2:
            return EMPTY, 0.0, 0.0
        tool = self._tools[small]
        line = shapely.boundary(self.reach(small).axis)
        beside = beside_rest(todo, tool.cutter.radius_mm)
        stretches = shapely.intersection(line, beside)
        lengths = _lengths(stretches)
        feeds = tool.in_corners
        legs = [legs_down(x, self._depth, feeds.depth_per_pass_mm) + 1 for x in lengths]
        along = sum(x * n for x, n in zip(lengths, legs, strict=True))
        time = 60 * along / feeds.feed_mm_per_min + LIFT_S * len(lengths)
        return todo, time, sum(lengths)

    def stays(self, tools: Sequence[int]) -> tuple[Region, float]:
        """Return what is left when cutters have done their work, and how deep it is at most.

        `tools` are the one that goes all round, and then smaller ones; none for a closed hole.
        """
        if not tools:
            return self.space, self.reach(0).depth_mm
        main, *smaller = tools
        left = self.reach(main).left
        for large, small in zip(tools, smaller, strict=False):
            radius = self._tools[small].cutter.radius_mm
            line = shapely.boundary(self.reach(small).axis)
            stretch = shapely.intersection(line, beside_rest(self.rest(small, large), radius))
            left = as_region(
                shapely.difference(left, shapely.buffer(stretch, radius + SAME_MM, quad_segs=32))
            )
        finest = self.reach(tools[-1])
        shallow = min(self.detail_mm, self.reach(main).depth_mm)
        return left, shallow if finest.deep.is_empty else finest.depth_mm

    def rest_time(self, small: int, large: int) -> float:
        """Return about how long the smaller cutter takes for that, s."""
        return self._rest(small, large)[1]

    def rest_share(self, small: int, large: int) -> float:
        """Return along which share of the ring it goes."""
        return self._rest(small, large)[2] / max(self.line.length, ROUNDING)

    def loop_time(self, tool: int) -> float | None:
        """Return how long a cutter takes all along the ring, s; None where it does not go in."""
        radius = self._tools[tool].cutter.radius_mm
        if self.hole is None:
            length = self.line.length + 2 * math.pi * radius
        elif self.reach(tool).axis.is_empty:
            return None
        else:
            length = float(shapely.length(shapely.boundary(self.reach(tool).axis)))
        feeds = self._tools[tool].feeds
        passes = max(1, math.ceil(self._depth / feeds.depth_per_pass_mm - ROUNDING))
        return 60 * length * passes / feeds.feed_mm_per_min + LIFT_S


def _lengths(lines: BaseGeometry) -> list[float]:
    """Return the lengths of the connected pieces of lines."""
    parts = [g for g in shapely.get_parts(lines).tolist() if g.length > 0]
    if not parts:
        return []
    merged = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(parts)))
    return [float(x) for x in shapely.length(merged)]


def rings_of(
    outline: Polygon,
    detail_mm: float,
    tools: Sequence[Tool],
    depth_mm: float,
    tolerances: Tolerances,
) -> list[Ring]:
    """Return the rings of an outline, the outside first."""
    lines = [Polygon(outline.exterior), *(Polygon(r) for r in outline.interiors)]
    return [
        Ring(line, None if k == 0 else k - 1, detail_mm, tools, depth_mm, tolerances)
        for k, line in enumerate(lines)
    ]
