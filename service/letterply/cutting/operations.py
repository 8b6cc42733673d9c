"""All operations of a sheet, in order of work, with the sheet as it will be cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from letterply.cutting.face import (
    drill_operation,
    groove_operations,
    pocket_operations,
    scribe_operations,
    settle_grooves,
)
from letterply.cutting.model import Operation
from letterply.cutting.outline import profile_operations
from letterply.cutting.workbench import Workbench
from letterply.sheets.model import PlacedPart, Sheet
from letterply.stacks.model import Hole
from letterply.stacks.plates import hole_region
from letterply.units import format_mm

__all__ = ["plan_operations"]


def plan_operations(bench: Workbench, sheet: Sheet) -> tuple[Sheet, list[Operation]]:
    """Return the sheet, its grooves limited to what the rack carves, and its operations.

    The order keeps parts held until last: scribe, groove (its flat floor first), pocket, drill,
    details of the outlines, then the outlines.

    Raises:
        InputError: `cutter-too-large` when no cutter is smaller than a part.

    """
    sheet = replace(sheet, parts=tuple(settle_grooves(bench, p) for p in sheet.parts))
    scribes: list[Operation] = []
    floors: list[Operation] = []
    grooves: list[Operation] = []
    pockets: list[Operation] = []
    drills: list[Operation] = []
    drilled: dict[str, list[Hole]] = {}
    for placed in sheet.parts:
        scribes += scribe_operations(bench, placed)
        for groove in placed.part.grooves:
            floor, walls = groove_operations(bench, placed, groove)
            floors += floor
            grooves += walls
        for pocket in placed.part.pockets:
            pockets += pocket_operations(bench, placed, pocket.region, pocket.depth_mm, pocket)
        for hole in placed.part.holes:
            drill = drill_operation(bench, placed, hole)
            if drill is not None:
                drills.append(drill)
                drilled.setdefault(placed.mark, []).append(hole)
            elif hole.depth_mm is None:
                _require_cutter(bench, placed, hole)
            else:
                region = hole_region(
                    hole.x_mm, hole.y_mm, hole.diameter_mm, bench.tolerances.flatten_mm
                )
                pockets += pocket_operations(bench, placed, region, hole.depth_mm, hole)
    details, profiles = profile_operations(bench, sheet, drilled)
    largest_first = _largest_first(bench)
    return sheet, [
        *sorted(scribes, key=lambda o: o.cutter),
        *sorted(floors, key=largest_first),
        *sorted(grooves, key=lambda o: o.cutter),
        *sorted(pockets, key=largest_first),
        *sorted(drills, key=lambda o: o.cutter),
        *details,
        *profiles,
    ]


def _require_cutter(bench: Workbench, placed: PlacedPart, hole: Hole) -> None:
    """Note a through hole that is neither drilled nor wide enough for an end mill."""
    smallest = min((c.diameter_mm for c in bench.flat(bench.depth)), default=math.inf)
    if smallest + 2 * bench.tolerances.offset_mm > hole.diameter_mm:
        size = format_mm(hole.diameter_mm)
        bench.uncut(placed, f"a hole of {size} through the sheet", f"a {size} drill")


def _largest_first(bench: Workbench) -> Callable[[Operation], tuple[float, str]]:
    def key(operation: Operation) -> tuple[float, str]:
        return -bench.cutter_of(operation).diameter_mm, operation.cutter

    return key
