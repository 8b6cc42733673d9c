"""Program text in, moves out: an interpreter of a conservative subset of RS274/NGC.

Words on a line are carried out in the order of NISTIR 6556 (Kramer, Proctor, Messina, NIST 2000),
Table 8, wherever they stand: F, S, T, M6, M3 to M5, coolant, G4, plane, units, distance mode,
motion, end. So an F on the line of a G20 is still read in the units before it. Nothing is taken
from comments. Where nothing is said, the program starts absolute, in the given units, in G17 and
G94, with the spindle stopped, no tool, no feed and no motion mode; where the machine stands is
not known, neither then nor after a tool change. What differs between controllers is a `Dialect`.

The reader stops at the first line that a controller would refuse, as a controller would. Any
text gives a reading; none raises.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from letterply.proof.reading.arcs import centre_from_offsets, centre_from_radius, sweep_of
from letterply.proof.reading.dialect import Dialect, switch_of
from letterply.proof.reading.moves import ARC_CCW, ARC_CW, FEED, RAPID, moves_of
from letterply.proof.reading.readings import Pause, Problem, ReadProgram, SpindleStart
from letterply.proof.reading.words import AXES, ProgramError, Words, read_words
from letterply.units import MM_PER_INCH

__all__ = ["Pause", "Problem", "ReadProgram", "SpindleStart", "read_program"]

_ARC_TOLERANCE_MM = 0.002
_ARC_TOLERANCE_INCH = 0.0002
_G0, _G1, _G2, _G3, _G80 = 0, 10, 20, 30, 800
_LINE_END = re.compile(r"\r\n|\n|\r")

_HEAD: dict[int, str] = {
    170: "the plane (G17)",
    200: "the units (G20 or G21)",
    210: "the units (G20 or G21)",
    900: "the distance mode (G90)",
    910: "the distance mode (G90)",
    940: "the feed mode (G94)",
}
"""Ten times the number of a G word -> what it settles before anything moves."""


@dataclass(slots=True)
class _State:
    dialect: Dialect
    scale: float
    absolute_centres: bool
    measured: bool = False
    extraction: bool = False
    dusty_line: int = 0
    arc_lines: list[int] = field(default_factory=lambda: [0, 0])
    position: tuple[float, float, float] = (math.nan, math.nan, math.nan)
    motion: int | None = None
    absolute: bool = True
    feed: float = 0.0
    rpm: float = 0.0
    spindle: int = 0
    tool: int = 0
    selected: int = 0
    dwell_s: float = 0.0
    switched: bool = False
    blind_line: int = 0
    lit_pause_line: int = 0
    end: str | None = None
    units_said: set[str] = field(default_factory=set)
    tools: list[int] = field(default_factory=list)
    said: set[str] = field(default_factory=set)
    unsaid: tuple[str, ...] | None = None
    spindle_starts: list[SpindleStart] = field(default_factory=list)
    pauses: list[Pause] = field(default_factory=list)
    rows: list[tuple[float, ...]] = field(default_factory=list)


PLAIN = Dialect()


def read_program(text: str, dialect: Dialect = PLAIN) -> ReadProgram:
    """Read a program.

    Args:
        text: the program; lines end in LF, CR LF or CR.
        dialect: how the controller takes what is written.

    """
    state = _State(dialect, MM_PER_INCH if dialect.inch else 1.0, dialect.absolute_centres)
    problems: list[Problem] = []
    lines = _LINE_END.split(text)
    marked = False
    begun = False
    for number, line in enumerate(lines, start=1):
        bare = line.strip(" \t")
        if not bare:
            continue
        try:
            if bare == "%":
                if begun and not marked:
                    raise ProgramError("syntax", "a percent sign closes what none opened")
                if marked:
                    state.end = "%"
                    break
                marked = begun = True
                continue
            begun = True
            if _switches(state, bare):
                continue
            words = read_words(line)
            if words.g or words.m or words.values:
                if words.skippable:
                    raise ProgramError(
                        "block-delete", "whether this line is skipped depends on a switch"
                    )
                _carry_out(state, words, number)
        except ProgramError as problem:
            problems.append(Problem(problem.code, str(problem), number))
            break
        if state.end:
            break
    return ReadProgram(
        moves=moves_of(state.rows),
        problems=tuple(problems),
        end=state.end,
        spindle_on=state.spindle != 0,
        units=_said(state.units_said),
        tools=tuple(state.tools),
        selected=state.selected,
        dwell_s=state.dwell_s,
        lines=len(lines),
        blind_line=state.blind_line,
        lit_pause_line=state.lit_pause_line,
        unsaid=state.unsaid or (),
        spindle_starts=tuple(state.spindle_starts),
        pauses=tuple(state.pauses),
        dusty_line=state.dusty_line,
        arc_lines=(state.arc_lines[0], state.arc_lines[1]),
    )


def _switches(state: _State, line: str) -> bool:
    """Do a line of the machine's own that switches something; tell whether that is all it is."""
    dialect = state.dialect
    if "M" not in line.upper() or not (dialect.own or dialect.extraction_on):
        return False
    switch = switch_of(line)
    if switch in dialect.extraction_on:
        state.extraction = True
    elif switch in dialect.extraction_off:
        state.extraction = False
    return switch in dialect.own


def _said(units: set[str]) -> str | None:
    if len(units) > 1:
        return "both"
    return next(iter(units), None)


def _carry_out(state: _State, words: Words, line: int) -> None:
    """Do what one line says, in the order of NISTIR 6556 Table 8."""
    g, values = words.g, words.values
    if "F" in values:
        if values["F"] < 0:
            raise ProgramError("bad-value", "a negative feed")
        state.feed = values["F"] * state.scale
    if "S" in values:
        if values["S"] < 0:
            raise ProgramError("bad-value", "a negative spindle speed")
        state.rpm = values["S"]
    if "T" in values:
        if values["T"] < 0 or values["T"] != int(values["T"]):
            raise ProgramError("bad-value", "a tool number that is no whole number")
        state.selected = int(values["T"])
    end = _switch(state, words.m, line)
    if "P" in values and 40 not in g:
        raise ProgramError("missing-word", "P without the pause (G4) that it belongs to")
    if "H" in values and 430 not in g:
        raise ProgramError("missing-word", "H without the length (G43) that it belongs to")
    motion = None
    once_machine = False
    for code in g:
        if code in _HEAD:
            state.said.add(_HEAD[code])
        if code == 40:
            _pause(state, values, line)
        elif code == 430 or code == 490:
            _measure(state, values, called=code == 430)
        elif code == 901 or code == 911:
            state.absolute_centres = code == 901
        elif code == 200 or code == 210:
            state.scale = MM_PER_INCH if code == 200 else 1.0
            state.units_said.add("inch" if code == 200 else "mm")
        elif code == 900 or code == 910:
            state.absolute = code == 900
        elif code == 530:
            once_machine = True
        elif code in (_G0, _G1, _G2, _G3, _G80):
            motion = code
    _move(state, values, motion, once_machine, line)
    if end is not None:
        state.end = f"M{end}"


def _switch(state: _State, m: list[int], line: int) -> int | None:
    """Do the M words but stops and ends; return 2 or 30 when the program ends on this line."""
    end = None
    if 6 in m:
        # The machine may move to change the tool, and the next one has another length.
        state.tool = state.selected
        state.measured = False
        state.tools.append(state.tool)
        state.spindle = 0
        state.position = (math.nan, math.nan, math.nan)
    for code in m:
        if code in (3, 4, 5):
            was, state.spindle = state.spindle, {3: 1, 4: -1, 5: 0}[code]
            if state.spindle not in (0, was):
                state.spindle_starts.append(SpindleStart(len(state.rows), line))
            state.switched = True
        elif code in (2, 30):
            end = code
    return end


def _pause(state: _State, values: dict[str, float], line: int) -> None:
    if "P" not in values:
        raise ProgramError("missing-word", "a pause (G4) without its time (P)")
    if values["P"] < 0:
        raise ProgramError("bad-value", "a negative pause")
    seconds = values["P"] / 1000 if state.dialect.milliseconds else values["P"]
    state.dwell_s += seconds
    state.pauses.append(Pause(len(state.rows), line, seconds))
    if state.spindle and state.rpm > 0 and not state.lit_pause_line:
        state.lit_pause_line = line


def _measure(state: _State, values: dict[str, float], *, called: bool) -> None:
    """Take the length of a cutter from the machine's table (G43), or none (G49).

    The height at which the machine stands is another one then, and not known.
    """
    if called:
        if not state.dialect.length_offsets:
            raise ProgramError("unknown-word", "G43 is refused: the machine has no lengths to call")
        if "H" not in values:
            raise ProgramError("missing-word", "G43 without the number of a length (H)")
        if values["H"] != state.tool:
            raise ProgramError(
                "tool",
                f"G43 takes the length H{values['H']:g}, and cutter T{state.tool} is in the "
                "spindle",
            )
    if called or state.measured:
        state.position = (*state.position[:2], math.nan)
    state.measured = called


def _move(
    state: _State,
    values: dict[str, float],
    motion: int | None,
    once_machine: bool,
    line: int,
) -> None:
    has_axis = "X" in values or "Y" in values or "Z" in values
    has_offset = "I" in values or "J" in values or "R" in values
    if motion is not None:
        state.motion = motion
    mode = state.motion
    arc = mode in (_G2, _G3)
    if has_offset and not (arc and (has_axis or motion is not None)):
        raise ProgramError("missing-word", "I, J or R without an arc (G2, G3)")
    if not has_axis and not has_offset:
        if motion is not None and motion != _G80:
            raise ProgramError("missing-word", f"G{motion // 10} without an axis word")
        if once_machine:
            raise ProgramError("missing-word", "G53 without an axis word")
        return
    if mode is None or mode == _G80:
        raise ProgramError("missing-word", "axis words while no motion (G0 to G3) is in force")
    if once_machine:
        _move_in_machine(state, values, mode, line)
        return
    if "Z" in values and state.tool and state.dialect.length_offsets and not state.measured:
        raise ProgramError(
            "tool", f"a height while the length of cutter T{state.tool} is not called (G43)"
        )
    end = _target(state, values)
    if arc:
        _arc(state, values, end, mode == _G2, line)
        return
    if mode == _G1:
        _require_feed(state)
    _record(state, end, RAPID if mode == _G0 else FEED, (math.nan, math.nan), 0.0, line)


def _target(state: _State, values: dict[str, float]) -> tuple[float, float, float]:
    x, y, z = state.position
    scale = state.scale
    if state.absolute:
        return (
            values["X"] * scale if "X" in values else x,
            values["Y"] * scale if "Y" in values else y,
            values["Z"] * scale if "Z" in values else z,
        )
    return (
        x + values.get("X", 0.0) * scale,
        y + values.get("Y", 0.0) * scale,
        z + values.get("Z", 0.0) * scale,
    )


def _require_feed(state: _State) -> None:
    if state.feed <= 0:
        raise ProgramError("feed-missing", "a cut while no feed (F) above 0 is set")


def _move_in_machine(state: _State, values: dict[str, float], mode: int, line: int) -> None:
    """Move in machine coordinates (G53): where the axes end in the program's frame is not known.

    A rapid to Z0 is the one move of the kind whose height is good for anything: in machine
    coordinates it is the top of the travel.
    """
    if mode not in (_G0, _G1):
        raise ProgramError("modal-conflict", "G53 goes with G0 or G1 alone")
    if mode == _G1:
        _require_feed(state)
    position = list(state.position)
    for axis, letter in enumerate(AXES):
        if letter in values:
            position[axis] = math.nan
    if mode == _G0 and state.absolute and values.get("Z") == 0.0:
        position[2] = math.inf
    kind = RAPID if mode == _G0 else FEED
    end = (position[0], position[1], position[2])
    _record(state, end, kind, (math.nan, math.nan), 0.0, line)


def _arc(
    state: _State,
    values: dict[str, float],
    end: tuple[float, float, float],
    clockwise: bool,
    line: int,
) -> None:
    _require_feed(state)
    start = state.position
    if not (math.isfinite(start[0]) and math.isfinite(start[1])):
        raise ProgramError("unknown-position", "an arc from a place that is not known")
    scale = state.scale
    tolerance = _ARC_TOLERANCE_MM if scale == 1.0 else _ARC_TOLERANCE_INCH * MM_PER_INCH
    if "R" in values:
        if "I" in values or "J" in values:
            raise ProgramError("modal-conflict", "an arc given by centre and radius at once")
        if "X" not in values and "Y" not in values:
            raise ProgramError("missing-word", "an arc given by its radius needs X or Y")
        state.arc_lines[1] = state.arc_lines[1] or line
        centre = centre_from_radius(
            start[:2],
            end[:2],
            values["R"] * scale,
            clockwise=clockwise,
            tolerance_mm=tolerance,
        )
    elif "I" in values or "J" in values:
        state.arc_lines[0] = state.arc_lines[0] or line
        if state.absolute_centres:
            if "I" not in values or "J" not in values:
                raise ProgramError("missing-word", "the centre of an arc needs both I and J")
            offset = values["I"] * scale - start[0], values["J"] * scale - start[1]
        else:
            offset = values.get("I", 0.0) * scale, values.get("J", 0.0) * scale
        centre = centre_from_offsets(start[:2], end[:2], offset, tolerance_mm=tolerance)
    else:
        raise ProgramError("missing-word", "an arc without centre (I, J) or radius (R)")
    sweep = sweep_of(start[:2], end[:2], centre, clockwise=clockwise)
    _record(state, end, ARC_CW if clockwise else ARC_CCW, centre, sweep, line)


def _record(
    state: _State,
    end: tuple[float, float, float],
    kind: int,
    centre: tuple[float, float],
    sweep: float,
    line: int,
) -> None:
    if not state.switched and not state.blind_line:
        state.blind_line = line
    if state.unsaid is None:
        state.unsaid = tuple(dict.fromkeys(w for w in _HEAD.values() if w not in state.said))
    if kind != RAPID and state.spindle and not state.extraction and not state.dusty_line:
        state.dusty_line = line if state.dialect.extraction_on else 0
    feed = 0.0 if kind == RAPID else state.feed
    state.rows.append(
        (*state.position, *end, kind, *centre, sweep)
        + (feed, state.spindle, state.rpm, state.tool, line)
    )
    state.position = end
