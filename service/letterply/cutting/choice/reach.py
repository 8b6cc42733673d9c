"""Where each cutter of the rack gets to in a space, and what it leaves there.

A *space* is what lies round an outline, in a hole or on a floor. One cutter goes all the way
through it, and smaller ones only where a larger one does not reach deeper than the *detail*: how
deep an inside corner may stay round. What a cutter leaves deeper than that is its *deep* leftover.
Where a smaller one gets at some of it, it *helps*. Lengths mm, times s. Cutters are known by
their number in the rack, smallest first.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter
from letterply.cutting.model import Feeds
from letterply.cutting.profile.profiles import clearance
from letterply.cutting.profile.rest_machining import beside_rest
from letterply.shapes import (
    EMPTY,
    Region,
    Tolerances,
    as_region,
    leftover,
    leftover_depths,
    offset,
    outline_distances,
    side_distances,
    sides_of,
)

__all__ = ["LIFT_S", "Reach", "Space", "Tool"]

LIFT_S = 2.0
"""Time between two paths: up, over and down again; own measurement, on small letters."""

_SLIVER_MM = 0.02
"""What is thinner is no corner, but where arcs and their chords differ."""

_STEP_MM = 0.1
"""How far apart places are at which a depth is looked at: half of it is the error."""

_SPECK_MM = 0.2
"""A loop that is shorter may be none: profiles leave it out from a quarter of that."""

_GAIN_MM2 = 0.02
"""A smaller cutter helps where it gets at this area."""


@dataclass(frozen=True, slots=True, eq=False)
class Tool:
    """A cutter with its feeds in a space, and in what a larger one left of a floor."""

    cutter: Cutter
    feeds: Feeds
    in_corners: Feeds


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """Where a cutter gets to in a space.

    Attributes:
        axis: where its middle may be.
        left: what it does not reach.
        depths: (n,) float64, how far each piece of that lies behind what it reaches.
        deep: the part of `left` that lies deeper than the detail.

    """

    axis: Region
    left: Region
    depths: NDArray[np.float64]
    deep: Region

    @property
    def depth_mm(self) -> float:
        """How far the deepest of what is left lies behind what is reached."""
        return float(self.depths.max(initial=0.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Rest:
    region: Region = EMPTY
    stretches: BaseGeometry = EMPTY
    time_s: float = 0.0
    along_mm: float = 0.0


class Space(ABC):
    """What is cut clear, and what that takes; each kind of space says how long a loop is.

    Attributes:
        region: what is to be cleared.
        detail_mm: how deep what stays may lie behind what is reached.
        tools: the cutters, smallest first.
        depth_mm: how deep.
        tolerances: how far each step may stray.

    """

    def __init__(
        self,
        region: Region,
        detail_mm: float,
        tools: Sequence[Tool],
        depth_mm: float,
        tolerances: Tolerances,
    ) -> None:
        self.region = region
        self.detail_mm = detail_mm
        self.tools = tools
        self.depth_mm = depth_mm
        self.tolerances = tolerances
        self._reaches: dict[int, Reach] = {}
        self._rests: dict[tuple[int, int], _Rest] = {}
        self._stays: dict[tuple[int, ...], tuple[Region, float]] = {}
        self._cut: dict[tuple[int, ...], Region] = {}
        self._missed: dict[tuple[tuple[int, ...], int], float] = {}

    @abstractmethod
    def loop_time(self, tool: int) -> float | None:
        """Return how long a cutter takes all the way, s; None where it does not go."""

    @abstractmethod
    def stretches(self, small: int, large: int, beside: BaseGeometry) -> BaseGeometry:
        """Return where the middle of a cutter goes for what a larger one left.

        `beside` is where it touches that.
        """

    def goes(self, tool: int) -> bool:
        """Whether a cutter goes so deep."""
        return True

    def reach(self, tool: int) -> Reach:
        """Return where a cutter gets to."""
        if tool not in self._reaches:
            self._reaches[tool] = self._reach(self.tools[tool].cutter.radius_mm)
        return self._reaches[tool]

    def _reach(self, radius_mm: float) -> Reach:
        # Paths keep a tolerance away from the walls: what is that narrow is left, too.
        fine = self.tolerances.offset_mm
        away = radius_mm + clearance(self.tolerances)
        axis = _without_specks(offset(self.region, -away, fine))
        left = leftover(self.region, away, fine, inner=axis)
        if left.is_empty:
            return Reach(axis, EMPTY, np.empty(0), EMPTY)
        depths = leftover_depths(left, self.region)
        pieces = np.array(left.geoms, dtype=object)[depths > self.detail_mm]
        deep = EMPTY
        if len(pieces) and axis.is_empty:
            deep = left
        elif len(pieces):
            near = offset(axis, away + self.detail_mm, fine)
            deep = as_region(shapely.difference(MultiPolygon(pieces.tolist()), near))
        return Reach(axis, left, depths, deep)

    def helps(self, small: int, large: int) -> bool:
        """Whether a smaller cutter gets at what a larger one leaves too deep."""
        return not self._rest(small, large).region.is_empty

    def rest(self, small: int, large: int) -> Region:
        """Return what a smaller cutter gets at of what a larger one leaves too deep."""
        return self._rest(small, large).region

    def _rest(self, small: int, large: int) -> _Rest:
        key = small, large
        if key not in self._rests:
            self._rests[key] = self._measured_rest(small, large)
        return self._rests[key]

    def _measured_rest(self, small: int, large: int) -> _Rest:
        if not self.goes(small) or self.reach(large).deep.is_empty:
            return _Rest()
        todo = self.within_reach(self.reach(small), self.reach(large))
        if todo.area <= _GAIN_MM2:
            return _Rest()
        tool = self.tools[small]
        stretches = self.stretches(small, large, beside_rest(todo, tool.cutter.radius_mm))
        lengths = _lengths(stretches)
        time = self.stretches_time(tool, todo, lengths)
        return _Rest(todo, stretches, time, sum(lengths))

    @abstractmethod
    def stretches_time(self, tool: Tool, rest: Region, lengths: Sequence[float]) -> float:
        """Return how long a smaller cutter takes along stretches of these lengths, s."""

    def within_reach(self, small: Reach, large: Reach) -> Region:
        """Return what the smaller cutter gets at of what the larger one leaves too deep.

        That is what lies deeper than the detail; and where it gets at none of that, all of a corner
        that it makes as sharp as the detail asks, or by half of it sharper.
        """
        todo = shapely.difference(large.deep, small.left)
        tree = shapely.STRtree(list(small.left.geoms))
        corners = []
        for piece, depth in zip(large.left.geoms, large.depths.tolist(), strict=True):
            if depth <= self.detail_mm or shapely.intersects(piece, todo):
                continue
            inside = small.depths[tree.query(piece, predicate="intersects")]
            after = float(inside.max(initial=0.0))
            if after <= self.detail_mm or depth - after >= self.detail_mm / 2:
                corners.append(piece)
        if corners:
            near = shapely.buffer(large.deep, self.detail_mm, quad_segs=4)
            sharper = shapely.intersection(MultiPolygon(corners), near)
            todo = shapely.union(todo, shapely.difference(sharper, small.left))
        return as_region(todo)

    def stays(self, tools: Sequence[int]) -> tuple[Region, float]:
        """Return what is left when cutters have done their work, and how deep it is at most.

        `tools` are the one that goes all the way, and then smaller ones; none where none goes.
        """
        key = tuple(tools)
        if key not in self._stays:
            self._stays[key] = self._left_by(key)
        return self._stays[key]

    def _left_by(self, tools: tuple[int, ...]) -> tuple[Region, float]:
        if not tools:
            return self.region, max(self.reach(0).depth_mm, 0.0)
        main, *smaller = tools
        left = self.reach(main).left
        for large, small in zip(tools, smaller, strict=False):
            # What paths keep away from the walls by is not told: it is within the tolerance.
            radius = self.tools[small].cutter.radius_mm + 2 * clearance(self.tolerances)
            swept = shapely.buffer(self._rest(small, large).stretches, radius, quad_segs=32)
            left = as_region(shapely.difference(left, swept))
        finest = self.reach(tools[-1])
        shallow = min(self.detail_mm, self.reach(main).depth_mm)
        return left, shallow if finest.deep.is_empty else finest.depth_mm

    def missed_mm(self, tools: Sequence[int], finest: int) -> float:
        """Return how far what `finest` reaches and none of `tools` cuts lies behind what is cut.

        `tools` are the one that goes all the way, and then smaller ones. Where no more than the
        detail is missed, it may be more than is told.
        """
        key = tuple(tools), finest
        if key not in self._missed:
            self._missed[key] = self._measured_miss(*key)
        return self._missed[key]

    def _measured_miss(self, tools: tuple[int, ...], finest: int) -> float:
        if tools == (finest,) or self.reach(finest).axis.is_empty:
            return 0.0
        left = self.left_after(tools)
        missed = shapely.difference(self._wide(left), self.reach(finest).left)
        if not shapely.area(missed):
            return 0.0
        at_most = self._most_behind(_along(missed), tools)
        if at_most <= self.detail_mm:
            return at_most
        missed = shapely.buffer(shapely.buffer(missed, -_SLIVER_MM / 2), _SLIVER_MM / 2)
        if missed.is_empty:
            return 0.0
        places = _along(missed)
        at_most = self._most_behind(places, tools)
        if at_most <= self._most_mm:
            return at_most
        if tools not in self._cut:
            self._cut[tools] = as_region(shapely.difference(self.region, left))
        cut = self._cut[tools]
        if cut.is_empty:
            return math.inf
        return float(outline_distances(cut, places).max())

    def _most_behind(self, places: NDArray[np.float64], tools: tuple[int, ...]) -> float:
        """Return how far places may lie behind what cutters cut at most, from where they go.

        Nothing is overlaid for that; it may be a little less in truth.
        """
        main, *smaller = tools
        axis = self.reach(main).axis
        found = np.full(len(places), math.inf)
        if not axis.is_empty:
            away = self.tools[main].cutter.radius_mm + clearance(self.tolerances)
            found = outline_distances(axis, places) - away
        for large, small in zip(tools, smaller, strict=False):
            sides = sides_of(self._rest(small, large).stretches)
            if len(sides):
                away = self.tools[small].cutter.radius_mm
                found = np.minimum(found, side_distances(sides, places) - away)
        return float(found.max()) + 2 * self.tolerances.offset_mm

    def _wide(self, left: Region) -> Region:
        """Return what is left without pieces so small that they lie no deeper than the detail."""
        # A piece borders on what is cut, unless it is all of a piece of the space.
        if _widths(self.region).min(initial=math.inf) <= self._most_mm:
            return left
        pieces = np.array(left.geoms, dtype=object)
        return MultiPolygon(pieces[_widths(left) > self._most_mm].tolist())

    def left_after(self, tools: Sequence[int]) -> Region:
        """Return what is left when cutters have gone where their chain sends them."""
        return self.stays(tools)[0]

    def keeps_detail(self, tools: Sequence[int], finest: int) -> bool:
        """Whether nothing that `finest` reaches stays deeper than the detail behind what is cut."""
        key = tuple(tools)
        # A finer one gets wherever this one does, up to what an offset may stray.
        finer = (self._missed.get((key, tool), math.inf) for tool in range(finest))
        if min(finer, default=math.inf) <= self.detail_mm:
            return True
        return self.missed_mm(key, finest) <= self._most_mm

    @property
    def _most_mm(self) -> float:
        return self.detail_mm + _SLIVER_MM

    def after_time(self, tools: Sequence[int]) -> float:
        """Return how long something else takes for what cutters leave, s."""
        return 0.0

    def rest_time(self, small: int, large: int) -> float:
        """Return about how long the smaller cutter takes for what the larger one leaves, s."""
        return self._rest(small, large).time_s

    def rest_share(self, small: int, large: int) -> float:
        """Return which share of what holds the part it frees."""
        return 0.0

    def rest_length(self, small: int, large: int) -> float:
        """Return how far its middle goes for that, once."""
        return self._rest(small, large).along_mm


def _along(edge: BaseGeometry) -> NDArray[np.float64]:
    """Return places along the edge of regions: on a straight wall the deepest is no corner."""
    # GEOS densifies lines: of a polygon that touches itself it would leave nothing.
    rings = shapely.get_rings(shapely.get_parts(edge))
    return shapely.get_coordinates(shapely.segmentize(rings, _STEP_MM))


def _without_specks(axis: Region) -> Region:
    """Return the axis without pieces so small that paths may leave them out, but for the largest.

    Between two necks a cutter may just fit: an offset in other steps has no such place.
    """
    pieces = list(axis.geoms)
    around = [piece.length for piece in pieces]
    least = min(_SPECK_MM, max(around, default=0.0))
    kept = [p for p, x in zip(pieces, around, strict=True) if x >= least]
    return axis if len(kept) == len(pieces) else MultiPolygon(kept)


def _widths(region: Region) -> NDArray[np.float64]:
    """Return how far apart two points of each piece may be at most, (n,)."""
    x0, y0, x1, y1 = shapely.bounds(list(region.geoms)).reshape(-1, 4).T
    return np.hypot(x1 - x0, y1 - y0)


def _lengths(lines: BaseGeometry) -> list[float]:
    """Return the lengths of the connected pieces of lines."""
    parts = [g for g in shapely.get_parts(lines).tolist() if g.length > 0]
    if not parts:
        return []
    merged = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(parts)))
    return [float(x) for x in shapely.length(merged)]
