"""Values of the proof: what was read, what was removed, what is wrong, and the verdict.

All coordinates are in the sheet's frame: mm, x and y from the lower left of the stock, y up,
z = 0 at the top face, negative into the stock.

Terms: a *height field* is the surface of the stock on a square grid; a *fault* is one thing in
which the program and the parts disagree, with the line of the program where it shows; a *reading*
sums up one program as it was read; the *verdict* on a part says what became of it. A proof passes
only when it has no fault that is a blocker.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, Machine, Material
from letterply.findings import Severity
from letterply.requests import BeamPower, HoldDown, OwnFeeds

__all__ = [
    "FAULT_CODES",
    "Fault",
    "HeightField",
    "Motion",
    "PartVerdict",
    "ProgramReading",
    "ProgramSource",
    "Setup",
    "SheetProof",
]

DETAIL_MM = 0.25
"""Depth left round in a corner that nobody sees at arm's length; common practice, no source."""

FAULT_CODES: dict[str, str] = {
    "syntax": "text that is no line of a program: a stray sign, a bad number, a line too long",
    "unknown-word": "a word outside the subset that the proof reads",
    "modal-conflict": "two words of one modal group, or one letter twice, in one line",
    "block-delete": "a line that a switch on the machine decides whether to skip",
    "missing-word": "a line that lacks a word it needs: axis, arc centre, pause",
    "bad-value": "a value that its word may not have: negative feed, tool that is no number",
    "feed-missing": "a cut before any feed was set",
    "arc-mismatch": "an arc whose start and end lie at different distances from its centre",
    "no-end": "the program stops without an end word",
    "spindle-left-on": "the program ends with the spindle still turning",
    "unknown-position": "a move that depends on where the machine happened to stand",
    "units": "units that are not those of the machine",
    "arcs": "an arc for a machine that takes none, or takes them in another form",
    "tool": "a tool number that has no cutter, or a cutter that is never called",
    "extraction": "a cut while the extraction of dust or fumes is off",
    "gouge": "material removed that must stay",
    "uncut": "material left that must go: pocket floor, groove, line or blind hole",
    "not-through": "a cut that should part the stock and does not",
    "tabs-lost": "fewer tabs left than planned",
    "tabs-extra": "more tabs left than planned",
    "tabs-long": "a tab longer than planned: what holds the part stays beside it",
    "loose": "a part that comes free before the last cut that touches it",
    "order": "an outline or a hole cut before the work inside it is done",
    "rapid-in-stock": "a rapid move through material",
    "plunge": "straight down into material with a cutter that cannot plunge",
    "spindle-off": "a rotating cutter cuts while the spindle stands still",
    "spindle-on": "a drag point scribes while the spindle turns",
    "spindle-direction": "the spindle turns the wrong way",
    "spindle-speed": "a spindle speed outside the machine's range",
    "feed": "a feed above what the machine can do",
    "reach": "a cut deeper than the cutter is long",
    "outside-machine": "travel beyond the bed or the height of the machine",
    "outside-stock": "cutting beyond the edge of the stock",
    "below-bed": "a cut deeper below the stock than allowed",
    "rounded": "inside corners and narrow bays that the cutter does not get into",
    "closed": "a hole narrower than any cutter that could cut it, and so not there",
    "shallow": "a floor or groove left higher than wanted, within what the cutter can reach",
    "beam-on": "the beam is lit, or not known to be out, where it must not be: travel, a pause",
    "power": "the power of the beam is not the maker's own",
    "adrift": "a part whose tabs hold on to waste that comes loose itself",
    "no-program": "a sheet for which there is no program",
    "head": "a program that moves before it has said units, plane, distance and feed mode",
    "low-travel": "travel over the sheet below the machine's safe height",
    "rapid-at-depth": "a rapid move sideways below the face, even where the stock is gone",
    "no-lift": "a program, or a cutter's turn in it, that ends with the cutter down",
    "travel-outside": "travel beyond the edge of the sheet",
    "deep-pass": "a cut deeper at once than the cutter bears in the material",
    "chip-load": "a feed and spindle speed that give a thicker chip than the cutter bears",
    "surface-speed": "a spindle speed at which the cutter's edge is faster than the material bears",
    "spin-up": "a cut before the spindle has had its time to come up",
    "pause-in-cut": "a pause while the cutter turns in the stock",
    "stray": "a cut in what no outline, hole or feature asks for",
    "clamp": "a cutter in a clamp, a screw or a place that is kept free, or low travel over it",
    "tabs-tall": "a tab higher than planned: the part is hard to break out",
}
"""Code -> what is wrong. Append-only."""


@dataclass(frozen=True, slots=True)
class ProgramSource:
    """A program as the machine gets it.

    Attributes:
        name: file name without folder.
        cutters: keys of its cutters in order of tool number: T1, T2, ...
        text: the program.

    """

    name: str
    cutters: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """How a sheet is set up to be cut: what its programs are held against, parts and stock apart.

    Attributes:
        cutters: the rack by key; holds every key that a program names. A hole that none of them
            could cut is a caution, not a blocker.
        machine: limits and conventions.
        through_mm: how far a through cut goes below the underside; negative for the thickness of
            a skin that is left.
        hold_down: how parts are held while they are cut.
        tabs: mark -> tabs that must be left, in all rings of the part; none where not named.
        tab_height_mm: how high a tab is at most; None where that is not known. A bridge counts as
            a tab from half of it, or from 0.2 mm.
        tab_foot_mm: mark -> how long each of its tabs is on the underside; where not named, what is
            up to 20 mm or a third of its ring long is a tab.
        power: the maker's own figures for the sheet under a beam; no other may be in a program.
        material: what the sheet is of: what it bears is held against the programs; None where it
            is not known.
        feeds: key of a cutter -> the maker's own figures, which stand above what is usual.
        detail_mm: how deep an inside corner may stay round that a cutter of the rack gets into,
            where no part or feature says it.

    """

    cutters: Mapping[str, Cutter]
    machine: Machine
    through_mm: float
    hold_down: HoldDown
    tabs: Mapping[str, int]
    tab_height_mm: float | None = None
    power: BeamPower | None = None
    material: Material | None = None
    feeds: Mapping[str, OwnFeeds] = field(default_factory=dict)
    detail_mm: float = DETAIL_MM
    tab_foot_mm: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class HeightField:
    """The surface of the stock on a square grid.

    Attributes:
        cell_mm: width of a cell.
        origin: (x, y) of the lower left corner of cell [0, 0], mm; its centre lies half a cell
            further in both directions.
        z: (ny, nx) float32, mm, row 0 lowest y: height at the centre of each cell, 0 at the top
            face, negative where material is gone. In a wanted surface NaN marks cells where
            nothing is asked, as between parts.

    """

    cell_mm: float
    origin: tuple[float, float]
    z: NDArray[np.float32]

    def __post_init__(self) -> None:
        if not (math.isfinite(self.cell_mm) and self.cell_mm > 0):
            raise ValueError(f"a cell of {self.cell_mm} mm is no cell")
        if self.z.ndim != 2 or self.z.dtype != np.float32:
            raise ValueError("a height field is a two-dimensional float32 array")

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Left, low, right and high edge of the grid, mm."""
        ny, nx = self.z.shape
        left, low = self.origin
        return left, low, left + nx * self.cell_mm, low + ny * self.cell_mm

    @property
    def centres(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Centres of cells: x of every column, (nx,), and y of every row, (ny,), mm."""
        ny, nx = self.z.shape
        left, low = self.origin
        columns = np.arange(nx, dtype=np.float64) + 0.5
        rows = np.arange(ny, dtype=np.float64) + 0.5
        return left + columns * self.cell_mm, low + rows * self.cell_mm

    def cell_of(self, x_mm: float, y_mm: float) -> tuple[int, int]:
        """Row and column of the cell in which a place lies, of the nearest one for one outside."""
        ny, nx = self.z.shape
        column = int((x_mm - self.origin[0]) / self.cell_mm)
        row = int((y_mm - self.origin[1]) / self.cell_mm)
        return min(max(row, 0), ny - 1), min(max(column, 0), nx - 1)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing in which the program and the parts, the cutter or the machine disagree.

    Attributes:
        code: a key of `FAULT_CODES`.
        severity: a blocker fails the proof; a caution does not.
        text: one sentence in plain words, figures included.
        program: name of the program, or None when it concerns all of them.
        line: line of the program's text, from 1, or None.
        where: (x, y) in the sheet's frame, mm, or None.
        measured: what was measured, in `unit`, or None.
        limit: what it is held against, in `unit`, or None.
        unit: unit of both.
        mark: mark of the part, or None.

    """

    code: str
    severity: Severity
    text: str
    program: str | None = None
    line: int | None = None
    where: tuple[float, float] | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str = "mm"
    mark: str | None = None

    def __post_init__(self) -> None:
        if self.code not in FAULT_CODES:
            raise ValueError(f"{self.code!r} is not in the catalogue of faults")


@dataclass(frozen=True, slots=True)
class PartVerdict:
    """What became of one part.

    Attributes:
        mark: mark of the placed part.
        gouge_depth_mm: largest depth below what was wanted, 0 when none.
        gouge_area_mm2: area cut into that must stay.
        uncut_area_mm2: area left higher than wanted.
        uncut_depth_mm: largest height left above what was wanted.
        through: True when the outline and every hole that a cutter fits into are cut through,
            tabs apart.
        tabs_found: bridges left between the part and its surroundings.
        tabs_wanted: bridges planned.
        held: True when the part stayed held until the last cut that touches it.

    """

    mark: str
    gouge_depth_mm: float
    gouge_area_mm2: float
    uncut_area_mm2: float
    uncut_depth_mm: float
    through: bool
    tabs_found: int
    tabs_wanted: int
    held: bool


@dataclass(frozen=True, slots=True)
class ProgramReading:
    """One program as it was read.

    Attributes:
        name: file name of the program.
        cutters: keys of the cutters that it calls, in order of use.
        moves: number of moves.
        cut_length_mm: path at feed, in space.
        travel_length_mm: path at rapid rate, in space.
        low: least x, y, z of all moves, or None when nothing moves.
        high: largest x, y, z of all moves, or None.
        time_s: what the moves take at least: length over feed, travel over the machine's rapid
            rate, pauses added, acceleration left out; None when the text could not be read.
        chip_load_mm: the thickest chip a tooth that a move at feed takes, F over n and the number
            of edges; None where nothing turns.

    """

    name: str
    cutters: tuple[str, ...]
    moves: int
    cut_length_mm: float
    travel_length_mm: float
    low: tuple[float, float, float] | None
    high: tuple[float, float, float] | None
    time_s: float | None
    chip_load_mm: float | None = None

    @property
    def lowest_z_mm(self) -> float:
        """Lowest point of the cutter's tip; 0 when nothing moves."""
        return self.low[2] if self.low else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """Where the cutters go over a sheet, program after program, to be shown and not to be judged.

    Arcs are chords, within a tenth of a millimetre; moves whose place is not known are left out.
    Where a piece does not begin where the one before ended, its beginning is a point too.

    Attributes:
        points: (n, 3) float32, mm: where the cutter comes to, one after the other.
        seconds: (n,) float32, the least time that it takes.
        programs: (n,) int16, index of the program.
        cutters: (n,) int16, index into `profiles` of what is in the spindle.
        lines: (n,) int32, line of the program's text, from 1.
        profiles: key, shape (0 flat, 1 ball, 2 cone), radius and radius of the tip in mm, and the
            height gained a unit of radius on a cone.
        remarks: index of the program, line and text of each line that is a comment alone.

    """

    points: NDArray[np.float32]
    seconds: NDArray[np.float32]
    programs: NDArray[np.int16]
    cutters: NDArray[np.int16]
    lines: NDArray[np.int32]
    profiles: tuple[tuple[str, int, float, float, float], ...]
    remarks: tuple[tuple[int, int, str], ...]

    @classmethod
    def none(cls) -> Motion:
        """Return the motion of no program."""
        column = np.zeros(0, dtype=np.int16)
        places, seconds = np.zeros((0, 3), dtype=np.float32), np.zeros(0, dtype=np.float32)
        return cls(places, seconds, column, column, column.astype(np.int32), (), ())


@dataclass(frozen=True, slots=True, eq=False)
class SheetProof:
    """What an independent reading of a sheet's programs shows.

    Attributes:
        sheet_number: number of the sheet.
        thickness_mm: thickness of its stock.
        passed: True when no fault is a blocker.
        faults: worst first.
        parts: a verdict for each part, in the sheet's order.
        readings: one a program, in order of use.
        carved: the surface that the programs leave; z at or below -thickness is through.
        wanted: the surface that the parts ask for, on the same grid; NaN where nothing is asked.
        summary: one sentence in plain words.
        motion: where the cutters went; None where it is not told.

    """

    sheet_number: int
    thickness_mm: float
    passed: bool
    faults: tuple[Fault, ...]
    parts: tuple[PartVerdict, ...]
    readings: tuple[ProgramReading, ...]
    carved: HeightField
    wanted: HeightField
    summary: str
    motion: Motion | None = None

    def __post_init__(self) -> None:
        if self.passed == any(f.severity is Severity.BLOCKER for f in self.faults):
            raise ValueError("a proof passes exactly when no fault is a blocker")
