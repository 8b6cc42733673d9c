"""Work on the face of a part: scribed lines, grooves, pockets and drilled holes as operations."""

from __future__ import annotations

import math
from dataclasses import replace

import shapely

from letterply.catalogue import Cutter, Work, tip_length
from letterply.cutting.choice.sets import Chain
from letterply.cutting.context import SheetContext
from letterply.cutting.face.clearing import FloorJob, clearings
from letterply.cutting.face.drill import drill_hole, in_short_order, scribe_line
from letterply.cutting.face.groove import (
    carve_groove,
    floor_region,
    floor_step,
    groove_depth,
    widest_radius,
)
from letterply.cutting.model import Operation, OperationKind
from letterply.findings import Remedy, RemedyAction, Severity
from letterply.names import in_sentence
from letterply.shapes import (
    EMPTY,
    ROUNDING,
    Region,
    as_region,
    deepest_leftover,
    leftover_depths,
)
from letterply.sheets import PlacedPart
from letterply.stacks import INLAY_DETAIL_MM, Groove, Hole, Part, Pocket
from letterply.units import about_mm, format_mm

__all__ = [
    "carved_depth",
    "drill_operation",
    "groove_floor",
    "groove_operations",
    "pocket_floor",
    "pocket_operations",
    "scribe_operations",
    "settle_grooves",
]

_USUAL_BITS = ((0.6, 30.0), (4.0, 60.0), (math.inf, 90.0))
"""Largest radius of a groove -> V-bit taken when several would do: a slender one for fine
lettering, a blunt one for wide chamfered lines; common practice, no source."""

_LAST_MM = 0.2
"""What the last of two passes takes off a groove: 0.1 mm to 0.3 mm, common practice, no source."""

_LEAST_FLOOR_MM = 0.8
"""Stock left under a groove; common practice, no source."""


def settle_grooves(context: SheetContext, placed: PlacedPart) -> PlacedPart:
    """Return the part with its grooves limited to what the rack can carve, their bits chosen.

    Where the walls would meet deeper than the bit reaches or the stock bears, the floor goes
    flat there: that is a finding, and what the proof is held against.
    """
    settled: list[tuple[float | None, float | None]] = []
    for number, groove in enumerate(placed.part.grooves):
        chosen = _bit(context, groove)
        limit = groove.max_depth_mm if chosen is None else chosen[1]
        if limit != groove.max_depth_mm and limit is not None and chosen is not None:
            at = placed.source.grooves[number].region.representative_point()
            depth = groove_depth(widest_radius(groove.whole), chosen[0])
            context.add_finding(
                "depth",
                Severity.CAUTION,
                placed,
                f"The walls of a groove would meet deeper than {format_mm(limit)}: there it gets "
                "a flat floor",
                Remedy(
                    RemedyAction.LIMIT_DEPTH,
                    f'set "floor_at" to {format_mm(limit)} or less',
                    round(limit, 3),
                    "mm",
                ),
                where=(float(at.x), float(at.y)),
                against=(round(depth, 4), round(limit, 4)),
            )
        # The bit stays: with its limit a groove would suit a sharper one, and its walls slope
        # as this one cuts them.
        angle = chosen[0].included_angle_deg if chosen else groove.angle_deg
        settled.append((limit, angle))
    if not settled:
        return placed

    def with_limits(part: Part) -> Part:
        pairs = zip(part.grooves, settled, strict=True)
        made = tuple(replace(g, max_depth_mm=m, angle_deg=a) for g, (m, a) in pairs)
        return replace(part, grooves=made)

    return replace(placed, part=with_limits(placed.part), source=with_limits(placed.source))


def _bit(context: SheetContext, groove: Groove) -> tuple[Cutter, float | None] | None:
    """Return the V-bit for a groove and the depth at which its floor goes flat, if it does."""
    bits = context.rack.able(Work.GROOVE, groove.start_mm, angle_deg=groove.angle_deg)
    if not bits:
        return None
    widest = widest_radius(groove.whole)
    deepest = context.thickness - _LEAST_FLOOR_MM - groove.start_mm
    limit = groove.max_depth_mm

    def bound(cutter: Cutter) -> float:
        reach = groove_depth(cutter.radius_mm, cutter)
        most = min(reach, deepest, cutter.cutting_length_mm - groove.start_mm)
        return most if limit is None else min(most, limit)

    # A bit that carves the groove to where its walls meet, or to the limit that was asked for.
    usable = [
        c for c in bits if min(groove_depth(widest, c), limit or math.inf) <= bound(c) + ROUNDING
    ]
    if usable:
        usual = next(angle for most, angle in _USUAL_BITS if widest <= most)
        best = min(usable, key=lambda c: (abs(c.included_angle_deg - usual), c.key))
        return best, limit
    # Too wide or too deep for every bit: flat at what the bluntest one reaches.
    bluntest = max(bits, key=lambda c: (c.included_angle_deg, c.key))
    return bluntest, bound(bluntest)


def carved_depth(context: SheetContext, groove: Groove) -> float:
    """Return how deep below the face a groove is carved, mm; 0 where no bit does it."""
    chosen = _bit(context, groove)
    if chosen is None:
        return 0.0
    cutter, limit = chosen
    depth = groove_depth(widest_radius(groove.whole), cutter)
    return groove.start_mm + (depth if limit is None else min(depth, limit))


def scribe_operations(context: SheetContext, placed: PlacedPart) -> list[Operation]:
    """Return the drawing of a part's lines with the finest drag point that may draw them."""
    found = []
    for scribe in placed.part.scribes:
        points = context.rack.able(Work.SCRIBE, scribe.depth_mm)
        if not points:
            refusal = context.rack.refusal(Work.SCRIBE, scribe.depth_mm, "scribed lines")
            if refusal is not None:
                context.refuse(placed, refusal)
            continue
        cutter = points[0]
        paths = tuple(
            scribe_line(line, scribe.depth_mm, context.tolerances, arcs=context.arcs)
            for line in in_short_order(scribe.whole)
        )
        found.append(
            Operation(
                OperationKind.SCRIBE,
                cutter.key,
                placed.mark,
                paths,
                scribe.depth_mm,
                context.feeds(cutter, scribe.depth_mm),
                note="the spindle stands still",
            )
        )
    return found


def groove_floor(context: SheetContext, groove: Groove, name: str, count: int) -> FloorJob | None:
    """Return the flat floor of a groove; None where its walls meet, or no bit carves it."""
    chosen = _bit(context, groove)
    cutter, limit = (None, None) if chosen is None else chosen
    if cutter is None or limit is None:
        return None
    region = floor_region(groove.whole, cutter, limit, context.tolerances)
    if region.is_empty:
        return None
    feeds = context.feeds(cutter, limit)
    return FloorJob(
        name,
        count,
        region,
        groove.start_mm + limit,
        context.detail(groove.detail_mm),
        60 / floor_step(cutter) / feeds.feed_mm_per_min,
    )


def pocket_floor(context: SheetContext, pocket: Pocket, name: str, count: int) -> FloorJob:
    """Return the floor of a pocket; that of an inlay so sharp that its plug goes in."""
    detail = pocket.bears(context.shop.detail_mm)
    return FloorJob(name, count, pocket.whole, pocket.depth_mm, detail)


def groove_operations(
    context: SheetContext,
    placed: PlacedPart,
    groove: Groove,
    floor: FloorJob | None,
    chain: Chain | None,
) -> tuple[list[Operation], list[Operation]]:
    """Return the clearing of a groove's flat floor, and the carving.

    Args:
        context: of the sheet.
        placed: the part.
        groove: the groove.
        floor: its flat floor, where it has one.
        chain: what clears it; None where no cutter goes in.

    """
    chosen = _bit(context, groove)
    if chosen is None:
        refusal = context.rack.refusal(
            Work.GROOVE, groove.start_mm, "a groove", angle_deg=groove.angle_deg
        )
        if refusal is not None:
            context.refuse(placed, refusal)
        return [], []
    cutter, limit = chosen
    feeds = context.feeds(cutter, limit or groove_depth(widest_radius(groove.whole), cutter))
    floors: list[Operation] = []
    rest = EMPTY if floor is None else floor.region
    if floor is not None and chain is not None:
        floors = pocket_operations(context, placed, floor, None, chain, note="floor of a groove")
        depths = leftover_depths(chain.stays, floor.region)
        rest = as_region(
            shapely.union_all(
                [p for p, d in zip(chain.stays.geoms, depths, strict=True) if d > floor.detail_mm]
            )
        )
    cut = carve_groove(
        groove.whole,
        cutter,
        feeds.depth_per_pass_mm,
        context.tolerances,
        max_depth_mm=limit,
        start_mm=groove.start_mm,
        last_mm=_LAST_MM if context.shop.groove_passes > 1 else 0.0,
        floor_rest=rest,
    )
    carving = Operation(
        OperationKind.GROOVE, cutter.key, placed.mark, cut.paths, cut.depth_mm, feeds
    )
    return floors, [carving]


def pocket_operations(
    context: SheetContext,
    placed: PlacedPart,
    floor: FloorJob,
    source: Pocket | Hole | None,
    chain: Chain | None,
    *,
    note: str = "",
) -> list[Operation]:
    """Clear a floor with the cutters of its chain; `source` is what it belongs to."""
    depth = floor.depth_mm
    done = [] if chain is None else clearings(context, floor.region, depth, chain)
    if chain is not None and isinstance(source, Pocket) and source.purpose == "inlay":
        _judge_inlay(context, placed, floor.region, chain.stays, done[-1].cutter)
    if not done and source is not None:
        what = "a blind hole" if isinstance(source, Hole) else "a pocket"
        what = f"{what} {format_mm(depth)} deep"
        wide = 2 * float(shapely.maximum_inscribed_circle(floor.region).length)
        refusal = context.rack.refusal(Work.POCKET, depth, what)
        context.refuse(placed, refusal or context.rack.narrow_refusal(wide, depth, what))
    return [
        Operation(
            OperationKind.POCKET,
            one.cutter.key,
            placed.mark,
            one.paths,
            depth,
            one.feeds,
            note=note,
        )
        for one in done
    ]


def _judge_inlay(
    context: SheetContext, placed: PlacedPart, region: Region, left: Region, smallest: Cutter
) -> None:
    """Note where the plug of an inlay would sit on what the cutters leave in its recess."""
    deep, piece = deepest_leftover(left, region)
    if deep <= INLAY_DETAIL_MM or piece is None:
        return
    radius = smallest.radius_mm
    context.add_finding(
        "corner",
        Severity.CAUTION,
        placed,
        f"The inlay does not go into the corners of its recess: the {in_sentence(smallest.name)} "
        f"leaves them round by up to {about_mm(deep)}",
        Remedy(
            RemedyAction.SWAP_CUTTER,
            f'set "corner" of the recess to {format_mm(radius)}, so that both get round corners',
            round(radius, 4),
            "mm",
        ),
        against=(round(deep, 4), INLAY_DETAIL_MM),
    )


def drill_operation(context: SheetContext, placed: PlacedPart, hole: Hole) -> Operation | None:
    """Return the drilling of a hole, or None when it has to be pocketed or profiled."""
    cutter = context.rack.drill_for(hole.diameter_mm, context.depth)
    if cutter is None or hole.depth_mm is not None:
        return None
    depth = context.depth + tip_length(cutter)
    feeds = context.feeds(cutter, depth)
    path = drill_hole(hole.x_mm, hole.y_mm, depth, feeds.depth_per_pass_mm)
    return Operation(
        OperationKind.DRILL, cutter.key, placed.mark, (path,), depth, feeds, inside=True
    )
