"""Which cutters clear a pocket, one after the other: the quickest way through the rack.

What a cutter leaves is known from plane geometry, so the cutters that are worth anything are found
first: the largest that reaches most of the room, then each smaller one that gets at enough of what
is left. The last of them decides what stays uncut. Those between save time or cost it, since each
asks for a change of cutter: every way from the first to the last is compared. All mm, s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import shapely

from letterply.catalogue import Cutter
from letterply.cutting.context import SheetContext
from letterply.cutting.face.pocket import PocketCut, clear_pocket, reached_by
from letterply.cutting.model import Feeds, Toolpath
from letterply.cutting.profile.profiles import clearance
from letterply.shapes import ROUNDING, Region, as_region, leftover

__all__ = ["Clearing", "clearings", "left_by"]

_MOST = 0.5
"""The first cutter reaches this share of what the smallest one does."""

_GAIN = 0.2
_GAIN_MM2 = 0.02
"""A later one gets at this share of what is left, and at this area."""

_LIFT_S = 2.0
"""Time between two paths: up, over and down again; own measurement, on small letters."""


@dataclass(frozen=True, slots=True, eq=False)
class Clearing:
    """What one cutter does of a pocket.

    Attributes:
        cutter: which.
        feeds: its feeds.
        paths: where it goes.

    """

    cutter: Cutter
    feeds: Feeds
    paths: tuple[Toolpath, ...]

    @property
    def time_s(self) -> float:
        """About how long it takes, without slowing down in corners."""
        length = sum(path.length_mm for path in self.paths)
        return 60 * length / self.feeds.feed_mm_per_min + _LIFT_S * len(self.paths)


def left_by(context: SheetContext, region: Region, radius_mm: float) -> Region:
    """Return what a cutter leaves whose paths keep a tolerance away from the walls."""
    reach = radius_mm + clearance(context.tolerances)
    return leftover(region, reach, context.tolerances.offset_mm)


def _pocket_cut(context: SheetContext, cutter: Cutter, feeds: Feeds, depth_mm: float) -> PocketCut:
    return PocketCut(
        cutter.radius_mm,
        depth_mm,
        feeds.depth_per_pass_mm,
        context.tolerances,
        conventional=not context.climb,
        arcs=context.arcs,
        lift_mm=context.shop.machine.safe_height_mm,
    )


def clearings(
    context: SheetContext, region: Region, depth_mm: float, *, sharing: int = 1
) -> list[Clearing]:
    """Return how a region is cleared, largest cutter first; empty when none fits.

    Args:
        context: rack and tolerances.
        region: what is cleared, to the walls.
        depth_mm: how deep.
        sharing: how many pockets of the sheet share a change of cutter.

    """
    worthy = _worthy(
        context, region, sorted(context.flat(depth_mm), key=lambda c: (-c.diameter_mm, c.key))
    )
    change = context.shop.machine.tool_change_s / sharing

    @cache
    def left(after: int) -> Region:
        return left_by(context, region, worthy[after].radius_mm)

    @cache
    def step(before: int, number: int) -> Clearing | None:
        """Return what a cutter does after another one; -1 is none."""
        cutter, fresh = worthy[number], before < 0
        feeds = context.feeds(cutter, depth_mm, corners=not fresh)
        cut = _pocket_cut(context, cutter, feeds, depth_mm)
        if fresh:
            paths = clear_pocket(region, cut)
        else:
            paths = clear_pocket(left(before), cut, within=region)
        return Clearing(cutter, feeds, tuple(paths)) if paths else None

    def least(before: int, number: int) -> float:
        """Return less than a step takes: no cutter clears more than it is wide."""
        cutter = worthy[number]
        todo = region if before < 0 else left(before)
        area = as_region(
            shapely.intersection(todo, reached_by(region, cutter.radius_mm, context.tolerances))
        ).area
        feeds = context.feeds(cutter, depth_mm, corners=before >= 0)
        passes = math.ceil(depth_mm / feeds.depth_per_pass_mm - ROUNDING)
        return 60 * passes * area / cutter.diameter_mm / feeds.feed_mm_per_min + change

    def cost(done: Clearing | None) -> float:
        return math.inf if done is None else done.time_s + change

    # All of them in turn is one way: no step that alone takes longer is looked at.
    most = sum(cost(step(n - 1, n)) for n in range(len(worthy)))
    entry_options: list[tuple[float, list[Clearing]]] = []
    for number in range(len(worthy)):
        best: tuple[float, list[Clearing]] = (math.inf, [])
        for before in range(number - 1, -2, -1):
            so_far, done = (0.0, []) if before < 0 else entry_options[before]
            if so_far >= best[0] or (
                before < number - 1 and so_far + least(before, number) >= min(best[0], most)
            ):
                continue
            new = step(before, number)
            if new is not None and so_far + cost(new) < best[0]:
                best = so_far + cost(new), [*done, new]
        entry_options.append(best)
    return entry_options[-1][1] if entry_options else []


def _worthy(context: SheetContext, region: Region, cutters: Sequence[Cutter]) -> list[Cutter]:
    """Return the cutters, largest first, that get at enough of what those before them left."""
    if not cutters:
        return []
    most = reached_by(region, cutters[-1].radius_mm, context.tolerances).area
    found: list[Cutter] = []
    left = region
    for cutter in cutters:
        reached = reached_by(region, cutter.radius_mm, context.tolerances)
        if reached.is_empty:
            continue
        if found:
            gained = as_region(shapely.intersection(reached, left)).area
            worth = gained > max(_GAIN * left.area, _GAIN_MM2)
        else:
            worth = reached.area >= _MOST * most
        if worth:
            found.append(cutter)
            left = left_by(context, region, cutter.radius_mm)
            if left.is_empty:
                break
    return found
