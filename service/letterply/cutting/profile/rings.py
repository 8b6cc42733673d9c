"""The rings of an outline as spaces: its outside, and each of its holes.

A cutter that goes all the way follows the ring; smaller ones go along it in stretches.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from letterply.cutting.choice.reach import LIFT_S, Space, Tool
from letterply.cutting.profile.rest_machining import whole_legs
from letterply.shapes import ROUNDING, Region, Tolerances, as_region, surroundings

__all__ = ["Ring", "rings_of"]


class Ring(Space):
    """One ring of an outline.

    Attributes:
        line: the ring, filled.
        hole: whether it is a hole.

    """

    def __init__(
        self,
        line: Polygon,
        detail_mm: float,
        tools: Sequence[Tool],
        depth_mm: float,
        tolerances: Tolerances,
        *,
        hole: bool,
    ) -> None:
        widest = max(t.cutter.radius_mm for t in tools)
        region = as_region(line) if hole else surroundings(line, widest)
        super().__init__(region, detail_mm, tools, depth_mm, tolerances)
        self.line = line
        self.hole = hole

    def loop_time(self, tool: int) -> float | None:
        """Return how long a cutter takes all along the ring, s; None where it does not go in."""
        if not self.hole:
            length = self.line.length + 2 * math.pi * self.tools[tool].cutter.radius_mm
        elif self.reach(tool).axis.is_empty:
            return None
        else:
            length = float(shapely.length(shapely.boundary(self.reach(tool).axis)))
        feeds = self.tools[tool].feeds
        passes = max(1, math.ceil(self.depth_mm / feeds.depth_per_pass_mm - ROUNDING))
        return 60 * length * passes / feeds.feed_mm_per_min + LIFT_S

    def stretches(self, small: int, large: int, beside: BaseGeometry) -> BaseGeometry:
        """Return the stretches of a cutter's loop beside what a larger one left."""
        return shapely.intersection(shapely.boundary(self.reach(small).axis), beside)

    def stretches_time(self, tool: Tool, rest: Region, lengths: Sequence[float]) -> float:
        """Return how long a smaller cutter takes along stretches, to and fro in solid stock, s."""
        down = self.depth_mm, tool.feeds.depth_per_pass_mm
        along = sum(x * whole_legs(x, *down) for x in lengths)
        return 60 * along / tool.feeds.feed_mm_per_min + LIFT_S * len(lengths)

    def rest_share(self, small: int, large: int) -> float:
        """Return along which share of the ring a smaller cutter goes."""
        return self.rest_length(small, large) / max(self.line.length, ROUNDING)


def rings_of(
    outline: Polygon,
    detail_mm: float,
    tools: Sequence[Tool],
    depth_mm: float,
    tolerances: Tolerances,
) -> list[Ring]:
    """Return the rings of an outline, the outside first."""
    lines = [outline.exterior, *outline.interiors]
    return [
        Ring(Polygon(line), detail_mm, tools, depth_mm, tolerances, hole=k > 0)
        for k, line in enumerate(lines)
    ]
