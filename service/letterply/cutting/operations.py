"""All operations of a sheet, in order of work, with the sheet as it will be cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from letterply.catalogue import BEAM_LINE_MM, Work, missing_power
from letterply.cutting.choice.sets import Chain
from letterply.cutting.context import SheetContext
from letterply.cutting.face.bits import settle_grooves
from letterply.cutting.face.clearing import FloorJob, choose_floor_cutters
from letterply.cutting.face.operations import (
    drill_operation,
    groove_floor,
    groove_operations,
    pocket_floor,
    pocket_operations,
    scribe_operations,
)
from letterply.cutting.model import CutterChoice, Operation, OperationKind
from letterply.cutting.profile.beam import beam_operations, choose_beam
from letterply.cutting.profile.outlines import Drilled, profile_operations
from letterply.cutting.profile.profiles import clearance
from letterply.said import say
from letterply.sheets import PlacedPart, Placement, Sheet, containers_by_mark
from letterply.stacks import Hole, Part, hole_region
from letterply.units import format_mm

__all__ = ["SheetWork", "plan_operations"]


@dataclass(frozen=True, slots=True, eq=False)
class SheetWork:
    """What is done on a sheet.

    Attributes:
        sheet: the sheet as it will be cut, its grooves limited to what the rack carves.
        operations: in order of work.
        choices: which cutters do what, why, and what was compared: outlines, floors, grooves.
        containers: mark of a part that lies in a counter -> mark of the part whose counter it is.

    """

    sheet: Sheet
    operations: list[Operation]
    choices: tuple[CutterChoice, ...]
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
            firsts[placed.source.name] = unmoved
    firsts, groove_choice = settle_grooves(context, firsts, copies)
    floors = {name: _floors(context, p.part, copies[name]) for name, p in firsts.items()}
    jobs = [job for some in floors.values() for job in some.jobs]
    cleared, floor_choice = choose_floor_cutters(context, jobs)
    chains = dict(zip(jobs, cleared, strict=True))
    drilled: Drilled = {}
    faces = {
        name: _face_work(context, first, floors[name], chains, drilled)
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
    choices = tuple(c for c in (outlines.choice, floor_choice, groove_choice) if c is not None)
    return SheetWork(replace(sheet, parts=parts), ordered, choices, containers)


def _beam_work(context: SheetContext, sheet: Sheet) -> SheetWork:
    """Return the work of a beam machine: outlines only, each part's own in one go."""
    beam, refusal = choose_beam(context)
    power = context.power
    if power is None and not all(p.source.ready_made for p in sheet.parts):
        # An invented power would burn the sheet, or leave it whole: nothing is written at all.
        context.findings.append(missing_power(context.material, context.thickness))
        return SheetWork(sheet, [], (), containers_by_mark(sheet.parts))
    choice: CutterChoice | None = None
    firsts: dict[str, list[Operation]] = {}
    ordered: list[Operation] = []
    for placed in sheet.parts:
        name = placed.source.name
        blank = context.rack.refusal(Work.POCKET, 0.0, say("work on a blank"))
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
    choices = () if choice is None else (choice,)
    return SheetWork(lined, ordered, choices, containers_by_mark(sheet.parts))


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


@dataclass(frozen=True, slots=True, eq=False)
class _Floors:
    """The floors of a part: of its grooves (None where the walls meet), pockets and blind holes."""

    grooves: tuple[FloorJob | None, ...]
    pockets: tuple[FloorJob, ...]
    holes: Mapping[int, FloorJob]

    @property
    def jobs(self) -> list[FloorJob]:
        grooves = [f for f in self.grooves if f is not None]
        return [*grooves, *self.pockets, *self.holes.values()]


def _floors(context: SheetContext, part: Part, count: int) -> _Floors:
    """Return the floors of a part of which there are `count` copies."""
    return _Floors(
        tuple(groove_floor(context, g, part.name, count) for g in part.grooves),
        tuple(pocket_floor(context, p, part.name, count) for p in part.pockets),
        {
            k: FloorJob(
                part.name,
                count,
                hole_region(h.x_mm, h.y_mm, h.diameter_mm, context.tolerances.flatten_mm),
                h.depth_mm,
                context.detail(part.detail_mm),
            )
            for k, h in enumerate(part.holes)
            if h.depth_mm is not None
        },
    )


def _face_work(
    context: SheetContext,
    placed: PlacedPart,
    floors: _Floors,
    chains: Mapping[FloorJob, Chain | None],
    drilled: Drilled,
) -> _FaceWork:
    """Return what is worked into a part; its drilled through holes go into `drilled`.

    `chains` say how each of its floors is cleared.
    """
    part = placed.part
    work = _FaceWork(scribes=scribe_operations(context, placed))
    for groove, floor in zip(part.grooves, floors.grooves, strict=True):
        chain = chains[floor] if floor is not None else None
        cleared, walls = groove_operations(context, placed, groove, floor, chain)
        work.floors += cleared
        work.grooves += walls
    for pocket, floor in zip(part.pockets, floors.pockets, strict=True):
        work.pockets += pocket_operations(context, placed, floor, pocket, chains[floor])
    for number, hole in enumerate(part.holes):
        drill = drill_operation(context, placed, hole)
        if drill is not None:
            work.drills.append(drill)
            drilled.setdefault(part.name, []).append(hole)
        elif hole.depth_mm is None:
            _require_cutter(context, placed, hole)
        else:
            floor = floors.holes[number]
            work.pockets += pocket_operations(context, placed, floor, hole, chains[floor])
    return work


def _require_cutter(context: SheetContext, placed: PlacedPart, hole: Hole) -> None:
    """Note a through hole that is neither drilled nor wide enough for an end mill."""
    what = say("a hole of {diameter} through the sheet", diameter=format_mm(hole.diameter_mm))
    room = hole.diameter_mm - 2 * clearance(context.tolerances)
    refusal = context.rack.hole_refusal(hole.diameter_mm, context.depth, what, room_mm=room)
    if refusal is not None:
        context.refuse(placed, refusal)
