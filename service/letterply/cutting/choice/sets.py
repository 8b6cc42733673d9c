"""Sets of cutters compared: what each takes, with its changes, and what it leaves.

A *job* is a group of spaces that are cut together: the outside and the holes of an outline, or a
floor. In a set each space has its own *chain*: one cutter that goes all the way, and smaller ones,
each only where the next larger one does not reach deeper than the detail. Of the sets that leave
nothing which another cutter of the rack would get at, the quickest is chosen. Lengths mm, times s.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import TypeVar

from letterply.catalogue import Cutter, Machine
from letterply.cutting.choice.reach import Space, Tool
from letterply.cutting.model import CutterSet
from letterply.shapes import Region, deepest_leftover
from letterply.side_by_side import side_by_side

__all__ = ["Chain", "Chosen", "Job", "choose_set", "few"]

_T = TypeVar("_T")

_MOST_FREED = 0.4
"""Share of an outline that smaller cutters may free before the one comes that goes all round."""

_MOST_CUTTERS = 6
"""More cutters than that are not compared in all sets: those in between are left out."""


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """Spaces that are cut together, in as many copies.

    Attributes:
        name: of the part.
        count: how many copies there are.
        spaces: the first one last of all: none of the others is cut by a larger cutter.

    """

    name: str
    count: int
    spaces: Sequence[Space]


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """How one space is cut.

    Attributes:
        main: the cutter that goes all the way.
        rests: smaller cutters, each with what it has to get at, the largest first.
        deep: what `main` leaves too deep.
        stays: what is left when all are done.

    """

    main: Cutter
    rests: tuple[tuple[Cutter, Region], ...]
    deep: Region
    stays: Region


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """The set that was chosen.

    Attributes:
        options: for each job the ways to cut it with this set, the quickest first: a chain for each
            of its spaces, None where no cutter goes.
        sets: what was compared, the quickest first.

    """

    options: tuple[tuple[tuple[Chain | None, ...], ...], ...]
    sets: tuple[CutterSet, ...]


@dataclass(frozen=True, slots=True)
class _Way:
    """How a space is cut with a set.

    Attributes:
        time_s: of all its cutters.
        share: of the space that the smaller ones free.
        tools: by number, the one that goes all round first, then smaller ones.

    """

    time_s: float
    share: float
    tools: tuple[int, ...]


_Ways = list[_Way | None]


class _Comparison:
    """All that is compared for a sheet: cutters by number, smallest first."""

    def __init__(
        self,
        jobs: Sequence[Job],
        tools: Sequence[Tool],
        machine: Machine,
        nested_parts: Iterable[tuple[str, str]],
    ) -> None:
        self.jobs = jobs
        self.tools = tools
        self.change_s = machine.tool_change_s + machine.spin_up_s
        self.containers: dict[str, set[str]] = {}
        for nested_part, container in nested_parts:
            self.containers.setdefault(nested_part, set()).add(container)
        numbers = range(len(tools))
        self.sets = [some for k in numbers for some in combinations(numbers, k + 1)]
        # What lies in a counter is looked at after the part around it.
        self.order = sorted(range(len(jobs)), key=lambda k: (self._nested(jobs[k].name), k))
        self._tails: dict[tuple[Space, tuple[int, ...]], _Way] = {}
        self._ways: dict[tuple[Space, tuple[int, ...]], _Way | None] = {}
        self._quickest: dict[tuple[int, tuple[int, ...]], _Ways] = {}

    def _nested(self, name: str) -> int:
        return 1 + max((self._nested(c) for c in self.containers.get(name, ())), default=-1)

    def tail(self, space: Space, tools: tuple[int, ...]) -> _Way:
        """Return how smaller cutters get at what the last of `tools` leaves of a space."""
        key = space, tools
        if key not in self._tails:
            self._tails[key] = self._quickest_tail(space, tools)
        return self._tails[key]

    def _quickest_tail(self, space: Space, tools: tuple[int, ...]) -> _Way:
        *smaller, large = tools
        best: _Way | None = None
        for k, small in enumerate(smaller):
            if not space.helps(small, large):
                continue
            rest = self.tail(space, tuple(smaller[: k + 1]))
            time = space.rest_time(small, large) + rest.time_s
            if best is None or time < best.time_s:
                share = space.rest_share(small, large) + rest.share
                best = _Way(time, share, (small, *rest.tools))
        return best or _Way(0.0, 0.0, ())

    def way(self, space: Space, tools: tuple[int, ...]) -> _Way | None:
        """Return how a space is cut by `tools`, the last of which goes all round; None if not.

        Whether it keeps the detail is dear to find out: see `keeps`.
        """
        key = space, tools
        if key not in self._ways:
            self._ways[key] = self._measured_way(space, tools)
        return self._ways[key]

    def _measured_way(self, space: Space, tools: tuple[int, ...]) -> _Way | None:
        loop = space.loop_time(tools[-1])
        if loop is None:
            return None
        tail = self.tail(space, tools)
        if tail.share > _MOST_FREED:
            return None
        chain = tools[-1], *tail.tools
        return _Way(loop + tail.time_s + space.after_time(chain), tail.share, chain)

    def keeps(self, space: Space, way: _Way, tools: Iterable[int]) -> bool:
        """Whether a way leaves nothing deeper than the detail that one of `tools` gets at."""
        return space.keeps_detail(way.tools, next(t for t in tools if space.goes(t)))

    def ranked(self, number: int, tools: Sequence[int]) -> Iterator[_Ways]:
        """Yield the ways to cut all spaces of a job with some cutters, the quickest first.

        None of them is cut by a larger cutter than the first.
        """
        first, *others = self.jobs[number].spaces
        prefixes = [tuple(tools[: k + 1]) for k in range(len(tools))]
        drafts = [
            [(way, p) for p in prefixes if (way := self.way(space, p)) is not None]
            for space in others
        ]
        for some in drafts:
            some.sort(key=lambda d: d[0].time_s)
        ranked: list[tuple[float, tuple[int, ...], _Ways]] = []
        for prefix in prefixes:
            outside = self.way(first, prefix)
            if outside is None:
                continue
            holes = [
                next((w for w, p in some if p[-1] <= prefix[-1] and self.keeps(space, w, p)), None)
                for space, some in zip(others, drafts, strict=True)
            ]
            time = outside.time_s + sum(w.time_s for w in holes if w is not None)
            ranked.append((time, prefix, [outside, *holes]))
        kept = False
        for _, prefix, ways in sorted(ranked, key=lambda r: (r[0], r[1][-1])):
            if ways[0] is not None and self.keeps(first, ways[0], prefix):
                kept = True
                yield ways
        if not kept:
            yield [None] * (1 + len(others))

    def quickest(self, number: int, tools: tuple[int, ...]) -> _Ways:
        """Return the quickest way to cut all spaces of a job with some cutters."""
        key = number, tools
        if key not in self._quickest:
            self._quickest[key] = next(self.ranked(number, tools))
        return self._quickest[key]

    def look_into(self, number: int) -> None:
        """Find out for a job what all sets of cutters would take.

        A job shares no space with another, so that several may be looked into at once. What lies in
        a counter is cut by no larger cutter than that: it waits until that is known.
        """
        if self.jobs[number].name not in self.containers:
            for tools in self.sets:
                self.quickest(number, tools)


def _mains(ways: Iterable[_Way | None]) -> list[int]:
    return [way.tools[0] for way in ways if way is not None]


class _Set:
    """One set of cutters, and how each space of each job is cut with it."""

    def __init__(self, whole: _Comparison, tools: tuple[int, ...]) -> None:
        self.whole = whole
        self.tools = tools
        self._within: dict[int, tuple[int, ...]] = {}
        found: dict[int, list[_Way | None]] = {}
        largest: dict[str, int] = {}
        for k in whole.order:
            job = whole.jobs[k]
            around = (largest[c] for c in whole.containers.get(job.name, ()) if c in largest)
            most = min(around, default=tools[-1])
            self._within[k] = tuple(t for t in tools if t <= most)
            found[k] = whole.quickest(k, self._within[k])
            largest[job.name] = min([most, *_mains(found[k][1:])])
        self.ways = [found[k] for k in range(len(whole.jobs))]

    @cached_property
    def options(self) -> list[list[list[_Way | None]]]:
        """For each job the ways to cut its spaces, the quickest first."""
        found = [list(self.whole.ranked(k, self._within[k])) for k in range(len(self.whole.jobs))]
        for k, job in enumerate(self.whole.jobs):
            # A counter in which other parts lie keeps its cutter.
            if any(job.name in around for around in self.whole.containers.values()):
                holes = _mains(self.ways[k][1:])
                found[k] = [w for w in found[k] if _mains(w[1:]) == holes]
        return found

    @cached_property
    def used(self) -> set[int]:
        """The cutters that have something to do."""
        return {t for ways in self.ways for way in ways if way is not None for t in way.tools}

    @cached_property
    def time_s(self) -> float:
        """How long the set takes, with a change to each cutter."""
        cutting = sum(
            job.count * sum(way.time_s for way in ways if way is not None)
            for job, ways in zip(self.whole.jobs, self.ways, strict=True)
        )
        return cutting + len(self.tools) * self.whole.change_s

    @cached_property
    def complete(self) -> bool:
        """Whether no cutter of the rack would get at more."""
        numbers = range(len(self.whole.tools))
        for job, ways in zip(self.whole.jobs, self.ways, strict=True):
            for space, way in zip(job.spaces, ways, strict=True):
                if way is None:
                    if any(space.loop_time(t) is not None for t in numbers):
                        return False
                    continue
                if any(space.helps(t, way.tools[-1]) for t in range(way.tools[-1])):
                    return False
                if not self.whole.keeps(space, way, numbers):
                    return False
        return True

    def left(self) -> CutterSet:
        """Return the set with what it leaves."""
        tools = self.whole.tools
        deepest, area = 0.0, 0.0
        worst: tuple[str, Space, Region] | None = None
        left: list[tuple[str, Region]] = []
        for job, ways in zip(self.whole.jobs, self.ways, strict=True):
            for space, way in zip(job.spaces, ways, strict=True):
                stays, depth = space.stays(way.tools if way is not None else ())
                if stays.is_empty:
                    continue
                left.append((job.name, stays))
                area += job.count * stays.area
                if depth > deepest:
                    deepest, worst = depth, (job.name, space, stays)
        return CutterSet(
            cutters=tuple(tools[t].cutter.key for t in reversed(self.tools)),
            time_s=round(self.time_s, 1),
            left_round_mm=round(deepest, 3),
            left_area_mm2=round(area, 2),
            where=worst and _deepest_place(*worst),
            left=tuple(left),
        )


def choose_set(
    jobs: Sequence[Job],
    tools: Sequence[Tool],
    machine: Machine,
    nested_parts: Iterable[tuple[str, str]] = (),
) -> Chosen | None:
    """Return the quickest set of cutters that leaves nothing which the rack gets at; None if none.

    Args:
        jobs: what is cut.
        tools: the cutters that are known by their numbers to the spaces of the jobs.
        machine: for its changes.
        nested_parts: names of parts that lie in a counter, each with that of the part whose counter
            it is: they are cut by no larger cutter than the counter is.

    """
    whole = _Comparison(jobs, tools, machine, nested_parts)
    side_by_side(whole.look_into, range(len(jobs)))
    some = (_Set(whole, tools) for tools in whole.sets)
    sets = sorted((s for s in some if s.used == set(s.tools)), key=lambda s: (s.time_s, s.tools))
    chosen = next((s for s in sets if s.complete), None)
    if chosen is None:
        return None
    rows = [chosen, *(s for s in _sensible(sets) if s is not chosen)]
    told = [replace(s.left(), chosen=s is chosen) for s in rows]
    options = tuple(
        tuple(
            tuple(_chain(s, way, tools) for s, way in zip(job.spaces, ways, strict=True))
            for ways in some
        )
        for job, some in zip(jobs, chosen.options, strict=True)
    )
    return Chosen(options, tuple(sorted(told, key=lambda s: (s.time_s, s.cutters))))


def _chain(space: Space, way: _Way | None, tools: Sequence[Tool]) -> Chain | None:
    if way is None:
        return None
    main, *smaller = way.tools
    rests = tuple(
        (tools[small].cutter, space.rest(small, large))
        for large, small in zip(way.tools, smaller, strict=False)
    )
    return Chain(tools[main].cutter, rests, space.reach(main).deep, space.stays(way.tools)[0])


def _deepest_place(name: str, space: Space, stays: Region) -> tuple[str, float, float]:
    _, piece = deepest_leftover(stays, space.region)
    assert piece is not None
    at = piece.representative_point()
    return name, float(at.x), float(at.y)


def few(tools: Sequence[_T], kept: Iterable[_T] = ()) -> list[_T]:
    """Return about as many cutters as can be compared in all sets, spread over the sizes.

    Those that are `kept` are among them: the smallest of all that go so deep as something is.
    """
    if len(tools) <= _MOST_CUTTERS:
        return list(tools)
    last = len(tools) - 1
    spread = {round(k * last / (_MOST_CUTTERS - 1)) for k in range(_MOST_CUTTERS)}
    return [tools[k] for k in sorted(spread | {tools.index(tool) for tool in kept})]


def _sensible(sets: Sequence[_Set]) -> list[_Set]:
    """Return each cutter alone, and the quickest set for each smallest cutter."""
    found: list[_Set] = []
    smallest: set[int] = set()
    for one in sets:
        if one.tools[0] not in smallest or len(one.tools) == 1:
            found.append(one)
        smallest.add(one.tools[0])
    return found
