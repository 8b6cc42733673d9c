"""A program as it was read: its moves, what could not be carried out, what it said and did beside.

Values of `letterply.proof.reading.interpreter`; lines count from 1.
"""

from __future__ import annotations

from dataclasses import dataclass

from letterply.proof.reading.moves import Moves

__all__ = ["Pause", "Problem", "ReadProgram", "SpindleStart"]


@dataclass(frozen=True, slots=True)
class Problem:
    """A line that could not be carried out.

    Attributes:
        code: a key of `letterply.proof.model.FAULT_CODES`.
        text: what is wrong, in words.
        line: line of the text, from 1.

    """

    code: str
    text: str
    line: int


@dataclass(frozen=True, slots=True)
class SpindleStart:
    """Where a spindle that stood still is started.

    Attributes:
        move: number of moves made before.
        line: line of the text.

    """

    move: int
    line: int


@dataclass(frozen=True, slots=True)
class Pause:
    """A pause (G4).

    Attributes:
        move: number of moves made before.
        line: line of the text.
        seconds: how long.

    """

    move: int
    line: int
    seconds: float


@dataclass(frozen=True, slots=True, eq=False)
class ReadProgram:
    """A program as read.

    Attributes:
        moves: all moves up to the end or the first problem.
        problems: what could not be carried out.
        end: `M2`, `M30`, `%` for a closing percent sign alone, or None.
        spindle_on: True when the spindle still turns where the reading ends.
        units: `mm` or `inch` where the program says so, None where it does not; `both` when it
            changes between moves.
        tools: numbers called by M6, in order.
        selected: the last number given by T, 0 when none.
        dwell_s: sum of all pauses.
        lines: number of lines.
        blind_line: line of the first move that is made before any M3, M4 or M5 said whether the
            spindle or beam is on; 0 for none.
        lit_pause_line: line of the first pause while it is on; 0 for none.
        unsaid: what the program had not said when it first moved, in words: plane, units,
            distance mode, feed mode.
        spindle_starts: where the spindle is started, in order.
        pauses: all pauses, in order.
        dusty_line: line of the first move at feed while the spindle or beam is on and the
            extraction is not, where the machine has one; 0 for none.
        arc_lines: line of the first arc that is given by its centre, and of the first by its
            radius; 0 for none.

    """

    moves: Moves
    problems: tuple[Problem, ...]
    end: str | None
    spindle_on: bool
    units: str | None
    tools: tuple[int, ...]
    selected: int
    dwell_s: float
    lines: int
    blind_line: int = 0
    lit_pause_line: int = 0
    unsaid: tuple[str, ...] = ()
    spindle_starts: tuple[SpindleStart, ...] = ()
    pauses: tuple[Pause, ...] = ()
    dusty_line: int = 0
    arc_lines: tuple[int, int] = (0, 0)
