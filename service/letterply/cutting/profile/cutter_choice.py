"""Which cutters cut the outlines of a sheet, and which of them cuts which ring.

A part stays held while smaller cutters free its corners: along most of its outline it is still
part of the sheet when the cutter comes that goes all round, and that one leaves the tabs. Holes go
before the outline, so none of them is followed by a larger cutter than the outline is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from letterply.catalogue import Machine
from letterply.cutting.choice.reach import Tool
from letterply.cutting.choice.sets import Chain, Job, choose_set, few
from letterply.cutting.model import CutterSet
from letterply.cutting.profile.rest_machining import beside_rest
from letterply.cutting.profile.rings import rings_of
from letterply.names import in_sentence
from letterply.shapes import Region, Tolerances, as_region
from letterply.units import about_mm

__all__ = [
    "Outline",
    "OutlineChoice",
    "ProfileChoice",
    "choose_profile_cutters",
    "opened_by",
    "time_words",
]


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """An outline of a sheet.

    Attributes:
        name: of the part.
        solid: what is cut out.
        count: how many copies there are.
        detail_mm: how deep its inside corners may stay round.

    """

    name: str
    solid: Polygon
    count: int
    detail_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class OutlineChoice:
    """How an outline is cut: its outside, and its holes by their number; None for a closed one."""

    outside: Chain
    holes: tuple[Chain | None, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ProfileChoice:
    """Which cutters cut the outlines of a sheet.

    Attributes:
        outlines: for each, in the order in which they were given, the ways to cut it with the
            cutters that were chosen, the quickest first.
        sets: what was compared, the quickest first.
        reason: in words.

    """

    outlines: tuple[tuple[OutlineChoice, ...], ...]
    sets: tuple[CutterSet, ...]
    reason: str


def choose_profile_cutters(
    outlines: Sequence[Outline],
    tools: Sequence[Tool],
    machine: Machine,
    depth_mm: float,
    tolerances: Tolerances,
    nested_parts: Iterable[tuple[str, str]] = (),
) -> ProfileChoice | None:
    """Return the cutters for the outlines of a sheet; None with no cutter or nothing to cut.

    Args:
        outlines: what is cut out.
        tools: the cutters that go through, smallest first.
        machine: for its changes.
        depth_mm: of a through cut.
        tolerances: how far each step may stray.
        nested_parts: names of parts that lie in a counter, each with that of the part whose counter
            it is: they are cut by no larger cutter than the counter is.

    """
    if not tools or not outlines:
        return None
    tools = few(tools)
    jobs = [
        Job(o.name, o.count, rings_of(o.solid, o.detail_mm, tools, depth_mm, tolerances))
        for o in outlines
    ]
    chosen = choose_set(jobs, tools, machine, nested_parts)
    assert chosen is not None  # the smallest cutter goes round everything
    made = tuple(
        tuple(OutlineChoice(first, tuple(holes)) for first, *holes in options if first is not None)
        for options in chosen.options
    )
    names = {t.cutter.key: t.cutter.name for t in tools}
    return ProfileChoice(made, chosen.sets, _reason(chosen.sets, names))


def opened_by(chain: Chain) -> Region:
    """Return where no tab can stand: where smaller cutters go through, and what nothing reaches."""
    cut = [
        shapely.buffer(beside_rest(rest, cutter.radius_mm), cutter.radius_mm, quad_segs=8)
        for cutter, rest in chain.rests
    ]
    return as_region(shapely.union_all([chain.deep, *cut]))


def _reason(sets: Sequence[CutterSet], names: Mapping[str, str]) -> str:
    """Return in words why this set was taken."""
    chosen = next(s for s in sets if s.chosen)
    large, *small = [in_sentence(names[key]) for key in chosen.cutters]
    stays = f"inside corners stay round by {about_mm(chosen.left_round_mm)} at most"
    if not small:
        return f"The {large} cuts everything: {stays}"
    alone = next((s for s in sets if s.cutters == chosen.cutters[-1:]), None)
    why = f"about {time_words(chosen.time_s)} with the changes"
    if alone is not None:
        why += f" instead of {time_words(alone.time_s)} with the smallest one alone"
    if len(small) == 1:
        return (
            f"The {small[0]} first cuts the corners that the {large} does not reach, then that "
            f"one cuts the outlines: {why}; {stays}"
        )
    return (
        f"Smaller cutters first cut the corners that larger ones do not reach, from the "
        f"{small[-1]} up to the {large}: {why}; {stays}"
    )


def time_words(seconds: float) -> str:
    """Return a time, roughly."""
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
