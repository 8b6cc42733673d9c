"""Work on the face of a part: scribed lines, grooves, pockets and drilled holes as operations."""

from __future__ import annotations

import math

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
from letterply.said import say
from letterply.shapes import (
    EMPTY,
    ROUNDING,
    Region,
    as_region,
    deepest_leftover,
    leftover_depths,
)
from letterply.sheets import PlacedPart
from letterply.stacks import INLAY_DETAIL_MM, Groove, Hole, Pocket
from letterply.units import about_mm, format_mm

__all__ = [
    "drill_operation",
    "groove_floor",
    "groove_operations",
    "pocket_floor",
    "pocket_operations",
    "scribe_operations",
]

_LAST_MM = 0.2
"""What the last of two passes takes off a groove: 0.1 mm to 0.3 mm, common practice, no source."""


def scribe_operations(context: SheetContext, placed: PlacedPart) -> list[Operation]:
    """Return the drawing of a part's lines with the finest drag point that may draw them."""
    found = []
    for scribe in placed.part.scribes:
        points = context.rack.able(Work.SCRIBE, scribe.depth_mm)
        if not points:
            refusal = context.rack.refusal(Work.SCRIBE, scribe.depth_mm, say("scribed lines"))
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
    cutter, limit = context.bits.get(groove), groove.max_depth_mm
    if cutter is None or limit is None:
        return None
    region = floor_region(groove.whole, cutter, limit, context.tolerances)
    if region.is_empty:
        return None
    feeds = context.feeds(cutter, limit)
    passes = math.ceil(limit / feeds.depth_per_pass_mm - ROUNDING)
    return FloorJob(
        name,
        count,
        region,
        groove.start_mm + limit,
        context.detail(groove.detail_mm),
        60 * passes / floor_step(cutter) / feeds.feed_mm_per_min,
        cutter.key,
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
    cutter, limit = context.bits.get(groove), groove.max_depth_mm
    if cutter is None:
        refusal = context.rack.refusal(
            Work.GROOVE, groove.start_mm, say("a groove"), angle_deg=groove.angle_deg
        )
        if refusal is not None:
            context.refuse(placed, refusal)
        return [], []
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
        what = say("a blind hole") if isinstance(source, Hole) else say("a pocket")
        what = say("{what} {depth} deep", what=what, depth=format_mm(depth))
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
        say(
            "The inlay does not go into the corners of its recess: the {cutter} leaves them round "
            "by up to {deep}",
            cutter=in_sentence(smallest.name),
            deep=about_mm(deep),
        ),
        Remedy(
            RemedyAction.SWAP_CUTTER,
            say(
                'set "corner" of the recess to {radius}, so that both get round corners',
                radius=format_mm(radius),
            ),
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
