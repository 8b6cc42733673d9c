"""Which cutters cut the outlines of a sheet, and which of them cuts which ring.

Every set of cutters of the rack that goes through is compared: what it takes, with its changes,
and what it leaves round in corners. In a set each ring of each outline has its own *chain*: one
cutter that follows it all the way, and smaller ones that go first, each only where the next larger
one does not reach deeper than the detail. Of the sets that leave nothing which another cutter of
the rack would get at, the quickest is taken. Lengths mm, times s.

A part stays held while smaller cutters free its corners: along most of its outline it is still
part of the sheet when the cutter comes that goes all round, and that one leaves the tabs. Holes go
before the outline, so none of them is followed by a larger cutter than the outline is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import shapely
from shapely import Polygon

from letterply.catalogue import Cutter, Machine
from letterply.cutting.model import CutterSet
from letterply.cutting.profile.rest_machining import beside_rest
from letterply.cutting.profile.ring_costs import Ring, Tool, rings_of
from letterply.names import in_sentence
from letterply.shapes import (
    Region,
    Tolerances,
    as_region,
    deepest_leftover,
)
from letterply.units import about_mm, listed

__all__ = [
    "Chain",
    "Outline",
    "OutlineChoice",
    "ProfileChoice",
    "choose_profile_cutters",
]

_MOST_FREED = 0.4
"""Share of an outline that smaller cutters may free before the one comes that goes all round."""

_MOST_CUTTERS = 6
"""More cutters than that are not compared in all sets: those in between are left out."""


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
class Chain:
    """How one ring is cut.

    Attributes:
        main: the cutter that follows it all the way.
        rests: smaller cutters, each with what it has to get at, smallest first.
        deep: what `main` leaves too deep.

    """

    main: Cutter
    rests: tuple[tuple[Cutter, Region], ...]
    deep: Region

    @property
    def opened(self) -> Region:
        """Where no tab can stand: where smaller cutters go through, and what nothing reaches."""
        cut = [
            shapely.buffer(beside_rest(rest, cutter.radius_mm), cutter.radius_mm, quad_segs=8)
            for cutter, rest in self.rests
        ]
        return as_region(shapely.union_all([self.deep, *cut]))


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


@dataclass(frozen=True, slots=True)
class _Way:
    """How a ring is cut with a set.

    Attributes:
        time_s: of all its cutters.
        share: of the ring that the smaller ones free.
        tools: by number, the one that goes all round first, then smaller ones.

    """

    time_s: float
    share: float
    tools: tuple[int, ...]


class _Comparison:
    """All that is compared for a sheet: cutters by number, smallest first."""

    def __init__(
        self,
        outlines: Sequence[Outline],
        rings: Sequence[Sequence[Ring]],
        tools: Sequence[Tool],
        machine: Machine,
        nested_parts: Iterable[tuple[str, str]],
    ) -> None:
        self.outlines = outlines
        self.rings = rings
        self.tools = tools
        self.change_s = machine.tool_change_s + machine.spin_up_s
        self.containers: dict[str, set[str]] = {}
        for nested_part, container in nested_parts:
            self.containers.setdefault(nested_part, set()).add(container)
        # What lies in a counter is looked at after the part around it.
        self.order = sorted(range(len(outlines)), key=lambda k: (self._nested(outlines[k].name), k))
        self._tails: dict[tuple[Ring, tuple[int, ...]], _Way] = {}

    def _nested(self, name: str) -> int:
        return 1 + max((self._nested(c) for c in self.containers.get(name, ())), default=-1)

    def tail(self, ring: Ring, tools: tuple[int, ...]) -> _Way:
        """Return how smaller cutters get at what the last of `tools` leaves of a ring."""
        key = ring, tools
        if key not in self._tails:
            self._tails[key] = self._quickest_tail(ring, tools)
        return self._tails[key]

    def _quickest_tail(self, ring: Ring, tools: tuple[int, ...]) -> _Way:
        *smaller, large = tools
        best: _Way | None = None
        for k, small in enumerate(smaller):
            if not ring.helps(small, large):
                continue
            rest = self.tail(ring, tuple(smaller[: k + 1]))
            time = ring.rest_time(small, large) + rest.time_s
            if best is None or time < best.time_s:
                share = ring.rest_share(small, large) + rest.share
                best = _Way(time, share, (small, *rest.tools))
        return best or _Way(0.0, 0.0, ())

    def way(self, ring: Ring, tools: tuple[int, ...]) -> _Way | None:
        """Return how a ring is cut by `tools`, the last of which goes all round; None if not."""
        loop = ring.loop_time(tools[-1])
        if loop is None:
            return None
        tail = self.tail(ring, tools)
        if tail.share > _MOST_FREED:
            return None
        return _Way(loop + tail.time_s, tail.share, (tools[-1], *tail.tools))


def _mains(ways: Iterable[_Way | None]) -> list[int]:
    return [way.tools[0] for way in ways if way is not None]


class _Set:
    """One set of cutters, and how each ring of each outline is cut with it."""

    def __init__(self, whole: _Comparison, tools: tuple[int, ...]) -> None:
        self.whole = whole
        self.tools = tools
        found: dict[int, list[list[_Way | None]]] = {}
        largest: dict[str, int] = {}
        for k in whole.order:
            outline = whole.outlines[k]
            around = (largest[c] for c in whole.containers.get(outline.name, ()) if c in largest)
            most = min(around, default=tools[-1])
            found[k] = self._options(whole.rings[k], [t for t in tools if t <= most])
            largest[outline.name] = min([most, *_mains(found[k][0][1:])])
            # A counter in which other parts lie keeps its cutter.
            if any(outline.name in around for around in whole.containers.values()):
                holes = _mains(found[k][0][1:])
                found[k] = [w for w in found[k] if _mains(w[1:]) == holes]
        self.options = [found[k] for k in range(len(whole.outlines))]
        self.ways = [options[0] for options in self.options]

    def _options(self, rings: Sequence[Ring], tools: Sequence[int]) -> list[list[_Way | None]]:
        """Return the ways to cut all rings of an outline, the quickest first.

        No hole is followed by a larger cutter than the outside.
        """
        by_main: list[dict[int, _Way]] = [{} for _ in rings]
        for ring, ways in zip(rings, by_main, strict=True):
            for k, main in enumerate(tools):
                way = self.whole.way(ring, tuple(tools[: k + 1]))
                if way is not None:
                    ways[main] = way
        found: list[tuple[float, int, list[_Way | None]]] = []
        for main, outside in by_main[0].items():
            holes: list[_Way | None] = [
                min((w for m, w in ways.items() if m <= main), key=lambda w: w.time_s, default=None)
                for ways in by_main[1:]
            ]
            time = outside.time_s + sum(w.time_s for w in holes if w is not None)
            found.append((time, main, [outside, *holes]))
        return [ways for _, _, ways in sorted(found, key=lambda f: f[:2])]

    @cached_property
    def used(self) -> set[int]:
        """The cutters that have something to do."""
        return {t for ways in self.ways for way in ways if way is not None for t in way.tools}

    @cached_property
    def time_s(self) -> float:
        """How long the set takes, with a change to each cutter."""
        cutting = sum(
            outline.count * sum(way.time_s for way in ways if way is not None)
            for outline, ways in zip(self.whole.outlines, self.ways, strict=True)
        )
        return cutting + len(self.tools) * self.whole.change_s

    @cached_property
    def complete(self) -> bool:
        """Whether no cutter of the rack would get at more."""
        for rings, ways in zip(self.whole.rings, self.ways, strict=True):
            for ring, way in zip(rings, ways, strict=True):
                if way is None:
                    if any(ring.loop_time(t) is not None for t in range(len(self.whole.tools))):
                        return False
                elif any(ring.helps(t, way.tools[-1]) for t in range(way.tools[-1])):
                    return False
        return True

    def left(self) -> CutterSet:
        """Return the set with what it leaves."""
        tools = self.whole.tools
        deepest, area = 0.0, 0.0
        worst: tuple[str, Ring, Region] | None = None
        left: list[tuple[str, Region]] = []
        for outline, rings, ways in zip(
            self.whole.outlines, self.whole.rings, self.ways, strict=True
        ):
            for ring, way in zip(rings, ways, strict=True):
                stays, depth = ring.stays(way.tools if way is not None else ())
                if stays.is_empty:
                    continue
                left.append((outline.name, stays))
                area += outline.count * stays.area
                if depth > deepest:
                    deepest, worst = depth, (outline.name, ring, stays)
        return CutterSet(
            cutters=tuple(tools[t].cutter.key for t in reversed(self.tools)),
            time_s=round(self.time_s, 1),
            left_round_mm=round(deepest, 3),
            left_area_mm2=round(area, 2),
            where=worst and _deepest_place(*worst),
            left=tuple(left),
        )


def _deepest_place(name: str, ring: Ring, stays: Region) -> tuple[str, float, float]:
    _, piece = deepest_leftover(stays, ring.space)
    assert piece is not None
    at = piece.representative_point()
    return name, float(at.x), float(at.y)


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
    tools = _few(tools)
    rings = [rings_of(o.solid, o.detail_mm, tools, depth_mm, tolerances) for o in outlines]
    whole = _Comparison(outlines, rings, tools, machine, nested_parts)
    numbers = range(len(tools))
    some = (_Set(whole, t) for k in numbers for t in combinations(numbers, k + 1))
    sets = sorted((s for s in some if s.used == set(s.tools)), key=lambda s: (s.time_s, s.tools))
    chosen = next(s for s in sets if s.complete)  # with all of them nothing more is reached
    rows = [chosen, *(s for s in _sensible(sets) if s is not chosen)]
    told = [s.left() for s in rows]
    told[0] = replace(told[0], chosen=True)
    compared = tuple(sorted(told, key=lambda s: (s.time_s, s.cutters)))
    made = tuple(
        tuple(_outline_choice(rings[k], ways, tools) for ways in options)
        for k, options in enumerate(chosen.options)
    )
    names = {t.cutter.key: t.cutter.name for t in tools}
    return ProfileChoice(made, compared, _reason(told[0], compared, names))


def _few(tools: Sequence[Tool]) -> list[Tool]:
    """Return no more cutters than can be compared in all sets, spread over the sizes."""
    if len(tools) <= _MOST_CUTTERS:
        return list(tools)
    last = len(tools) - 1
    return [tools[round(k * last / (_MOST_CUTTERS - 1))] for k in range(_MOST_CUTTERS)]


def _outline_choice(
    rings: Sequence[Ring], ways: Sequence[_Way | None], tools: Sequence[Tool]
) -> OutlineChoice:
    outside, *holes = (
        way and _chain(ring, way, tools) for ring, way in zip(rings, ways, strict=True)
    )
    assert outside is not None
    return OutlineChoice(outside, tuple(holes))


def _chain(ring: Ring, way: _Way, tools: Sequence[Tool]) -> Chain:
    main, *smaller = way.tools
    rests = [
        (tools[small].cutter, ring.rest(small, large))
        for large, small in zip((main, *smaller), smaller, strict=False)
    ]
    return Chain(tools[main].cutter, tuple(reversed(rests)), ring.reach(main).deep)


def _sensible(sets: Sequence[_Set]) -> list[_Set]:
    """Return each cutter alone, and the quickest set for each smallest cutter."""
    found: list[_Set] = []
    smallest: set[int] = set()
    for one in sets:
        if one.tools[0] not in smallest or len(one.tools) == 1:
            found.append(one)
        smallest.add(one.tools[0])
    return found


def _reason(chosen: CutterSet, sets: Sequence[CutterSet], names: Mapping[str, str]) -> str:
    """Return in words why this set was taken."""
    large, *small = [in_sentence(names[key]) for key in chosen.cutters]
    stays = f"inside corners stay round by {about_mm(chosen.left_round_mm)} at most"
    if not small:
        return f"The {large} cuts everything: {stays}"
    alone = next((s for s in sets if s.cutters == chosen.cutters[-1:]), None)
    why = f"{_minutes(chosen.time_s)} with the changes"
    if alone is not None:
        why += f", instead of {_minutes(alone.time_s)} with the smallest one alone"
    return (
        f"Each outline is followed by the largest cutter that pays, from the {large} down; what it "
        f"does not reach, the {listed(small)} cut first: {why}; {stays}"
        if len(small) > 1
        else f"The {small[0]} first cuts the corners that the {large} does not reach, then that "
        f"one cuts the outlines: {why}; {stays}"
    )


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
