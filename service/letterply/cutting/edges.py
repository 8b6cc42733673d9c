"""Work that runs over the edge of a part: where tabs and the edge of the sheet must mind it."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.cutting.context import SheetContext
from letterply.cutting.face.bits import carved_depth
from letterply.findings import Remedy, RemedyAction, Severity
from letterply.said import say
from letterply.shapes import EMPTY, Region, as_region
from letterply.sheets import Sheet
from letterply.stacks import Part
from letterply.units import about_mm

__all__ = ["judge_margins", "no_tabs_at"]


def no_tabs_at(context: SheetContext, part: Part, tab_mm: float) -> Region:
    """Return where work over the edge goes so deep that a tab would lose of its height.

    Args:
        context: of the sheet.
        part: its grooves limited to what the rack carves.
        tab_mm: height of a tab above the underside.

    """
    most = context.thickness - tab_mm
    deep: list[BaseGeometry] = [
        p.over for p in part.pockets if p.over is not None and p.depth_mm > most
    ]
    deep += [g.over for g in part.grooves if g.over is not None and carved_depth(context, g) > most]
    if not deep:
        return EMPTY
    return as_region(shapely.difference(shapely.union_all(deep), part.outline))


def judge_margins(context: SheetContext, sheet: Sheet, kerf_mm: float) -> None:
    """Tell of work that runs over an edge into the sheet's margin, where clamps may be.

    No farther than the outline's own cut, `kerf_mm` wide, it is no matter.
    """
    stock = sheet.stock
    margin = stock.margin_mm
    room = shapely.box(margin, margin, stock.width_mm - margin, stock.height_mm - margin)
    told: set[str] = set()
    for placed in sheet.parts:
        over = placed.part.overruns
        if not over or placed.source.name in told:
            continue
        corners = shapely.points(shapely.get_coordinates(over))
        into = float(shapely.distance(room, corners).max())
        if into <= kerf_mm:
            continue
        told.add(placed.source.name)
        goes = say("{into} into the margin of the sheet", into=about_mm(into))
        if into > margin:
            goes = say("{over} beyond the edge of the sheet", over=about_mm(into - margin))
        context.add_finding(
            "edge",
            Severity.CAUTION,
            placed,
            say("Work that runs over the edge of the part goes {goes}", goes=goes),
            Remedy(
                RemedyAction.CHANGE_STOCK,
                say("keep clamps and screws away from there, or take a larger sheet"),
            ),
            against=(round(into, 3), kerf_mm),
        )
