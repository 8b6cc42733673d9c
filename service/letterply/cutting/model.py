"""Cut plans: operations in order for a sheet, and the programs that carry them out.

All coordinates are in the sheet's frame (`letterply.sheets.model`): mm, y up, z = 0 at the top
face, negative into the stock.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from enum import StrEnum

from letterply.cutting.toolpath import Rate, Toolpath
from letterply.findings import Finding
from letterply.requests import HoldDown
from letterply.shapes import Region
from letterply.sheets import Sheet, WorkZero

__all__ = [
    "IN_CORNERS",
    "CutPlan",
    "CutterChoice",
    "CutterSet",
    "Feeds",
    "Operation",
    "OperationKind",
    "Program",
    "Reason",
    "TimeSum",
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
        sink_mm_per_min: down where nothing is in the way; 0 where that is as slow as a plunge.

    """

    spindle_rpm: float
    feed_mm_per_min: float
    plunge_mm_per_min: float
    depth_per_pass_mm: float
    chip_load_mm: float
    reasons: tuple[Reason, ...]
    power_percent: float = 0.0
    sink_mm_per_min: float = 0.0

    @property
    def corner_feed_mm_per_min(self) -> float:
        """Feed through corners full of stock."""
        return float(round(IN_CORNERS * self.feed_mm_per_min))

    def at(self, rate: Rate) -> float:
        """Return the feed of a move, mm/min."""
        if rate in (Rate.PLUNGE, Rate.SINK):
            sinks = rate is Rate.SINK and self.sink_mm_per_min
            return self.sink_mm_per_min if sinks else self.plunge_mm_per_min
        return self.corner_feed_mm_per_min if rate is Rate.CORNER else self.feed_mm_per_min


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
        tab_foot_mm: how long each is on the underside of the stock; 0 where there are none.
        tab_height_mm: how high each is above the underside; 0 where there are none.
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
    tab_foot_mm: float = 0.0
    tab_height_mm: float = 0.0
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
        tab_foot_mm: mark -> how long each of them is on the underside; none where there are none.
        tab_height_mm: how high the highest of them is above the underside; None without tabs.
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
    tab_foot_mm: dict[str, float] = field(default_factory=dict)
    tab_height_mm: float | None = None

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
