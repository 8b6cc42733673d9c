"""Cut plans: operations in order for a sheet, and the programs that carry them out.

All coordinates are in the sheet's frame (`letterply.sheets.model`): mm, y up, z = 0 at the top
face, negative into the stock. A *toolpath* is one stay of the cutter in the stock: the cutter
travels at safe height to above its first point, goes down, follows it, and lifts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import NDArray

from letterply.findings import Finding
from letterply.requests import HoldDown
from letterply.shapes import ROUNDING, Region
from letterply.sheets import Sheet, WorkZero
from letterply.stacks import rigid

__all__ = [
    "IN_CORNERS",
    "CutPlan",
    "CutterChoice",
    "CutterSet",
    "EntryOptions",
    "Feeds",
    "Operation",
    "OperationKind",
    "Program",
    "Rate",
    "Reason",
    "TimeSum",
    "Toolpath",
]


IN_CORNERS = 0.7
"""Share of the feed where the cutter is held on more than one side; common practice, no source."""


class OperationKind(StrEnum):
    """What an operation does to the part."""

    SCRIBE = "scribe"
    GROOVE = "groove"
    POCKET = "pocket"
    DRILL = "drill"
    PROFILE = "profile"


class Rate(IntEnum):
    """How fast a move goes: along the cut, down, or through a corner full of stock."""

    FEED = 0
    PLUNGE = 1
    CORNER = 2


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a figure is what it is.

    Attributes:
        figure: name of the figure, as `feed_mm_per_min`.
        value: the figure.
        why: in words.
        source: document and clause, or `common practice, no source`.

    """

    figure: str
    value: float
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Feeds:
    """Speeds for one cutter in one material.

    Attributes:
        spindle_rpm: 0 when the spindle stands still.
        feed_mm_per_min: along the cut.
        plunge_mm_per_min: down.
        depth_per_pass_mm: depth of one pass.
        chip_load_mm: thickness of the chip a tooth; 0 when the spindle stands still.
        reasons: a reason for each figure.
        power_percent: of a beam, percent of its full power; 0 for what turns.

    """

    spindle_rpm: float
    feed_mm_per_min: float
    plunge_mm_per_min: float
    depth_per_pass_mm: float
    chip_load_mm: float
    reasons: tuple[Reason, ...]
    power_percent: float = 0.0

    @property
    def corner_feed_mm_per_min(self) -> float:
        """Feed through corners full of stock."""
        return float(round(IN_CORNERS * self.feed_mm_per_min))

    def at(self, rate: Rate) -> float:
        """Return the feed of a move, mm/min."""
        if rate is Rate.PLUNGE:
            return self.plunge_mm_per_min
        return self.corner_feed_mm_per_min if rate is Rate.CORNER else self.feed_mm_per_min


@dataclass(frozen=True, slots=True, eq=False)
class EntryOptions:
    """Ways to take a path, as good as each other: the order of work decides between them.

    Attributes:
        entries: (k, 2) float64, where the cutter goes down by each.
        exits: (k, 2) float64, where it lifts.
        make: from the number of a way to its path.

    """

    entries: NDArray[np.float64]
    exits: NDArray[np.float64]
    make: Callable[[int], Toolpath]

    def moved(self, angle_deg: float, x_mm: float, y_mm: float) -> EntryOptions:
        """Return the ways turned about the origin in the plane, then shifted."""
        return EntryOptions(
            _moved(self.entries, angle_deg, x_mm, y_mm),
            _moved(self.exits, angle_deg, x_mm, y_mm),
            lambda way: self.make(way).moved(angle_deg, x_mm, y_mm),
        )


def _moved(
    points: NDArray[np.float64], angle_deg: float, x_mm: float, y_mm: float
) -> NDArray[np.float64]:
    a, b, c, d, e, f = rigid(angle_deg, x_mm, y_mm)
    made = points.copy()
    made[..., :2] = points[..., :2] @ np.array([[a, b], [c, d]]).T + (e, f)
    return made


@dataclass(frozen=True, slots=True, eq=False)
class Toolpath:
    """One stay of the cutter in the stock.

    Attributes:
        start: (3,) float64, where the cutter goes down; its z is the face or higher.
        ends: (n, 3) float64, end of each move.
        centres: (n, 2) float64, centre of an arc in the plane; NaN for a line.
        senses: (n,) int8, 0 line, +1 counter-clockwise arc, -1 clockwise arc.
        rates: (n,) int8, the `Rate` of each move.
        entry_options: while the order of work is open, ways to take the path, this one first; None
        where
            it is the only one.

    """

    start: NDArray[np.float64]
    ends: NDArray[np.float64]
    centres: NDArray[np.float64]
    senses: NDArray[np.int8]
    rates: NDArray[np.int8]
    entry_options: EntryOptions | None = None

    @classmethod
    def joined(
        cls, pieces: Sequence[Toolpath], *, start: NDArray[np.float64] | None = None
    ) -> Toolpath:
        """Return the moves of all pieces as one path, from `start` or where the first begins."""
        return cls(
            start=pieces[0].start if start is None else start,
            ends=np.vstack([p.ends for p in pieces]),
            centres=np.vstack([p.centres for p in pieces]),
            senses=np.concatenate([p.senses for p in pieces]),
            rates=np.concatenate([p.rates for p in pieces]),
        )

    @classmethod
    def straight(
        cls, start: NDArray[np.float64], ends: NDArray[np.float64], rate: Rate = Rate.FEED
    ) -> Toolpath:
        """Return straight moves to each of `ends`, (n, 3), at one rate."""
        n = len(ends)
        return cls(
            start=start,
            ends=ends,
            centres=np.full((n, 2), np.nan),
            senses=np.zeros(n, dtype=np.int8),
            rates=np.full(n, rate, dtype=np.int8),
        )

    @property
    def plunging(self) -> NDArray[np.bool_]:
        """Which moves go at the plunge rate, (n,)."""
        plunging: NDArray[np.bool_] = self.rates == Rate.PLUNGE
        return plunging

    @property
    def length_mm(self) -> float:
        """Length in space, arcs by their radius and turn."""
        if not len(self):
            return 0.0
        starts = np.vstack((self.start, self.ends[:-1]))
        moves = self.ends - starts
        flat = np.hypot(moves[:, 0], moves[:, 1])
        arc = self.senses != 0
        if arc.any():
            centres = self.centres[arc]
            first, last = starts[arc, :2] - centres, self.ends[arc, :2] - centres
            turn = np.arctan2(last[:, 1], last[:, 0]) - np.arctan2(first[:, 1], first[:, 0])
            turn = np.mod(turn * self.senses[arc], 2 * np.pi)
            whole = np.hypot(*(last - first).T) < ROUNDING  # a full circle ends where it starts
            flat[arc] = np.hypot(first[:, 0], first[:, 1]) * np.where(whole, 2 * np.pi, turn)
        return float(np.hypot(flat, moves[:, 2]).sum())

    def __len__(self) -> int:
        """Return the number of moves."""
        return len(self.ends)

    def moved(self, angle_deg: float, x_mm: float, y_mm: float) -> Toolpath:
        """Return the path turned about the origin in the plane, then shifted."""
        return replace(
            self,
            start=_moved(self.start, angle_deg, x_mm, y_mm),
            ends=_moved(self.ends, angle_deg, x_mm, y_mm),
            centres=_moved(self.centres, angle_deg, x_mm, y_mm),
            entry_options=self.entry_options and self.entry_options.moved(angle_deg, x_mm, y_mm),
        )

    def taken(self, way: int) -> Toolpath:
        """Return the path taken by one of its ways, the only one then."""
        if self.entry_options is None:
            return self
        return replace(self if way == 0 else self.entry_options.make(way), entry_options=None)


@dataclass(frozen=True, slots=True, eq=False)
class Operation:
    """One operation on one part.

    Attributes:
        kind: what it does.
        cutter: key of the cutter.
        mark: mark of the placed part.
        paths: in order.
        depth_mm: largest depth.
        feeds: speeds.
        inside: for a profile, True for holes and counters, which go before the outline.
        tabs: number of tabs left.
        note: what the maker should know, in words.

    """

    kind: OperationKind
    cutter: str
    mark: str
    paths: tuple[Toolpath, ...]
    depth_mm: float
    feeds: Feeds
    inside: bool = False
    tabs: int = 0
    note: str = ""

    @property
    def corner_feed_mm_per_min(self) -> float | None:
        """Feed through corners full of stock; None where it meets none."""
        meets = any((path.rates == Rate.CORNER).any() for path in self.paths)
        return self.feeds.corner_feed_mm_per_min if meets else None

    def moved(self, mark: str, angle_deg: float, x_mm: float, y_mm: float) -> Operation:
        """Return the operation on another copy of its part, by one rigid move."""
        paths = tuple(p.moved(angle_deg, x_mm, y_mm) for p in self.paths)
        return replace(self, mark=mark, paths=paths)


@dataclass(frozen=True, slots=True, eq=False)
class CutterSet:
    """What a set of cutters takes and leaves of one kind of work.

    Attributes:
        cutters: their keys, the largest first.
        time_s: about how long they take, with a change to each.
        left_round_mm: how far what stays lies behind what is reached, at most.
        left_area_mm2: how much stays, on all parts.
        where: the part with the deepest of it, and a place there in the part's frame; None where
            nothing stays.
        left: part name -> what stays of one copy, in the part's frame.
        chosen: whether the plan cuts with this one.
        depth_mm: how deep grooves get below the face; None for other work.
        flat: part name -> a flat floor of one of its grooves, in the part's frame.
        flat_area_mm2: how much of that there is, on all parts.

    """

    cutters: tuple[str, ...]
    time_s: float
    left_round_mm: float
    left_area_mm2: float
    where: tuple[str, float, float] | None = None
    left: tuple[tuple[str, Region], ...] = ()
    chosen: bool = False
    depth_mm: float | None = None
    flat: tuple[tuple[str, Region], ...] = ()
    flat_area_mm2: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class CutterChoice:
    """Which cutters do one kind of work on a sheet, and what was compared.

    Attributes:
        work: `outlines`, `floors` or `grooves`.
        reason: in words.
        sets: what was compared, the quickest first.

    """

    work: str
    reason: str
    sets: tuple[CutterSet, ...] = ()


@dataclass(frozen=True, slots=True)
class TimeSum:
    """Time in seconds, by what it goes into.

    Attributes:
        cutting_s, travel_s, plunging_s, changes_s: the parts of it.
        quick_s, slow_s: all of it on a machine with twice and with half the acceleration, which is
            seldom known better; 0 where that is not asked.

    """

    cutting_s: float
    travel_s: float
    plunging_s: float
    changes_s: float
    quick_s: float = 0.0
    slow_s: float = 0.0

    @classmethod
    def summed(cls, times: Iterable[TimeSum]) -> TimeSum:
        """Return the sum of times."""
        some = list(times)
        return cls(*(sum(getattr(t, f.name) for t in some) for f in fields(cls)))

    @property
    def total_s(self) -> float:
        """All of it."""
        return self.cutting_s + self.travel_s + self.plunging_s + self.changes_s


@dataclass(frozen=True, slots=True)
class Program:
    """The text for the machine: one cutter, or several where the machine changes by itself.

    Attributes:
        name: file name without folder.
        cutters: keys of its cutters, in order.
        text: the program.
        time: how long it takes.

    """

    name: str
    cutters: tuple[str, ...]
    text: str
    time: TimeSum


@dataclass(frozen=True, slots=True, eq=False)
class CutPlan:
    """Operations in order for a sheet, and its programs in order of use.

    Attributes:
        sheet: the sheet.
        hold_down: how parts are held.
        through_mm: how far a through cut goes below the underside of the stock.
        operations: in order.
        programs: in order of use.
        tabs: mark -> number of tabs that must be left.
        time: the sum over all programs, run once.
        choices: which cutters do what, and what was compared: outlines, floors, grooves.
        findings: doubts that arose while planning.
        cautions: what to mind while it is cut, the gravest first.
        names: key -> name, of the material and the cutters.
        zero: where the x, y and z of its programs are nought.
        measured: which figures that the shop has measured count here, in words.

    """

    sheet: Sheet
    hold_down: HoldDown
    through_mm: float
    operations: tuple[Operation, ...]
    programs: tuple[Program, ...]
    tabs: dict[str, int]
    time: TimeSum
    choices: tuple[CutterChoice, ...] = ()
    findings: tuple[Finding, ...] = field(default_factory=tuple)
    cautions: tuple[str, ...] = ()
    names: dict[str, str] = field(default_factory=dict)
    zero: WorkZero = field(default_factory=WorkZero)
    measured: tuple[str, ...] = ()

    @property
    def whole_time(self) -> TimeSum:
        """Time of all runs of the sheet; the cutter of a single program stays in between them."""
        runs = self.sheet.runs
        time = self.time
        changes = (runs if len(self.programs) > 1 else 1) * time.changes_s
        quick, slow = (
            runs * (whole - time.changes_s) + changes for whole in (time.quick_s, time.slow_s)
        )
        return TimeSum(
            cutting_s=runs * time.cutting_s,
            travel_s=runs * time.travel_s,
            plunging_s=runs * time.plunging_s,
            changes_s=changes,
            quick_s=quick,
            slow_s=slow,
        )
