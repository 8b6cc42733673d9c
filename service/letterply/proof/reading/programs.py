"""Read programs and a machine in, what is wrong with each program as a text out.

Also the reading of each program, for people: moves, lengths, bounds, and a time that no machine
can undercut, since acceleration is left out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Machine
from letterply.findings import Severity
from letterply.proof.model import Fault, ProgramReading, ProgramSource
from letterply.proof.reading.interpreter import ReadProgram
from letterply.proof.reading.moves import RAPID
from letterply.proof.reading.toolpath import TOP_OF_TRAVEL_MM, Toolpath
from letterply.units import listed

__all__ = ["judge_programs", "move_seconds", "sum_up"]


def judge_programs(
    sources: Sequence[ProgramSource], readings: Sequence[ReadProgram], machine: Machine
) -> tuple[Fault, ...]:
    """Return what is wrong with the programs before anything is cut."""
    faults: list[Fault] = []
    for source, reading in zip(sources, readings, strict=True):
        for problem in reading.problems:
            text = f"Line {problem.line} cannot be carried out: {problem.text}."
            faults.append(_fault(source, problem.code, text, problem.line))
        if not reading.problems:
            faults += _judge_end(source, reading)
        faults += _judge_head(source, reading)
        faults += _judge_units(source, reading, machine)
        faults += _judge_tools(source, reading, machine)
        if machine.kind == "beam":
            faults += _judge_beam(source, reading)
        faults += _judge_arcs(source, reading, machine)
        if reading.dusty_line:
            word = " and ".join(machine.extraction_on)
            text = f"The machine cuts while its extraction is off: {word} is missing."
            faults.append(_fault(source, "extraction", text, reading.dusty_line, Severity.CAUTION))
    return tuple(faults)


def _fault(
    source: ProgramSource,
    code: str,
    text: str,
    line: int | None = None,
    severity: Severity = Severity.BLOCKER,
) -> Fault:
    return Fault(code, severity, text, program=source.name, line=line)


def _judge_arcs(source: ProgramSource, reading: ReadProgram, machine: Machine) -> list[Fault]:
    by_centre, by_radius = reading.arc_lines
    if not machine.arcs:
        lines = [line for line in (by_centre, by_radius) if line]
        text = "The program has arcs (G2, G3), and the machine takes straight moves only."
        return [_fault(source, "arcs", text, min(lines))] if lines else []
    usual = "radius (R)" if machine.arc_form == "radius" else "centre (I, J)"
    other = by_centre if machine.arc_form == "radius" else by_radius
    if not other:
        return []
    text = f"An arc is not given by its {usual}, as the machine is said to take them."
    return [_fault(source, "arcs", text, other, Severity.CAUTION)]


def _judge_end(source: ProgramSource, reading: ReadProgram) -> list[Fault]:
    found: list[Fault] = []
    if reading.end not in ("M2", "M30"):
        found.append(
            _fault(source, "no-end", "The program stops without M2 or M30.", reading.lines)
        )
    if reading.spindle_on:
        text = "The program ends while the spindle or beam is still on: M5 is missing."
        found.append(_fault(source, "spindle-left-on", text, reading.lines))
    return found


def _judge_head(source: ProgramSource, reading: ReadProgram) -> list[Fault]:
    """Find modes that are left to whatever ran before on the machine."""
    if not reading.unsaid:
        return []
    line = int(reading.moves.lines[0])
    text = (
        f"The program moves before it has said {listed(reading.unsaid)}: the machine takes what "
        "was in force before."
    )
    return [_fault(source, "head", text, line)]


def _judge_beam(source: ProgramSource, reading: ReadProgram) -> list[Fault]:
    found: list[Fault] = []
    if reading.blind_line:
        text = "The machine moves before the program has put the beam out: M5 is missing."
        found.append(_fault(source, "beam-on", text, reading.blind_line))
    if reading.lit_pause_line:
        text = "The beam burns in one place: the program pauses (G4) while it is on."
        found.append(_fault(source, "beam-on", text, reading.lit_pause_line))
    return found


def _judge_units(source: ProgramSource, reading: ReadProgram, machine: Machine) -> list[Fault]:
    if reading.units in (machine.units, None):  # what is not said, the head tells
        return []
    if reading.units == "both":
        text = "The program changes between mm and inch."
    else:
        text = f"The program is in {reading.units}, but the machine is set to {machine.units}."
    return [_fault(source, "units", text, severity=Severity.CAUTION)]


def _judge_tools(source: ProgramSource, reading: ReadProgram, machine: Machine) -> list[Fault]:
    slots = range(1, len(source.cutters) + 1)
    called = set(reading.tools) | ({reading.selected} if reading.selected else set())
    found = [
        _fault(source, "tool", f"T{tool} is called, and there is no cutter for it.")
        for tool in sorted(called - set(slots))
    ]
    if len(source.cutters) > 1:
        if machine.tool_change != "automatic":
            text = "The program changes the cutter, and the machine cannot do so by itself."
            found.append(_fault(source, "tool", text))
        for slot in slots:
            if slot not in reading.tools and not reading.problems:
                text = f"Cutter T{slot} is named for the program and never called."
                found.append(_fault(source, "tool", text))
    if not source.cutters:
        found.append(_fault(source, "tool", "No cutter is named for the program."))
    return found


def sum_up(toolpath: Toolpath, machine: Machine) -> tuple[ProgramReading, ...]:
    """Return a reading for each program of a toolpath."""
    found: list[ProgramReading] = []
    lengths = toolpath.moves.lengths_mm
    seconds = move_seconds(toolpath, machine)
    for index, (source, reading) in enumerate(
        zip(toolpath.sources, toolpath.readings, strict=True)
    ):
        mine = toolpath.program == index
        rapid = toolpath.moves.kinds[mine] == RAPID
        cut = float(lengths[mine][~rapid].sum())
        step = _known_steps(toolpath)[mine][rapid]
        travel = np.hypot(np.hypot(step[:, 0], step[:, 1]), step[:, 2])
        used: list[str] = []
        for cutter in toolpath.cutter[mine]:
            if cutter >= 0 and toolpath.cutters[cutter].key not in used:
                used.append(toolpath.cutters[cutter].key)
        low, high = _bounds(toolpath, mine)
        time_s = None
        if not reading.problems:
            time_s = float(seconds[mine].sum()) + reading.dwell_s
        found.append(
            ProgramReading(
                name=source.name,
                cutters=tuple(used),
                moves=int(mine.sum()),
                cut_length_mm=cut,
                travel_length_mm=float(travel.sum()),
                low=low,
                high=high,
                time_s=time_s,
                chip_load_mm=_thickest_chip(toolpath, mine & (toolpath.moves.kinds != RAPID)),
            )
        )
    return tuple(found)


def _thickest_chip(toolpath: Toolpath, cuts: NDArray[np.bool_]) -> float | None:
    """Return the thickest chip a tooth of these moves, mm; None where nothing turns."""
    flutes = np.array([*(c.flutes for c in toolpath.cutters), 0])[toolpath.cutter[cuts]]
    edges = flutes * toolpath.moves.rpms[cuts]
    turning = edges > 0
    if not turning.any():
        return None
    return float((toolpath.moves.feeds[cuts][turning] / edges[turning]).max())


def move_seconds(toolpath: Toolpath, machine: Machine) -> NDArray[np.float64]:
    """Return the least time of each move, (n,) s, as if the machine needed none to gather speed."""
    moves = toolpath.moves
    step = _known_steps(toolpath)
    plane = np.hypot(step[:, 0], step[:, 1]) / machine.rapid_mm_per_min
    upright = np.abs(step[:, 2]) / machine.rapid_z_mm_per_min
    feeds = np.where(moves.feeds > 0, moves.feeds, np.inf)
    minutes = np.where(moves.kinds == RAPID, np.maximum(plane, upright), moves.lengths_mm / feeds)
    return np.asarray(60 * minutes)


def _known_steps(toolpath: Toolpath) -> NDArray[np.float64]:
    """Return from where to where each move goes, (n, 3) mm.

    From or to the top of the machine's travel the length is not known: none is counted.
    """
    step: NDArray[np.float64] = np.nan_to_num(toolpath.moves.ends - toolpath.moves.starts)
    step[np.abs(step) > TOP_OF_TRAVEL_MM - 200] = 0.0
    return step


_Point = tuple[float, float, float]


def _bounds(toolpath: Toolpath, mine: np.ndarray) -> tuple[_Point | None, _Point | None]:
    ends = toolpath.moves.ends[mine]
    ends = ends[np.isfinite(ends).all(axis=1) & (ends[:, 2] < TOP_OF_TRAVEL_MM - 200)]
    if not len(ends):
        return None, None
    low, high = ends.min(axis=0), ends.max(axis=0)
    return (
        (float(low[0]), float(low[1]), float(low[2])),
        (float(high[0]), float(high[1]), float(high[2])),
    )
