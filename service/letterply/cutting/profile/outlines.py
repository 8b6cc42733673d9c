"""Cutting parts out of their sheet: the operations along their outlines, inside before outside."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import Polygon

from letterply.catalogue import Cutter
from letterply.cutting.choice.reach import LIFT_S, Tool
from letterply.cutting.choice.sets import Chain
from letterply.cutting.context import SheetContext
from letterply.cutting.edges import no_tabs_at
from letterply.cutting.model import CutterChoice, Operation, OperationKind
from letterply.cutting.profile.cutter_choice import (
    Outline,
    OutlineChoice,
    choose_profile_cutters,
    opened_by,
)
from letterply.cutting.profile.finishing import in_the_kerf, last_cut
from letterply.cutting.profile.profiles import (
    TAB_FLANK_DEG,
    LoopCut,
    ProfileCut,
    TabPlan,
    inside_loops,
    outside_loops,
    profile_path,
)
from letterply.cutting.profile.rest_machining import rest_paths
from letterply.cutting.toolpath import Toolpath
from letterply.errors import InputError
from letterply.findings import Remedy, RemedyAction, Severity
from letterply.requests import HoldDown, TabShape
from letterply.said import say
from letterply.shapes import SAME_MM, as_region
from letterply.sheets import PlacedPart
from letterply.side_by_side import side_by_side
from letterply.stacks import Hole
from letterply.units import format_mm

__all__ = ["Drilled", "OutlineWork", "profile_operations"]

Drilled = dict[str, list[Hole]]
"""Part name -> its through holes that are drilled."""

_LEDGE_MM = 1.0
"""How much longer a tab is before a finishing pass, at either end, at most."""

_TAB_SHARE = 0.4
"""Largest share of the way round a part that tabs may take."""


@dataclass(frozen=True, slots=True, eq=False)
class OutlineWork:
    """How the outlines of a sheet are cut.

    Attributes:
        details: part name -> what smaller cutters do first, in corners.
        profiles: part name -> the outlines themselves, inside before outside.
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
    outlines = [
        Outline(
            p.part.name,
            _undrilled(p.part.outline, bored.get(p.part.name, [])),
            count,
            context.detail(p.part.detail_mm),
        )
        for p, count in zip(parts, counts, strict=True)
    ]
    tools = [
        Tool(c, context.feeds(c, context.depth), context.feeds(c, context.depth, corners=True))
        for c in cutters
    ]
    choice = choose_profile_cutters(
        outlines, tools, context.shop.machine, context.depth, context.tolerances, nested_parts
    )
    assert choice is not None  # there are cutters and parts
    work = OutlineWork({}, {}, CutterChoice("outlines", choice.reason, choice.sets))

    def cut_out(number: int) -> tuple[list[Operation], list[Operation]]:
        placed, solid = parts[number], outlines[number].solid
        chosen, around = _held(context, placed, solid, choice.outlines[number])
        details = _details(context, placed, solid, chosen)
        return details, [*_inner_profiles(context, placed, solid, chosen), around]

    # Feeds have been asked for, and judged, by now: parts have nothing in common that changes.
    for placed, (details, profiles) in zip(
        parts, side_by_side(cut_out, range(len(parts))), strict=True
    ):
        work.details[placed.part.name] = details
        work.profiles[placed.part.name] = profiles
        if context.shop.hold_down is HoldDown.TABS and not profiles[-1].tabs:
            _note_crumb(context, placed)
    return work


_LEAST_TABS = 2
"""Tabs that keep a part from turning, where it has room for as many."""


def _held(
    context: SheetContext, placed: PlacedPart, solid: Polygon, options: Sequence[OutlineChoice]
) -> tuple[OutlineChoice, Operation]:
    """Return the quickest way to cut an outline that leaves room for its tabs, and its last cut.

    Where smaller cutters free corners first, tabs stand on what is left. Where that is too little,
    a smaller cutter goes all round, and there is more.
    """
    best: tuple[OutlineChoice, list[Toolpath], int] | None = None
    for chosen in options:
        paths, tabs = _outer_paths(context, placed, solid, chosen.outside)
        if best is None or tabs > best[2]:
            best = chosen, paths, tabs
        wanted = _tabs(context, solid, chosen.outside.main)
        if wanted is None or tabs >= min(_LEAST_TABS, wanted.count):
            break
    assert best is not None  # the smallest cutter goes round everything
    chosen, paths, tabs = best
    cutter = chosen.outside.main
    wanted = _tabs(context, solid, cutter)
    around = _operation(context, placed, cutter, paths)
    if wanted is None or not tabs:
        return chosen, around
    foot, height = wanted.foot_mm(cutter.diameter_mm), wanted.height_mm
    return chosen, replace(around, tabs=tabs, tab_foot_mm=foot, tab_height_mm=height)


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


def _details(
    context: SheetContext, placed: PlacedPart, solid: Polygon, chosen: OutlineChoice
) -> list[Operation]:
    """Return what smaller cutters do first, where the one that goes round does not reach."""
    found: dict[str, tuple[Cutter, list[Toolpath]]] = {}
    for number, chain in enumerate((*chosen.holes, chosen.outside)):
        if chain is None:
            continue
        for cutter, rest in chain.rests:
            # It is the first to go there: a slot, as its own outlines are.
            feeds = context.feeds(cutter, context.depth)
            cut = ProfileCut(
                context.depth, feeds.depth_per_pass_mm, context.tolerances, arcs=context.arcs
            )
            lift = LIFT_S * feeds.feed_mm_per_min / 60
            _, paths = found.setdefault(cutter.key, (cutter, []))
            for loops, clockwise in _ring_loops(context, solid, cutter, number):
                for loop in loops:
                    paths += rest_paths(
                        loop, rest, cutter.radius_mm, cut, clockwise=clockwise, lift_mm=lift
                    )
    return [
        Operation(
            OperationKind.PROFILE,
            cutter.key,
            placed.mark,
            tuple(paths),
            context.depth,
            context.feeds(cutter, context.depth),
            inside=True,
            note="corners that the larger cutter does not reach",
        )
        for cutter, paths in found.values()
        if paths
    ]


def _ring_loops(
    context: SheetContext, solid: Polygon, cutter: Cutter, number: int, *, extra_mm: float = 0.0
) -> list[tuple[list[LoopCut], bool]]:
    """Return the loops along one ring and which way each goes.

    Rings are numbered as the holes are, the outside comes after them: its first loop goes round the
    part, the others lie in cavities and turn as in a hole. `extra_mm` is what they leave on the
    walls for a finishing pass.
    """
    radius = cutter.radius_mm + extra_mm
    if number < len(solid.interiors):
        ring = Polygon(solid.interiors[number])
        return [(inside_loops(ring, radius, context.tolerances), not context.climb)]
    outside = outside_loops(solid, radius, context.tolerances)
    return [(outside[1:], not context.climb), (outside[:1], context.climb)]


def _inner_profiles(
    context: SheetContext, placed: PlacedPart, solid: Polygon, chosen: OutlineChoice
) -> list[Operation]:
    """Return the loops along holes and in cavities of the outside, each by its cutter."""
    inner: dict[str, tuple[Cutter, list[Toolpath]]] = {}
    for number, chain in enumerate((*chosen.holes, chosen.outside)):
        if chain is None:
            continue
        _, paths = inner.setdefault(chain.main.key, (chain.main, []))
        # Of the outside only what lies in cavities.
        rough = _rough_loops(context, solid, chain.main, number)
        in_passes = _in_passes(context, chain.main)
        freed = [
            # One way in each: the finishing loop takes the same.
            (loop, replace(profile_path(loop, in_passes, clockwise=way)[0], entry_options=None))
            for loops, way in rough[:1]
            for loop in loops
        ]
        paths += [path for _, path in freed]
        for loops, way in _ring_loops(context, solid, chain.main, number)[:1]:
            for loop in loops:
                cut = last_cut(context, in_passes, rough, loop)
                cut = in_the_kerf(cut, loop, freed, chain.main.radius_mm)
                paths.append(profile_path(loop, cut, clockwise=way)[0])
    return [
        _operation(context, placed, cutter, paths, inside=True)
        for cutter, paths in inner.values()
        if paths
    ]


def _operation(
    context: SheetContext,
    placed: PlacedPart,
    cutter: Cutter,
    paths: Sequence[Toolpath],
    *,
    inside: bool = False,
) -> Operation:
    return Operation(
        OperationKind.PROFILE,
        cutter.key,
        placed.mark,
        tuple(paths),
        context.depth,
        context.feeds(cutter, context.depth),
        inside=inside,
    )


def _rough_loops(
    context: SheetContext, solid: Polygon, cutter: Cutter, number: int
) -> list[tuple[list[LoopCut], bool]]:
    """Return the loops along a ring that leave something for a finishing pass; none without one."""
    finish = context.shop.finish_mm
    return _ring_loops(context, solid, cutter, number, extra_mm=finish) if finish else []


def _outer_paths(
    context: SheetContext, placed: PlacedPart, solid: Polygon, chain: Chain
) -> tuple[list[Toolpath], int]:
    """Return the paths round a part, and how many tabs they leave."""
    cutter, number = chain.main, len(solid.interiors)
    rough = _rough_loops(context, solid, cutter, number)
    in_passes = _in_passes(context, cutter)
    (outer,), way = _ring_loops(context, solid, cutter, number)[-1]
    finish = last_cut(context, in_passes, rough, outer)
    wanted = _tabs(context, solid, cutter)
    rest = opened_by(chain)
    if wanted is not None:
        deep = no_tabs_at(context, placed.part, wanted.height_mm)
        rest = as_region(shapely.union(rest, deep))
    last, tab_at = profile_path(
        outer, finish, clockwise=way, tabs=wanted, part=solid, keep_clear=rest
    )
    if wanted is not None and not len(tab_at):
        # Once round leaves it loose, and a loose part must not be touched again.
        return [profile_path(outer, in_passes, clockwise=way, part=solid, keep_clear=rest)[0]], 0
    if not rough:
        return [last], len(tab_at)
    (first,), _ = rough[-1]
    # Round a bend the rougher loop is shorter or longer: its tabs are a little too long, so
    # that the finishing loop leaves no ledge beside its own.
    # The finishing loop meets no more than half a pass of them at once.
    longer = wanted
    if wanted is not None:
        ledge = min(_LEDGE_MM, in_passes.pass_depth_mm * wanted.flank_mm / 2)
        longer = replace(wanted, length_mm=wanted.length_mm + 2 * ledge)
    before, _ = profile_path(first, in_passes, clockwise=way, tabs=longer, tab_at=tab_at)
    finish = in_the_kerf(finish, outer, [(first, before)], cutter.radius_mm)
    last, _ = profile_path(outer, finish, clockwise=way, tabs=wanted, tab_at=tab_at)
    return [before, last], len(tab_at)


def _in_passes(context: SheetContext, cutter: Cutter) -> ProfileCut:
    return ProfileCut(
        context.depth,
        context.feeds(cutter, context.depth).depth_per_pass_mm,
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
        say("Too small for tabs: it comes loose when it is cut"),
        Remedy(
            RemedyAction.CHANGE_HOLD_DOWN,
            say("hold it with double-sided tape, or leave a thin skin at the bottom"),
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
