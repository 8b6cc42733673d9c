"""Programs: toolpaths in, G-code text out.

A conservative subset of RS274/NGC (NISTIR 6556; see Table 4 there for the modal groups): G0 G1
G2 G3, G17 G20/G21 G40 G49 G54 G80 G90 G94, M3 M5, M6 and T where the machine changes cutters itself
(and G43 H where it has their lengths), G4, G53 to park, M2 or M30, F, S. One header of comments
says stock, zero, cutter, safe height and cautions. What differs between machines (units, decimals,
arcs and their form, ends and numbers of lines, zero, what is switched, words at start and end) is
the machine's data, written by `letterply.cutting.writer`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from letterply.catalogue import Cutter, CutterKind, Machine
from letterply.cutting.model import Feeds, Operation, Program, TimeSum
from letterply.cutting.timing import chain_time, corner_speeds
from letterply.cutting.toolpath import Rate, Toolpath
from letterply.cutting.writer import Writer
from letterply.names import ascii_mark
from letterply.shapes import LEAST_DIVISOR
from letterply.sheets import WorkZero

__all__ = ["Tooling", "write_program"]

APPROACH_MM = 1.0
"""Height over the face to which the cutter comes down at rapid speed."""

_LAST_MM = 0.3
"""Height over where a path begins from which the cutter plunges: above, nothing is in its way but
stock that does not lie flat; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Tooling:
    """A cutter with what it does in a program, in order."""

    cutter: Cutter
    operations: tuple[Operation, ...]


_RAPID, _CUT, _PLUNGE = 0, 1, 2

_BAND = 2.0
"""A machine's acceleration is seldom known better than by this factor; common practice, no
source."""


def write_program(
    name: str,
    header: Sequence[str],
    tooling: Sequence[Tooling],
    machine: Machine,
    zero: WorkZero,
    *,
    coolant: bool = False,
) -> Program:
    """Return the program that carries out the operations of each cutter in turn.

    With `tool_change = program` there is one cutter. The same input gives the same bytes.

    Args:
        name: its file name.
        header: what is said before anything is done.
        tooling: cutters and their work, in order.
        machine: whose habits it is written by.
        zero: where its x, y and z are nought.
        coolant: whether the material asks for it.

    """
    w = Writer(machine, zero.lift_mm)
    shift = -zero.x_mm, -zero.y_mm
    if machine.program_mark:
        w.lines.append("%")
    for text in header:
        w.comment(text)
    units = "G20" if machine.units == "inch" else "G21"
    w.lines.append(f"G17 {units} G40 G49 G54 G80 G90 G94")
    w.lines.extend(machine.start_words)
    keys = list(dict.fromkeys(t.cutter.key for t in tooling))
    switched_on = machine.extraction_on + (machine.coolant_on if coolant else ())
    switched_off = (machine.coolant_off if coolant else ()) + machine.extraction_off
    for tool in tooling:
        _change_to(w, tool, keys.index(tool.cutter.key) + 1, switched_on)
        for operation in tool.operations:
            w.comment(f"{operation.kind}: {ascii_mark(operation.mark)}")
            for path in operation.paths:
                if any(shift):
                    path = path.moved(0.0, *shift)
                if tool.cutter.kind is CutterKind.BEAM:
                    _burn(w, path, operation.feeds, machine)
                else:
                    _follow(w, path, operation.feeds, machine)
        if tool.cutter.kind is not CutterKind.BEAM:
            w.rapid(z=machine.safe_height_mm)
        if tool.cutter.flutes:
            w.lines.append("M5")
        elif tool.cutter.kind is CutterKind.BEAM:
            w.lines.append("M5 S0")
        if tool.cutter.kind is not CutterKind.DRAG:
            w.lines.extend(switched_off)
        w.park()
    w.lines.extend(machine.end_words)
    w.lines.append(machine.end_word)
    if machine.program_mark:
        w.lines.append("%")
    changes = machine.tool_change_s * len(tooling) + machine.spin_up_s * len(tooling)
    return Program(name, tuple(keys), w.text(), _time(w, machine, changes))


def _change_to(w: Writer, tool: Tooling, number: int, switched_on: Sequence[str]) -> None:
    machine = w.machine
    w.comment(f"cutter: {tool.cutter.name}")
    w.feed = -1.0
    w.placed = False
    if machine.tool_change == "automatic":
        w.lines.append(f"T{number} M6")
        if machine.length_offsets:
            w.lines.append(f"G43 H{number}")
    if tool.cutter.kind is not CutterKind.DRAG:
        w.lines.extend(switched_on)
    if tool.cutter.kind is CutterKind.BEAM:
        w.stand_at(0.0)
        w.lines.append("M5 S0")  # whatever ran before: no beam before the first path
        return  # no height to find; the beam is lit for each path
    if tool.cutter.kind is CutterKind.DRAG:
        w.lines.append("M5")  # whatever ran before: a drag point does not turn
    else:
        w.lines.append(f"S{tool.operations[0].feeds.spindle_rpm:.0f} M3")
        if machine.spin_up_s:
            w.pause(machine.spin_up_s)
    # The cutter may be anywhere: up first, whatever was there before.
    w.lines.append(f"G0 Z{w.number(machine.safe_height_mm + w.lift)}")
    w.stand_at(machine.safe_height_mm)
    w.feed = -1.0


def _follow(w: Writer, path: Toolpath, feeds: Feeds, machine: Machine) -> None:
    x, y, z = path.start.tolist()
    w.rapid(z=machine.safe_height_mm)
    w.rapid(x=x, y=y)
    w.rapid(z=max(z, 0.0) + APPROACH_MM)
    if feeds.sink_mm_per_min:
        w.line((x, y, z + _LAST_MM), feeds.sink_mm_per_min, _PLUNGE)
    w.line((x, y, z), feeds.plunge_mm_per_min, _PLUNGE)
    _walk_along(w, path, feeds)
    w.rapid(z=machine.safe_height_mm)


def _burn(w: Writer, path: Toolpath, feeds: Feeds, machine: Machine) -> None:
    """Travel to a path with the beam off, light it, follow the path, put it out."""
    w.rapid(x=float(path.start[0]), y=float(path.start[1]))
    power = f"{machine.power_full * feeds.power_percent / 100:.3f}".rstrip("0").rstrip(".")
    w.lines.append(f"M3 S{power}")
    _walk_along(w, path, feeds)
    w.lines.append("M5")


def _walk_along(w: Writer, path: Toolpath, feeds: Feeds) -> None:
    rates = path.rates.tolist()
    how = {
        rate: (feeds.at(Rate(rate)), _PLUNGE if rate in (Rate.PLUNGE, Rate.SINK) else _CUT)
        for rate in set(rates)
    }
    moves = zip(path.ends.tolist(), path.centres.tolist(), path.senses.tolist(), rates, strict=True)
    for (x, y, z), (cx, cy), sense, rate in moves:
        feed, kind = how[rate]
        if sense:
            w.arc((x, y, z), (cx, cy), sense, feed, kind)
        else:
            w.line((x, y, z), feed, kind)


def _time(w: Writer, machine: Machine, changes_s: float) -> TimeSum:
    """Return the time of all moves as one chain, sorted into cutting, travel and plunging."""
    if not w.starts:
        return TimeSum(0.0, 0.0, 0.0, changes_s, changes_s, changes_s)
    starts, ends = np.array(w.starts), np.array(w.ends)
    centres, senses = np.array(w.centres), np.array(w.senses)
    chord = ends - starts
    flat = np.linalg.norm(chord, axis=1)
    lengths = flat.copy()
    leaving = chord / np.maximum(flat, LEAST_DIVISOR)[:, None]
    entering = leaving.copy()
    arc = np.flatnonzero(senses)
    a, b = starts[arc, :2] - centres[arc], ends[arc, :2] - centres[arc]
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.einsum("ij,ij->i", a, b))
    turn = np.mod(turn * senses[arc], 2 * np.pi)
    lengths[arc] = np.hypot(turn * np.hypot(a[:, 0], a[:, 1]), chord[arc, 2])
    for rows, out in ((a, entering), (b, leaving)):
        tangent = np.column_stack((-rows[:, 1], rows[:, 0])) * senses[arc][:, None]
        tangent /= np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), LEAST_DIVISOR)[:, None]
        out[arc, :2], out[arc, 2] = tangent, 0.0
    corners = corner_speeds(
        leaving[:-1], entering[1:], machine.acceleration_mm_per_s2, machine.corner_slack_mm
    )
    speeds, acceleration = np.array(w.speeds), machine.acceleration_mm_per_s2
    known = machine.look_ahead_moves
    times = chain_time(lengths, speeds, corners, acceleration, known)
    kinds = np.array(w.classes)
    sums = [float(times[kinds == kind].sum()) for kind in (_CUT, _RAPID, _PLUNGE)]
    # Corner speeds go with the root of the acceleration.
    slow, quick = (
        float(
            chain_time(
                lengths, speeds, corners * math.sqrt(times_as), times_as * acceleration, known
            ).sum()
        )
        for times_as in (1 / _BAND, _BAND)
    )
    cutting, travel, plunging = sums
    return TimeSum(cutting, travel, plunging, changes_s, quick + changes_s, slow + changes_s)
