"""Cutting parts out of their sheet: the operations along their outlines, inside before outside."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, replace

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter
from letterply.cutting.context import SheetContext
from letterply.cutting.edges import no_tabs_at
from letterply.cutting.model import CutterChoice, Feeds, Operation, OperationKind, Toolpath
from letterply.cutting.profile.cutter_choice import (
    ProfileChoice,
    choose_profile_cutters,
    leftover_of,
)
from letterply.cutting.profile.profiles import (
    TAB_FLANK_DEG,
    LoopCut,
    ProfileCut,
    TabPlan,
    inside_loops,
    outside_loops,
    profile_path,
)
from letterply.cutting.profile.rest_machining import rest_paths, rest_share
from letterply.errors import InputError
from letterply.findings import Remedy, RemedyAction, Severity
from letterply.requests import HoldDown, TabShape
from letterply.shapes import EMPTY, SAME_MM, Region, as_region
from letterply.sheets import PlacedPart
from letterply.stacks import Hole
from letterply.units import format_mm

__all__ = ["Drilled", "OutlineWork", "profile_operations"]

Drilled = dict[str, list[Hole]]
"""Part name -> its through holes that are drilled."""

_LEDGE_MM = 1.0
"""How much longer a tab is before a finishing pass, at either end."""

_TAB_SHARE = 0.4
"""Largest share of the way round a part that tabs may take."""


@dataclass(frozen=True, slots=True, eq=False)
class OutlineWork:
    """How the outlines of a sheet are cut.

    Attributes:
        details: part name -> what the detail cutter does, first.
        profiles: part name -> the outlines themselves, inside before outside; those that are
            mostly detail are cut by the detail cutter alone.
        choice: which cutters, and why; None where no cutter goes through.

    """

    details: dict[str, list[Operation]]
    profiles: dict[str, list[Operation]]
    choice: CutterChoice | None


def profile_operations(
    context: SheetContext,
    parts: Sequence[PlacedPart],
    counts: Sequence[int],
    bored: Drilled,
    nested_parts: Iterable[tuple[str, str]] = (),
) -> OutlineWork:
    """Return the operations along the outlines of different parts, each in its own frame.

    Args:
        context: of the sheet.
        parts: one copy of each part, unmoved.
        counts: how many copies of each there are.
        bored: part name -> through holes that are drilled and not cut again.
        nested_parts: names of parts that lie in a counter, each with that of the part whose counter
        it
            is: the nested part must be cut by the cutter that cuts the counter, or one before it.

    Raises:
        InputError: `cutter-too-large` when no cutter is smaller than a part.

    """
    if not parts:
        return OutlineWork({}, {}, None)
    cutters = context.rack.through(context.thickness, context.shop.hold_down)
    refusal = context.rack.through_refusal(context.thickness, context.shop.hold_down)
    if refusal is not None:
        for placed in parts:
            context.refuse(placed, refusal)
        return OutlineWork({}, {}, None)
    _refuse_large(context, parts)
    cutters = tuple(c for c in cutters if c.diameter_mm <= context.widest + SAME_MM) or cutters[:1]
    solids = [_undrilled(p.part.outline, bored.get(p.part.name, [])) for p in parts]
    choice = choose_profile_cutters(
        solids,
        counts,
        cutters,
        context.material,
        context.shop.machine,
        context.depth,
        context.tolerances,
    )
    assert choice is not None  # there are cutters and parts
    work = OutlineWork({}, {}, CutterChoice(choice.reason, choice.compared))
    detail = choice.detail
    alone = _by_detail_alone(context, parts, solids, choice, set(nested_parts))
    for number, (placed, solid) in enumerate(zip(parts, solids, strict=True)):
        rest = choice.lefts.get(number, EMPTY)
        if detail is not None and placed.part.name in alone:
            rest = leftover_of(solid, detail, context.tolerances)
            work.profiles[placed.part.name] = _profile(context, placed, solid, detail, rest)
            continue
        work.details[placed.part.name] = _detail(context, placed, solid, choice, rest)
        work.profiles[placed.part.name] = _profile(context, placed, solid, choice.main, rest)
    return work


_MOST_DETAIL = 0.35
"""Share of an outline from which on it is cut by the detail cutter alone: a part that is half
free already must not be cut by another cutter."""


def _by_detail_alone(
    context: SheetContext,
    parts: Sequence[PlacedPart],
    solids: Sequence[Polygon],
    choice: ProfileChoice,
    nested_parts: Set[tuple[str, str]],
) -> set[str]:
    """Return the names of the parts whose outlines the detail cutter cuts alone.

    The detail cutter comes first: what lies in a counter that it cuts must be cut by it too.
    """
    if choice.detail is None:
        return set()
    containers = {container for _, container in nested_parts}
    alone = {
        placed.part.name
        for number, (placed, solid) in enumerate(zip(parts, solids, strict=True))
        if _mostly_detail(
            context,
            solid,
            choice.detail,
            choice.lefts.get(number, EMPTY),
            counters=placed.part.name in containers,
        )
    }
    while (
        more := {nested_part for nested_part, container in nested_parts if container in alone}
        - alone
    ):
        alone |= more
    return alone


def _mostly_detail(
    context: SheetContext, solid: Polygon, detail: Cutter, rest: Region, *, counters: bool
) -> bool:
    """Whether the outline, or on request a counter, is mostly what a larger cutter leaves."""
    if rest.is_empty:
        return False
    rings = [outside_loops(solid, detail.radius_mm, context.tolerances)]
    if counters:
        rings += [
            inside_loops(Polygon(ring), detail.radius_mm, context.tolerances)
            for ring in solid.interiors
        ]
    return any(rest_share(loops, rest, detail.radius_mm) > _MOST_DETAIL for loops in rings)


def _refuse_large(context: SheetContext, parts: Sequence[PlacedPart]) -> None:
    for placed in parts:
        box = shapely.minimum_rotated_rectangle(placed.part.outline)
        a, b, c = shapely.get_coordinates(box)[:3]
        side = float(min(shapely.Point(a).distance(shapely.Point(b)),
                         shapely.Point(b).distance(shapely.Point(c))))  # fmt: skip
        refusal = context.rack.part_refusal(side, context.thickness, context.shop.hold_down)
        if refusal is not None:
            raise InputError(
                f"{placed.words[0].upper()}{placed.words[1:]} is {refusal.why}.",
                code="cutter-too-large",
                field="shop.cutters",
                expected=f"an end mill under {format_mm(side)} that cuts "
                f"{format_mm(context.depth)} deep, or a larger part",
            )


def _detail(
    context: SheetContext, placed: PlacedPart, solid: Polygon, choice: ProfileChoice, rest: Region
) -> list[Operation]:
    if choice.detail is None or rest.is_empty:
        return []
    cutter = choice.detail
    feeds = context.feeds(cutter, context.depth, corners=True)
    cut = ProfileCut(context.depth, feeds.depth_per_pass_mm, context.tolerances, arcs=context.arcs)
    paths: list[Toolpath] = []
    for loops, clockwise in _loops(context, solid, cutter):
        for loop in loops:
            paths += rest_paths(loop, rest, cutter.radius_mm, cut, clockwise=clockwise)
    if not paths:
        return []
    return [
        Operation(
            OperationKind.PROFILE,
            cutter.key,
            placed.mark,
            tuple(paths),
            context.depth,
            feeds,
            inside=True,
            note="corners that the larger cutter does not reach",
        )
    ]


def _loops(
    context: SheetContext, solid: Polygon, cutter: Cutter, *, extra_mm: float = 0.0
) -> list[tuple[list[LoopCut], bool]]:
    """Return the loops of a part and which way each goes, holes first.

    `extra_mm` is what they leave on the walls for a finishing pass.
    """
    radius = cutter.radius_mm + extra_mm
    found: list[tuple[list[LoopCut], bool]] = [
        (inside_loops(Polygon(ring), radius, context.tolerances), not context.climb)
        for ring in solid.interiors
    ]
    outside = outside_loops(solid, radius, context.tolerances)
    # The first loop goes round the part; the others lie in cavities and turn as in a hole.
    found.append((outside[1:], not context.climb))
    found.append((outside[:1], context.climb))
    return found


def _profile(
    context: SheetContext, placed: PlacedPart, solid: Polygon, cutter: Cutter, rest: Region
) -> list[Operation]:
    feeds = context.feeds(cutter, context.depth)
    groups = _loops(context, solid, cutter)
    rough = _loops(context, solid, cutter, extra_mm=context.shop.finish_mm)
    found: list[Operation] = []

    def operation(paths: list[Toolpath], *, inside: bool, tabs: int = 0) -> Operation:
        return Operation(
            OperationKind.PROFILE,
            cutter.key,
            placed.mark,
            tuple(paths),
            context.depth,
            feeds,
            inside=inside,
            tabs=tabs,
        )

    finish = context.shop.finish_mm > 0
    in_passes = _in_passes(context, cutter, feeds)
    at_once = replace(in_passes, pass_depth_mm=context.depth)
    (outer,), way = groups[-1]
    roughed = _roughed(context, rough)

    def finishing(loop: LoopCut) -> ProfileCut:
        """Return how a finishing loop is cut: in passes where the rougher one did not go."""
        return at_once if roughed.contains(LineString(loop.points)) else in_passes

    outer_cut = finishing(outer) if finish else in_passes
    wanted = _tabs(context, solid, cutter)
    if wanted is not None:
        deep = no_tabs_at(context, placed.part, wanted.height_mm)
        rest = as_region(shapely.union(rest, deep))
    last, tab_at = profile_path(
        outer, outer_cut, clockwise=way, tabs=wanted, part=solid, keep_clear=rest
    )
    crumb = wanted is not None and not len(tab_at)
    if crumb:
        # Once round leaves it loose, and a loose part must not be touched again.
        last = profile_path(outer, in_passes, clockwise=way, part=solid, keep_clear=rest)[0]
        _note_crumb(context, placed)
    paths = [last]
    if finish and not crumb:
        (first,), _ = rough[-1]
        # Round a bend the rougher loop is shorter or longer: its tabs are a little too long, so
        # that the finishing loop leaves no ledge beside its own.
        longer = wanted and replace(wanted, length_mm=wanted.length_mm + 2 * _LEDGE_MM)
        paths.insert(
            0, profile_path(first, in_passes, clockwise=way, tabs=longer, tab_at=tab_at)[0]
        )
    inner: list[Toolpath] = []
    if finish:
        inner += [
            profile_path(loop, in_passes, clockwise=turn)[0]
            for loops, turn in rough[:-1]
            for loop in loops
        ]
    inner += [
        profile_path(loop, finishing(loop) if finish else in_passes, clockwise=turn)[0]
        for loops, turn in groups[:-1]
        for loop in loops
    ]
    if inner:
        found.append(operation(inner, inside=True))
    found.append(operation(paths, inside=False, tabs=len(tab_at)))
    return found


def _roughed(context: SheetContext, rough: Sequence[tuple[list[LoopCut], bool]]) -> BaseGeometry:
    """Return where the axis of a finishing loop meets no more than what rough loops left for it."""
    lines = [LineString(loop.points) for loops, _ in rough for loop in loops]
    near = 1.5 * context.shop.finish_mm + context.tolerances.path_clearance_mm
    return shapely.union_all(lines).buffer(near) if lines else shapely.Point()


def _in_passes(context: SheetContext, cutter: Cutter, feeds: Feeds) -> ProfileCut:
    return ProfileCut(
        context.depth,
        feeds.depth_per_pass_mm,
        context.tolerances,
        tab_floor_mm=context.thickness,
        helix_mm=context.helix(cutter),
        arcs=context.arcs,
    )


def _note_crumb(context: SheetContext, placed: PlacedPart) -> None:
    context.add_finding(
        "crumb",
        Severity.CAUTION,
        placed,
        "Too small for tabs: it comes loose when it is cut",
        Remedy(
            RemedyAction.CHANGE_HOLD_DOWN,
            "hold it with double-sided tape, or leave a thin skin at the bottom",
            "tape",
        ),
    )


def _tabs(context: SheetContext, solid: Polygon, cutter: Cutter) -> TabPlan | None:
    """Return count and size of tabs; 3 to 8 mm long, 0.5 to 1.5 mm high, common practice.

    A part that tabs would surround gets fewer and shorter ones, or none.
    """
    if context.shop.hold_down is not HoldDown.TABS:
        return None
    around = solid.exterior.length + 2 * math.pi * cutter.radius_mm
    height = min(1.5, max(0.5, 0.3 * context.thickness), 0.6 * context.thickness)
    flanks = 2 * (height + context.through) / math.tan(math.radians(TAB_FLANK_DEG))
    length = 5.0 if around > 200 else 3.0 if around > 100 else 2.0
    most = int(_TAB_SHARE * around / (length + cutter.diameter_mm + flanks))
    count = min(max(2, round(around / 150) + 1), 8, most)
    raised, flank = length + cutter.diameter_mm, TAB_FLANK_DEG
    if context.shop.tab_shape is TabShape.TRIANGULAR:
        # Raised over the cutter's own width, a tab ends in a point; its foot is as long as ever.
        raised = cutter.diameter_mm
        flank = math.degrees(math.atan(2 * height / (length + 2 * height)))
    return TabPlan(max(count, 0), raised, height, flank)


def _undrilled(outline: Polygon, drilled: list[Hole]) -> Polygon:
    """Return the outline with its drilled holes closed."""
    kept = [r for r in outline.interiors if not any(h.is_ring(r) for h in drilled)]
    return Polygon(outline.exterior, kept)
