"""How a bit would carve a groove: its depth, the flat floor that is left, and what it takes.

All mm, s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from letterply.catalogue import Cutter, Work
from letterply.cutting.choice.reach import LIFT_S
from letterply.cutting.choice.sets import few
from letterply.cutting.context import SheetContext
from letterply.cutting.face.floors import clearing_length
from letterply.cutting.face.groove import (
    axis_profiles,
    floor_region,
    floor_step,
    groove_depth,
    widest_radius,
)
from letterply.cutting.profile.profiles import clearance
from letterply.shapes import EMPTY, ROUNDING, Region, as_region, offset
from letterply.stacks import Groove

__all__ = ["USUAL_MM", "BitWay", "best_ways", "carving_time", "floor_time", "is_named", "ways_of"]

_LEAST_FLOOR_MM = 0.8
"""Stock left under a groove; common practice, no source."""

_USUAL_SHARE = 0.5
"""Share of the stock that a groove takes of which neither bit nor depth is named; common practice,
no source."""

USUAL_MM = 5.0
"""So deep it goes at most; common practice, no source."""

_AS_DEEP_MM = 0.05
"""Bits whose grooves differ by less are as deep as each other: a usual tip is twice that wide."""


@dataclass(frozen=True, slots=True, eq=False)
class BitWay:
    """How a bit carves a groove.

    Attributes:
        cutter: the bit.
        depth_mm: how deep below where the groove starts.
        limit_mm: where its floor goes flat; None where walls meet.
        as_asked: whether walls meet, or the floor lies at the depth that was asked for.
        usual: whether it is no deeper than is usual where neither bit nor depth is named.
        floor: the flat floor.

    """

    cutter: Cutter
    depth_mm: float
    limit_mm: float | None
    as_asked: bool
    usual: bool
    floor: Region


def ways_of(context: SheetContext, groove: Groove) -> list[BitWay]:
    """Return how the bits of the rack that may carve a groove do so."""
    bits = context.rack.able(Work.GROOVE, groove.start_mm, angle_deg=groove.angle_deg)
    widest = widest_radius(groove.whole) if bits else 0.0
    return [_way(context, groove, cutter, widest) for cutter in few(bits)]


def _way(context: SheetContext, groove: Groove, cutter: Cutter, widest_mm: float) -> BitWay:
    asked = math.inf if groove.max_depth_mm is None else groove.max_depth_mm
    stock = context.thickness - groove.start_mm
    usual = stock if is_named(groove) else min(_USUAL_SHARE * stock, USUAL_MM)
    bears = min(
        groove_depth(cutter.radius_mm, cutter),
        stock - _LEAST_FLOOR_MM,
        cutter.cutting_length_mm - groove.start_mm,
    )
    meeting = groove_depth(widest_mm, cutter)
    as_asked = min(meeting, asked) <= bears + ROUNDING
    limit = groove.max_depth_mm if as_asked else min(bears, asked, usual)
    floor = EMPTY
    if limit is not None and meeting > limit:
        floor = floor_region(groove.whole, cutter, limit, context.tolerances)
    depth = meeting if limit is None else min(meeting, limit)
    return BitWay(cutter, depth, limit, as_asked, depth <= usual + ROUNDING, floor)


def is_named(groove: Groove) -> bool:
    """Whether a groove names its bit or its depth."""
    return groove.angle_deg is not None or groove.max_depth_mm is not None


def best_ways(ways: Sequence[BitWay]) -> list[BitWay]:
    """Return the ways among which time decides."""
    able = [way for way in ways if way.as_asked]
    if not able:
        # Too wide or too deep for every bit: flat where the bluntest one ends, which leaves least.
        return [max(ways, key=lambda w: (w.cutter.included_angle_deg, w.cutter.key))]
    usual = [way for way in able if way.usual]
    # Walls that meet look carved: rather so a little deeper than flat.
    deepest = max((w.depth_mm for w in usual), default=min(w.depth_mm for w in able))
    return [way for way in usual or able if abs(way.depth_mm - deepest) <= _AS_DEEP_MM]


def carving_time(context: SheetContext, groove: Groove, way: BitWay) -> float:
    """Return about how long a bit takes along the middle lines, and round its flat floor.

    What has come to its depth in a pass is left out of the next ones, each run with a lift.
    """
    cutter, limit = way.cutter, math.inf if way.limit_mm is None else way.limit_mm
    feeds = context.feeds(cutter, way.depth_mm)
    passes = max(1, math.ceil(way.depth_mm / feeds.depth_per_pass_mm - ROUNDING))
    step = max(way.depth_mm, ROUNDING) / passes
    length, runs = 0.0, 0
    for points, radii in axis_profiles(groove.whole, context.tolerances):
        depths = np.maximum(radii - cutter.tip_diameter_mm / 2, 0) / cutter.half_angle_tan
        middle = (depths[1:] + depths[:-1]) / 2
        lengths = np.hypot(*np.diff(points, axis=0).T)[middle < limit]
        if not len(lengths):
            continue
        times = max(1, math.ceil(min(float(depths.max()), limit) / step - ROUNDING))
        length += float(lengths.sum()) * times
        runs += times
    length += passes * float(shapely.length(shapely.boundary(way.floor)))
    runs += passes * len(way.floor.geoms)
    return 60 * length / feeds.feed_mm_per_min + LIFT_S * runs


def floor_time(context: SheetContext, groove: Groove, way: BitWay) -> float:
    """Return about how long the end mills take for a flat floor, and the bit for what they leave.

    Each clears what larger ones left; how they share it is chosen later, for all floors at once.
    """
    if way.floor.is_empty:
        return 0.0
    depth = groove.start_mm + way.depth_mm
    tolerances = context.tolerances
    feeds = context.feeds(way.cutter, way.depth_mm)
    passes = max(1, math.ceil(way.depth_mm / feeds.depth_per_pass_mm - ROUNDING))
    bit_s = 60 * passes / floor_step(way.cutter) / feeds.feed_mm_per_min
    machine = context.shop.machine
    change = machine.tool_change_s + machine.spin_up_s
    if bit_s * way.floor.area < change:
        return bit_s * way.floor.area  # an end mill would take longer to put in
    left, time = way.floor, 0.0
    for cutter in reversed(context.flat(depth)):
        axis = offset(left, -cutter.radius_mm - clearance(tolerances), tolerances.offset_mm)
        if axis.is_empty:
            continue
        feeds = context.feeds(cutter, depth)
        passes = max(1, math.ceil(depth / feeds.depth_per_pass_mm - ROUNDING))
        length = clearing_length(axis, cutter)
        time += 60 * length * passes / feeds.feed_mm_per_min + LIFT_S * len(axis.geoms)
        reached = shapely.buffer(axis, cutter.radius_mm + 2 * clearance(tolerances))
        left = as_region(shapely.difference(left, reached))
    return time + bit_s * left.area
