"""Floors as spaces: pockets, blind holes and the flat floors of grooves.

A cutter that goes all the way clears the floor by loops a stepover apart; smaller ones go along
stretches of their own loops, only beside what a larger one left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter
from letterply.cutting.choice.reach import LIFT_S, Reach, Space, Tool
from letterply.cutting.face.pocket import STEPOVER
from letterply.cutting.model import Feeds
from letterply.shapes import EMPTY, ROUNDING, Region, Tolerances, as_region, offset

__all__ = ["Floor", "clearing_length"]


def clearing_length(axis: Region, cutter: Cutter) -> float:
    """Return about how far a cutter goes to clear all round its middle's `axis`, mm.

    Loops that lie s apart in an area A, the outermost of the length L, are A/s + L/2 long: that
    of the trapezoidal rule, without slower corners.
    """
    around = float(shapely.length(shapely.boundary(axis)))
    return max(around, axis.area / (STEPOVER * cutter.diameter_mm) + around / 2)


class Floor(Space):
    """A floor that is cleared to its walls.

    Args:
        region: the floor.
        detail_mm: how deep what stays may lie behind what is reached.
        tools: the flat cutters of the rack, smallest first.
        depth_mm: how deep it is.
        tolerances: how far each step may stray.
        deep: which of them go so deep.
        finishing_s_per_mm2: time that something else takes for what they leave: a V-bit on the
            floor of its groove.

    """

    def __init__(
        self,
        region: Region,
        detail_mm: float,
        tools: Sequence[Tool],
        depth_mm: float,
        tolerances: Tolerances,
        *,
        deep: Sequence[bool],
        finishing_s_per_mm2: float = 0.0,
    ) -> None:
        super().__init__(region, detail_mm, tools, depth_mm, tolerances)
        self._deep = deep
        self._finishing = finishing_s_per_mm2

    def goes(self, tool: int) -> bool:
        """Whether a cutter goes so deep."""
        return self._deep[tool]

    def loop_time(self, tool: int) -> float | None:
        """Return about how long a cutter takes to clear the floor, s; None where it does not go."""
        if not self.goes(tool) or self.reach(tool).axis.is_empty:
            return None
        axis = self.reach(tool).axis
        feeds = self.tools[tool].feeds
        length = clearing_length(axis, self.tools[tool].cutter)
        passes = self._passes(feeds)
        return 60 * length * passes / feeds.feed_mm_per_min + LIFT_S * len(axis.geoms)

    def stretches(self, small: int, large: int, beside: BaseGeometry) -> BaseGeometry:
        """Return the stretches of a cutter's loops beside what a larger one left."""
        axis = self.reach(small).axis
        found: list[BaseGeometry] = []
        inner = axis
        # What is left lies along walls, no farther from them than the larger cutter is wide.
        for level in range(math.ceil(self.tools[large].cutter.diameter_mm / self._step(small))):
            if level:
                inner = offset(axis, -level * self._step(small), self.tolerances.offset_mm)
            lines = shapely.intersection(shapely.boundary(inner), beside)
            if lines.is_empty:
                break
            found.append(lines)
        return shapely.union_all(found) if found else EMPTY

    def stretches_time(self, tool: Tool, rest: Region, lengths: Sequence[float]) -> float:
        """Return about how long a smaller cutter takes along stretches, s.

        They are entered from the side; those beside a piece of the rest are one path.
        """
        feeds = tool.in_corners
        along = sum(lengths) * self._passes(feeds)
        lifts = min(len(rest.geoms), len(lengths))
        return 60 * along / feeds.feed_mm_per_min + LIFT_S * lifts

    def _passes(self, feeds: Feeds) -> int:
        return max(1, math.ceil(self.depth_mm / feeds.depth_per_pass_mm - ROUNDING))

    def within_reach(self, small: Reach, large: Reach) -> Region:
        """Return all that the smaller cutter gets at, where it has something to do at all.

        A floor is level to where the smallest of its cutters reaches, shallow corners too: what it
        bears is laid on it.
        """
        wanted = super().within_reach(small, large)
        if wanted.is_empty:
            return wanted
        return as_region(shapely.difference(large.left, small.left))

    def left_after(self, tools: Sequence[int]) -> Region:
        """Return what is left when smaller cutters have cleared all they are to get at."""
        cleared = [self.rest(small, large) for large, small in pairwise(tools)]
        return as_region(shapely.difference(self.reach(tools[0]).left, shapely.union_all(cleared)))

    def after_time(self, tools: Sequence[int]) -> float:
        """Return how long something else takes for what even the smallest cutter leaves."""
        return self._finishing * self.reach(tools[-1]).left.area if self._finishing else 0.0

    def _step(self, tool: int) -> float:
        return STEPOVER * self.tools[tool].cutter.diameter_mm
