"""Which cutters clear the floors of a sheet, and how each floor is cleared.

Floors are those of pockets, blind holes and flat grooves. All of a sheet share their changes of
cutter, so the set of cutters is chosen for all of them at once, and for each floor the quickest way
through that set: a large cutter first, then smaller ones, each only where the one before it left
more than the detail allows. All mm, s.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from letterply.catalogue import Cutter
from letterply.cutting.choice.reach import LIFT_S, Tool
from letterply.cutting.choice.sets import Chain, Job, choose_set, few
from letterply.cutting.context import SheetContext
from letterply.cutting.face.beside import PocketCut
from letterply.cutting.face.floors import Floor
from letterply.cutting.face.pocket import ENGAGED_DEG, clear_pocket
from letterply.cutting.model import CutterChoice, CutterSet, Feeds, Reason
from letterply.cutting.profile.cutter_choice import time_words
from letterply.cutting.toolpath import Toolpath
from letterply.names import in_sentence
from letterply.shapes import Region
from letterply.units import about_mm, listed

__all__ = ["Clearing", "FloorJob", "choose_floor_cutters", "clearings"]


_ENGAGED = Reason(
    "engaged_deg",
    ENGAGED_DEG,
    "the most of a cutter's edge in the stock, but where it is the first to go, where it is "
    "narrow, and in acute corners, which have the lower feed",
    "common practice, no source",
)


@dataclass(frozen=True, slots=True, eq=False)
class FloorJob:
    """A floor of a part.

    Attributes:
        name: of the part.
        count: how many copies there are.
        region: what is cleared, to the walls.
        depth_mm: how deep.
        detail_mm: how deep what stays may lie behind what is reached.
        finishing_s_per_mm2: time that a V-bit takes for what end mills leave.
        bit: key of that V-bit; empty where there is none.

    """

    name: str
    count: int
    region: Region
    depth_mm: float
    detail_mm: float
    finishing_s_per_mm2: float = 0.0
    bit: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Clearing:
    """What one cutter does of a floor.

    Attributes:
        cutter: which.
        feeds: its feeds.
        paths: where it goes.

    """

    cutter: Cutter
    feeds: Feeds
    paths: tuple[Toolpath, ...]


def choose_floor_cutters(
    context: SheetContext, floors: Sequence[FloorJob]
) -> tuple[list[Chain | None], CutterChoice | None]:
    """Return how each floor is cleared, and what was compared.

    None of a floor is where no cutter goes, or where the V-bits of the grooves are done with all
    floors sooner than end mills with their changes.
    """
    if not floors:
        return [], None
    able = [context.flat(depth) for depth in sorted({f.depth_mm for f in floors})]
    rack = few(context.flat(0.0), [cutters[0] for cutters in able if cutters])
    spaces = [_floor(context, floor, rack) for floor in floors]
    jobs = [Job(f.name, f.count, [space]) for f, space in zip(floors, spaces, strict=True)]
    tools = [Tool(c, context.feeds(c, 0.0), context.feeds(c, 0.0, corners=True)) for c in rack]
    chosen = choose_set(jobs, tools, context.shop.machine) if rack else None
    if chosen is None:
        return [None] * len(floors), None
    names = {c.key: c.name for c in context.shop.cutters}
    bits = _bits_alone(floors)
    if bits is not None:
        end_mills = next(s for s in chosen.sets if s.chosen)
        if bits.time_s < end_mills.time_s:
            sets = bits, *(replace(s, chosen=False) for s in chosen.sets)
            alone = listed([in_sentence(names[key]) for key in bits.cutters])
            why = (
                f"The {alone} clears the flat floors of the grooves, too: about "
                f"{time_words(bits.time_s)} instead of {time_words(end_mills.time_s)} with "
                "end mills"
            )
            return [None] * len(floors), CutterChoice("floors", why, sets)
    choice = CutterChoice("floors", _reason(chosen.sets, names), chosen.sets)
    return [options[0][0] for options in chosen.options], choice


def _bits_alone(floors: Sequence[FloorJob]) -> CutterSet | None:
    """Return the V-bits of grooves as those that clear their floors; None with other floors."""
    if not all(f.bit for f in floors):
        return None
    time = sum(f.count * f.finishing_s_per_mm2 * f.region.area for f in floors)
    keys = tuple(sorted({f.bit for f in floors}))
    return CutterSet(keys, round(time, 1), 0.0, 0.0, chosen=True)


def _floor(context: SheetContext, floor: FloorJob, rack: Sequence[Cutter]) -> Floor:
    reaching = {c.key for c in context.flat(floor.depth_mm)}
    tools = [
        Tool(
            c,
            context.feeds(c, floor.depth_mm),
            context.feeds(c, floor.depth_mm, corners=True),
        )
        for c in rack
    ]
    return Floor(
        floor.region,
        floor.detail_mm,
        tools,
        floor.depth_mm,
        context.tolerances,
        deep=[c.key in reaching for c in rack],
        finishing_s_per_mm2=floor.finishing_s_per_mm2,
    )


def _reason(sets: Sequence[CutterSet], names: Mapping[str, str]) -> str:
    chosen = next(s for s in sets if s.chosen)
    large, *small = [in_sentence(names[key]) for key in chosen.cutters]
    stays = f"corners stay round by {about_mm(chosen.left_round_mm)} at most"
    if not small:
        return f"The {large} clears all floors: {stays}"
    alone = next((s for s in sets if s.cutters == chosen.cutters[-1:]), None)
    instead = "" if alone is None else f" instead of {time_words(alone.time_s)} with the smallest"
    return (
        f"The {large} clears what it reaches of the floors, then the {listed(small)} what is left: "
        f"about {time_words(chosen.time_s)} with the changes{instead}; {stays}"
    )


def clearings(
    context: SheetContext, region: Region, depth_mm: float, chain: Chain
) -> list[Clearing]:
    """Return how a region is cleared by its chain, largest cutter first.

    Args:
        context: rack and tolerances.
        region: what is cleared, to the walls.
        depth_mm: how deep.
        chain: which cutters, and what the smaller ones have to get at.

    """
    found: list[Clearing] = []
    for cutter, rest in ((chain.main, None), *chain.rests):
        feeds = context.feeds(cutter, depth_mm, corners=rest is not None)
        cut = PocketCut(
            cutter.radius_mm,
            depth_mm,
            feeds.depth_per_pass_mm,
            context.tolerances,
            conventional=not context.climb,
            arcs=context.arcs,
            lift_mm=context.shop.machine.safe_height_mm,
            way_of_lift_mm=LIFT_S * feeds.feed_mm_per_min / 60,
        )
        paths = clear_pocket(region if rest is None else rest, cut, within=rest and region)
        if paths:
            if rest is None:
                feeds = replace(feeds, reasons=(*feeds.reasons, _ENGAGED))
            found.append(Clearing(cutter, feeds, tuple(paths)))
    return found
