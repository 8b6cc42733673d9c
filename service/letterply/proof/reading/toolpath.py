"""Programs and cutters in, the toolpath of the cutters over the sheet out.

The *toolpath* holds the moves of all programs of a sheet, one after another, in the sheet's frame,
with the cutter of each, and their straight segments. A *stay* is a run of segments that do not
rise above the face: one visit of the cutter to the stock. Segments whose place or cutter is not
known are left out; they are reported as faults elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import BEAM_LINE_MM, Cutter, CutterKind, Machine
from letterply.errors import UnknownName
from letterply.proof.model import HeightField, ProgramSource, Setup
from letterply.proof.reading.dialect import Dialect
from letterply.proof.reading.interpreter import ReadProgram, read_program
from letterply.proof.reading.moves import RAPID, Boxed, Moves, Segments, clip_below, segments_of
from letterply.proof.removal.strokes import Profile, profile_of
from letterply.proof.removal.swept import GRAZE_MM, Bites, carve
from letterply.requests import BeamPower
from letterply.sheets import WorkZero

__all__ = ["TOP_OF_TRAVEL_MM", "Toolpath", "carve_toolpath", "known_moves", "lay_out", "read_all"]

TOP_OF_TRAVEL_MM = 1000.0
"""Stands for the top of the machine's travel, whose height over the stock is not known."""


@dataclass(frozen=True, slots=True, eq=False)
class Toolpath:
    """All moves of a sheet's programs in the sheet's frame.

    Attributes:
        sources: the programs.
        readings: as they were read, one each.
        cutters: cutters that occur, each once.
        profiles: the profile of each cutter.
        moves: all moves; NaN where a place is not known.
        program: (n,) int32, index of each move's program.
        cutter: (n,) int32, index of each move's cutter, -1 when not known.
        segments: straight pieces of the moves whose place is known; `moves` indexes the above.
        seg_cutter: (m,) int32, cutter of each segment.
        stays: (m,) int64, number of the stay of each segment, -1 above the face.

    """

    sources: tuple[ProgramSource, ...]
    readings: tuple[ReadProgram, ...]
    cutters: tuple[Cutter, ...]
    profiles: tuple[Profile, ...]
    moves: Moves
    program: NDArray[np.int32]
    cutter: NDArray[np.int32]
    segments: Segments
    seg_cutter: NDArray[np.int32]
    stays: NDArray[np.int64]
    _below: dict[tuple[tuple[int, ...], float], Boxed] = field(
        init=False, default_factory=dict, repr=False
    )

    def below(self, cutters: Sequence[int], level_mm: float) -> Boxed:
        """Return what cutters, by their index, cut at or below a height, in order; kept."""
        key = tuple(cutters), level_mm
        if key not in self._below:
            mine = self.segments.take(np.isin(self.seg_cutter, key[0]))
            self._below[key] = Boxed.of(clip_below(mine, level_mm))
        return self._below[key]

    def line_of(self, move: int) -> tuple[str, int]:
        """Return the name of the program and the line of a move."""
        return self.sources[int(self.program[move])].name, int(self.moves.lines[move])

    def radii(self) -> NDArray[np.float64]:
        """Radius of the cutter of each segment, (m,), mm."""
        table = np.array([p.radius_mm for p in self.profiles] + [0.0])
        radii: NDArray[np.float64] = table[self.seg_cutter]
        return radii


def read_all(sources: Sequence[ProgramSource], machine: Machine) -> tuple[ReadProgram, ...]:
    """Read the programs as the machine's controller takes them."""
    dialect = Dialect.of(machine)
    return tuple(read_program(s.text, dialect) for s in sources)


_LINE_DEG = 120.0


def lay_out(
    sources: Sequence[ProgramSource],
    readings: Sequence[ReadProgram],
    setup: Setup,
    *,
    thickness_mm: float,
    sagitta_mm: float,
    zero: WorkZero | None = None,
) -> Toolpath:
    """Put the moves of all programs on the sheet, where they are nought at its work zero.

    Without a zero that is its lower left corner.

    A beam cuts at every move at feed while it is on, and through the whole thickness; its height
    says nothing. At the maker's power to scribe it draws a line as a drag point does. A program
    that calls no tool has its one cutter in the spindle.

    Raises:
        UnknownName: a program names a cutter that the setup has not.

    """
    machine = setup.machine
    keys = sorted({key for source in sources for key in source.cutters})
    for key in keys:
        if key not in setup.cutters:
            raise UnknownName("cutter", key, tuple(setup.cutters), field="programs")
    library = tuple(setup.cutters[key] for key in keys)
    moves = _join([r.moves for r in readings])
    program = np.repeat(np.arange(len(readings)), [len(r.moves) for r in readings])
    cutter = np.full(len(moves), -1, dtype=np.int32)
    for index, source in enumerate(sources):
        mine = program == index
        tools = moves.tools[mine]
        slots = np.full(len(tools), -1, dtype=np.int32)
        for slot, key in enumerate(source.cutters, start=1):
            slots[tools == slot] = keys.index(key)
        if len(source.cutters) == 1:
            slots[tools == 0] = keys.index(source.cutters[0])
        cutter[mine] = slots
    beams = np.array([c.kind is CutterKind.BEAM for c in library] + [False])
    drawing = _drawing(moves, beams[cutter], machine, setup.power)
    if drawing.any():
        beam = next(c for c in library if c.kind is CutterKind.BEAM)
        library += (replace(beam, kind=CutterKind.DRAG, included_angle_deg=_LINE_DEG),)
    zero = zero or WorkZero.of_corner(machine, thickness_mm)
    floor = -(thickness_mm + max(setup.through_mm, 0.0))
    _put_on_sheet(moves, beams[cutter], -zero.lift_mm, floor)
    moves.starts[drawing, 2] = moves.ends[drawing, 2] = -BEAM_LINE_MM
    cutter[drawing] = len(library) - 1
    for xy in (moves.starts, moves.ends, moves.centres):
        xy[:, :2] += (zero.x_mm, zero.y_mm)
    kept = _known(moves, cutter)
    pieces = segments_of(_choose(moves, kept), sagitta_mm=sagitta_mm)
    segments = Segments(pieces.starts, pieces.ends, kept[pieces.moves])
    return Toolpath(
        sources=tuple(sources),
        readings=tuple(readings),
        cutters=library,
        profiles=tuple(profile_of(c) for c in library),
        moves=moves,
        program=program.astype(np.int32),
        cutter=cutter,
        segments=segments,
        seg_cutter=cutter[segments.moves],
        stays=_stays(segments, program),
    )


def known_moves(toolpath: Toolpath) -> tuple[NDArray[np.int64], Moves]:
    """Return the indices of the moves whose place and cutter are known, and these moves."""
    kept = _known(toolpath.moves, toolpath.cutter)
    return kept, _choose(toolpath.moves, kept)


def _known(moves: Moves, cutter: NDArray[np.int32]) -> NDArray[np.int64]:
    placed = np.isfinite(moves.starts).all(axis=1) & np.isfinite(moves.ends).all(axis=1)
    return np.flatnonzero(placed & (cutter >= 0))


POWER_SHARE = 0.001
"""Share of full power by which a power may differ from the maker's own: rounding of the S word."""


def _drawing(
    moves: Moves, beam: NDArray[np.bool_], machine: Machine, power: BeamPower | None
) -> NDArray[np.bool_]:
    """Return the moves, (n,), at which a beam is on at the power to scribe."""
    if power is None or power.scribe_percent is None:
        return np.zeros(len(moves), dtype=np.bool_)
    level, cut = (machine.power_full * p / 100 for p in (power.scribe_percent, power.cut_percent))
    near = np.abs(moves.rpms - level) <= POWER_SHARE * machine.power_full
    near &= np.abs(moves.rpms - level) < np.abs(moves.rpms - cut)
    lit = beam & (moves.spindles != 0) & (moves.kinds != RAPID)
    drawing: NDArray[np.bool_] = lit & near
    return drawing


def _put_on_sheet(moves: Moves, beam: NDArray[np.bool_], shift_mm: float, floor_mm: float) -> None:
    moves.starts[:, 2] += shift_mm
    moves.ends[:, 2] += shift_mm
    moves.starts[np.isposinf(moves.starts[:, 2]), 2] = TOP_OF_TRAVEL_MM
    moves.ends[np.isposinf(moves.ends[:, 2]), 2] = TOP_OF_TRAVEL_MM
    burning = beam & (moves.spindles != 0) & (moves.rpms > 0)
    height = np.where(burning, floor_mm, 1.0)
    moves.starts[beam, 2] = height[beam]
    moves.ends[beam, 2] = height[beam]


def _join(parts: Sequence[Moves]) -> Moves:
    if not parts:
        return Moves(
            np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0, np.int8), np.zeros((0, 2)),
            np.zeros(0), np.zeros(0), np.zeros(0, np.int8), np.zeros(0),
            np.zeros(0, np.int32), np.zeros(0, np.int32),
        )  # fmt: skip
    return Moves(
        starts=np.concatenate([p.starts for p in parts]),
        ends=np.concatenate([p.ends for p in parts]),
        kinds=np.concatenate([p.kinds for p in parts]),
        centres=np.concatenate([p.centres for p in parts]),
        sweeps=np.concatenate([p.sweeps for p in parts]),
        feeds=np.concatenate([p.feeds for p in parts]),
        spindles=np.concatenate([p.spindles for p in parts]),
        rpms=np.concatenate([p.rpms for p in parts]),
        tools=np.concatenate([p.tools for p in parts]),
        lines=np.concatenate([p.lines for p in parts]),
    )


def _choose(moves: Moves, index: NDArray[np.int64]) -> Moves:
    return Moves(
        starts=moves.starts[index],
        ends=moves.ends[index],
        kinds=moves.kinds[index],
        centres=moves.centres[index],
        sweeps=moves.sweeps[index],
        feeds=moves.feeds[index],
        spindles=moves.spindles[index],
        rpms=moves.rpms[index],
        tools=moves.tools[index],
        lines=moves.lines[index],
    )


def _stays(segments: Segments, program: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give each segment the number of the run below the face that it belongs to."""
    if not len(segments):
        return np.zeros(0, dtype=np.int64)
    below = np.minimum(segments.starts[:, 2], segments.ends[:, 2]) < 0
    up = segments.starts[:, 2] >= 0
    owner = program[segments.moves]
    begins = below.copy()
    begins[1:] &= ~below[:-1] | up[1:] | (owner[1:] != owner[:-1])
    numbers: NDArray[np.int64] = np.where(below, np.cumsum(begins) - 1, -1)
    return numbers


def carve_toolpath(field: HeightField, toolpath: Toolpath, *, graze_mm: float = GRAZE_MM) -> Bites:
    """Run the whole toolpath over a field, in place; return what each segment bit."""
    count = len(toolpath.segments)
    bites = Bites(np.zeros(count), np.zeros(count))
    if not count:
        return bites
    changes = np.flatnonzero(np.diff(toolpath.seg_cutter)) + 1
    for run in np.split(np.arange(count), changes):
        profile = toolpath.profiles[int(toolpath.seg_cutter[run[0]])]
        found = carve(field, toolpath.segments.take(run), profile, graze_mm=graze_mm)
        bites.most[run], bites.core[run] = found
    return bites
