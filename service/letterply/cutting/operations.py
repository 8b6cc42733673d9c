"""All operations of a sheet, in order of work, with the sheet as it will be cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from letterply.catalogue import BEAM_LINE_MM, Work, missing_power
from letterply.cutting.context import SheetContext
from letterply.cutting.face.operations import (
    drill_operation,
    groove_operations,
    pocket_operations,
    scribe_operations,
    settle_grooves,
)
from letterply.cutting.model import CutterChoice, Operation, OperationKind
from letterply.cutting.profile.beam import beam_operations, choose_beam
from letterply.cutting.profile.outlines import Drilled, profile_operations
from letterply.cutting.profile.profiles import clearance
from letterply.sheets import PlacedPart, Placement, Sheet, containers_by_mark
from letterply.stacks import Hole, hole_region
from letterply.units import format_mm

__all__ = ["SheetWork", "plan_operations"]


@dataclass(frozen=True, slots=True, eq=False)
class SheetWork:
    """What is done on a sheet.

    Attributes:
        sheet: the sheet as it will be cut, its grooves limited to what the rack carves.
        operations: in order of work.
        choice: which cutters cut the outlines, and why.
        containers: mark of a part that lies in a counter -> mark of the part whose counter it is.

    """

    sheet: Sheet
    operations: list[Operation]
    choice: CutterChoice | None
    containers: Mapping[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class _FaceWork:
    """What is worked into one part, in its own frame, by stage."""

    scribes: list[Operation] = field(default_factory=list)
    floors: list[Operation] = field(default_factory=list)
    grooves: list[Operation] = field(default_factory=list)
    pockets: list[Operation] = field(default_factory=list)
    drills: list[Operation] = field(default_factory=list)


_STAGES = ("scribes", "floors", "grooves", "pockets", "drills")
_LARGEST_FIRST = ("floors", "pockets")


def plan_operations(context: SheetContext, sheet: Sheet) -> SheetWork:
    """Return all operations of a sheet, in order of work.

    The order keeps parts held until last: scribe, groove (its flat floor first), pocket, drill,
    details of the outlines, then the outlines. Each part is planned once, in its own frame, and
    its operations are moved to every copy.

    Raises:
        InputError: `cutter-too-large` when no cutter is smaller than a part.

    """
    if context.shop.machine.kind == "beam":
        return _beam_work(context, sheet)
    containers = containers_by_mark(sheet.parts)
    names = {p.mark: p.source.name for p in sheet.parts}
    nested_parts = {
        (names[nested_part], names[container]) for nested_part, container in containers.items()
    }
    copies = Counter(p.source.name for p in sheet.parts)
    firsts: dict[str, PlacedPart] = {}
    for placed in sheet.parts:
        if placed.source.name not in firsts:
            unmoved = PlacedPart.at(
                placed.mark, placed.copy, placed.source, Placement(0.0, 0.0, 0.0)
            )
            firsts[placed.source.name] = settle_grooves(context, unmoved)
    drilled: Drilled = {}
    pockets, grooves = (
        max(1, sum(len(getattr(p.source, what)) for p in sheet.parts))
        for what in ("pockets", "grooves")
    )
    faces = {
        name: _face_work(context, first, drilled, pockets=pockets, grooves=grooves)
        for name, first in firsts.items()
    }
    cut = {name: first for name, first in firsts.items() if not first.source.ready_made}
    outlines = profile_operations(
        context, tuple(cut.values()), [copies[n] for n in cut], drilled, nested_parts
    )
    parts = tuple(
        PlacedPart.at(p.mark, p.copy, firsts[p.source.name].source, p.placement)
        for p in sheet.parts
    )
    ordered: list[Operation] = []
    for stage in _STAGES:
        found = [op for p in parts for op in _moved(getattr(faces[p.source.name], stage), p)]
        if stage in _LARGEST_FIRST:
            found.sort(key=lambda o: (-context.cutter_of(o).diameter_mm, o.cutter))
        else:
            found.sort(key=lambda o: o.cutter)
        ordered += found
    cuts = [
        op
        for work in (outlines.details, outlines.profiles)
        for p in parts
        for op in _moved(work.get(p.source.name, []), p)
    ]
    # What the detail cutter does, whole outlines among it, is done before a larger one is put in.
    cuts.sort(key=lambda o: context.cutter_of(o).diameter_mm)
    ordered += cuts
    return SheetWork(replace(sheet, parts=parts), ordered, outlines.choice, containers)


def _beam_work(context: SheetContext, sheet: Sheet) -> SheetWork:
    """Return the work of a beam machine: outlines only, each part's own in one go."""
    beam, refusal = choose_beam(context)
    power = context.power
    if power is None and not all(p.source.ready_made for p in sheet.parts):
        # An invented power would burn the sheet, or leave it whole: nothing is written at all.
        context.findings.append(missing_power(context.material, context.thickness))
        return SheetWork(sheet, [], None, containers_by_mark(sheet.parts))
    choice: CutterChoice | None = None
    firsts: dict[str, list[Operation]] = {}
    ordered: list[Operation] = []
    for placed in sheet.parts:
        name = placed.source.name
        blank = context.rack.refusal(Work.POCKET, 0.0, "work on a blank")
        if placed.source.ready_made and blank is not None:
            context.refuse(placed, blank)
            continue
        if beam is None or power is None:
            if refusal is not None:
                context.refuse(placed, refusal)
            continue
        if name not in firsts:
            unmoved = PlacedPart.at(
                placed.mark, placed.copy, placed.source, Placement(0.0, 0.0, 0.0)
            )
            firsts[name], choice = beam_operations(context, unmoved, beam, power)
        ordered += _moved(firsts[name], placed)
    # Lines are drawn while nothing has come loose.
    ordered.sort(key=lambda o: o.kind is not OperationKind.SCRIBE)
    lined = replace(sheet, parts=tuple(_as_beam_draws(p) for p in sheet.parts))
    return SheetWork(lined, ordered, choice, containers_by_mark(sheet.parts))


def _as_beam_draws(placed: PlacedPart) -> PlacedPart:
    """Return a part with lines of the depth that stands for those of a beam."""
    if not placed.source.scribes:
        return placed
    scribes = tuple(replace(s, depth_mm=BEAM_LINE_MM) for s in placed.source.scribes)
    source = replace(placed.source, scribes=scribes)
    return PlacedPart.at(placed.mark, placed.copy, source, placed.placement)


def _moved(operations: Sequence[Operation], placed: PlacedPart) -> list[Operation]:
    p = placed.placement
    return [op.moved(placed.mark, p.angle_deg, p.x_mm, p.y_mm) for op in operations]


def _face_work(
    context: SheetContext, placed: PlacedPart, drilled: Drilled, *, pockets: int, grooves: int
) -> _FaceWork:
    """Return what is worked into a part; its drilled through holes go into `drilled`.

    `pockets` and `grooves` are how many there are on the sheet.
    """
    work = _FaceWork(scribes=scribe_operations(context, placed))
    for groove in placed.part.grooves:
        floor, walls = groove_operations(context, placed, groove, sharing=grooves)
        work.floors += floor
        work.grooves += walls
    for pocket in placed.part.pockets:
        work.pockets += pocket_operations(
            context, placed, pocket.whole, pocket.depth_mm, pocket, sharing=pockets
        )
    for hole in placed.part.holes:
        drill = drill_operation(context, placed, hole)
        if drill is not None:
            work.drills.append(drill)
            drilled.setdefault(placed.part.name, []).append(hole)
        elif hole.depth_mm is None:
            _require_cutter(context, placed, hole)
        else:
            region = hole_region(
                hole.x_mm, hole.y_mm, hole.diameter_mm, context.tolerances.flatten_mm
            )
            work.pockets += pocket_operations(context, placed, region, hole.depth_mm, hole)
    return work


def _require_cutter(context: SheetContext, placed: PlacedPart, hole: Hole) -> None:
    """Note a through hole that is neither drilled nor wide enough for an end mill."""
    what = f"a hole of {format_mm(hole.diameter_mm)} through the sheet"
    room = hole.diameter_mm - 2 * clearance(context.tolerances)
    refusal = context.rack.hole_refusal(hole.diameter_mm, context.depth, what, room_mm=room)
    if refusal is not None:
        context.refuse(placed, refusal)
