"""Programs: toolpaths in, G-code text out.

A conservative subset of RS274/NGC (NISTIR 6556; see Table 4 there for the modal groups): G0 G1
G2 G3, centre format with incremental I and J, G17 G20/G21 G40 G49 G54 G80 G90 G94, M3 M5, M6 and T
where the machine changes cutters itself, M2 or M30, F, S. One header of comments says stock, zero,
cutter, safe height and cautions. What differs between machines (units, decimals, arcs, line ends,
zero at the face or the bed, words at start and end) is the machine's data.

An arc's centre is recomputed from its written, rounded end points, since a controller compares
the two radii (0.002 mm in RS274/NGC): it is put on the bisector of their chord.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, CutterKind, Machine
from letterply.cutting.model import Feeds, Operation, Program, Rate, TimeSum, Toolpath
from letterply.cutting.timing import chain_time, corner_speeds
from letterply.names import ascii_mark, ascii_text
from letterply.shapes import LEAST_DIVISOR, SAME_MM
from letterply.units import MM_PER_INCH

__all__ = ["Tooling", "write_program"]

_Floats = NDArray[np.float64]

APPROACH_MM = 1.0
"""Height over the face to which the cutter comes down at rapid speed."""

_COMMENT = 110
"""Characters in a comment."""

_RADIUS_LIMIT_MM = 0.0015
"""An arc whose two written radii differ by more is written as lines; the limit is 0.002 mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Tooling:
    """A cutter with what it does in a program, in order."""

    cutter: Cutter
    operations: tuple[Operation, ...]


class _Writer:
    """Collects lines and moves; knows the machine's words and where the cutter is."""

    def __init__(self, machine: Machine, thickness_mm: float) -> None:
        self.machine = machine
        self.lines: list[str] = []
        self.scale = 1 / MM_PER_INCH if machine.units == "inch" else 1.0
        self.lift = thickness_mm if machine.zero == "bed" else 0.0
        self.at = np.array([0.0, 0.0, machine.safe_height_mm])
        self.feed = -1.0
        # Where x and y are is not known at the start, nor after a cutter change.
        self.placed = False
        self.starts: list[_Floats] = []
        self.ends: list[_Floats] = []
        self.centres: list[_Floats] = []
        self.senses: list[int] = []
        self.speeds: list[float] = []
        self.classes: list[int] = []

    def comment(self, text: str) -> None:
        plain = ascii_text(text).replace(";", ",")
        plain = "".join(c if c.isprintable() and c not in "()%" else " " for c in plain)
        # Broken into lines that any controller takes, never cut short.
        self.lines.extend(f"({line})" for line in wrap(plain.strip(), _COMMENT) or [""])

    def number(self, mm: float) -> str:
        text = f"{mm * self.scale:.{self.machine.decimals}f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text

    def rounded(self, mm: _Floats) -> _Floats:
        """Return what the machine reads, in mm."""
        written: _Floats = np.round(mm * self.scale, self.machine.decimals) / self.scale
        return written

    def rapid(
        self, *, x: float | None = None, y: float | None = None, z: float | None = None
    ) -> None:
        to = self.at.copy()
        words = ["G0"]
        for axis, (letter, value) in enumerate((("X", x), ("Y", y), ("Z", z))):
            if value is None:
                continue
            lifted = value + (self.lift if letter == "Z" else 0.0)
            to[axis] = value
            words.append(f"{letter}{self.number(lifted)}")
        travels = x is not None and y is not None
        if np.array_equal(to, self.at) and (self.placed or not travels):
            return
        self.placed |= travels
        self.lines.append(" ".join(words))
        up = z is not None and x is None and y is None
        speed = self.machine.rapid_z_mm_per_min if up else self.machine.rapid_mm_per_min
        self._moved(to, np.full(2, np.nan), 0, speed, 0)

    def line(self, to: _Floats, feed: float, kind: int) -> None:
        words = ["G1"]
        for axis, letter in enumerate("XYZ"):
            value = float(to[axis])
            lifted = value + (self.lift if letter == "Z" else 0.0)
            before = float(self.at[axis]) + (self.lift if letter == "Z" else 0.0)
            if self.number(lifted) != self.number(before):
                words.append(f"{letter}{self.number(lifted)}")
        if len(words) == 1:
            return
        up = np.array([0.0, 0.0, self.lift])
        move = self.rounded(to + up) - self.rounded(self.at + up)
        feed = self._within(feed, float(np.hypot(move[0], move[1])), float(move[2]))
        self._feed(words, feed)
        self._moved(to, np.full(2, np.nan), 0, feed, kind)

    def _within(self, feed: float, along: float, up: float) -> float:
        """Return the feed at which a sloping move asks no more of the z axis than it gives."""
        rise = abs(up) / max(math.hypot(along, up), LEAST_DIVISOR)
        limit = self.machine.max_plunge_mm_per_min
        return feed if rise * feed <= limit else math.floor(limit / rise)

    def arc(self, to: _Floats, centre: _Floats, sense: int, feed: float, kind: int) -> None:
        start, end = self.rounded(self.at), self.rounded(to)
        chord = end[:2] - start[:2]
        length = float(np.hypot(*chord))
        if length < SAME_MM:
            self.line(to, feed, kind)
            return
        normal = np.array([-chord[1], chord[0]]) / length
        middle = (start[:2] + end[:2]) / 2
        away = float((centre - middle) @ normal)
        written = self.rounded(middle + normal * away - start[:2])
        r0 = float(np.hypot(*written))
        r1 = float(np.hypot(*(start[:2] + written - end[:2])))
        # A shallow arc between near points could be read as almost a full circle: draw its chord.
        turned = self._turn(centre, to, sense)
        shallow = turned < 1 and r0 * (1 - math.cos(turned / 2)) < 2 * 10.0**-self.machine.decimals
        if not self.machine.arcs or shallow or abs(r0 - r1) > _RADIUS_LIMIT_MM:
            for point in self._chords(to, centre, sense):
                self.line(point, feed, kind)
            return
        words = ["G3" if sense > 0 else "G2", f"X{self.number(float(to[0]))}",
                 f"Y{self.number(float(to[1]))}"]  # fmt: skip
        if self.number(float(to[2]) + self.lift) != self.number(float(self.at[2]) + self.lift):
            words.append(f"Z{self.number(float(to[2]) + self.lift)}")
        words += [f"I{self.number(float(written[0]))}", f"J{self.number(float(written[1]))}"]
        feed = self._within(feed, turned * r0, float(to[2] - self.at[2]))
        self._feed(words, feed)
        radius = (r0 + r1) / 2
        top = math.sqrt(self.machine.acceleration_mm_per_s2 * radius) * 60
        self._moved(to, centre, sense, min(feed, top), kind)

    def _turn(self, centre: _Floats, to: _Floats, sense: int) -> float:
        a, b = self.at[:2] - centre, to[:2] - centre
        return float((math.atan2(b[1], b[0]) - math.atan2(a[1], a[0])) * sense % (2 * math.pi))

    def _chords(self, to: _Floats, centre: _Floats, sense: int) -> list[_Floats]:
        """Return the end points of chords that stand for an arc, within 0.005 mm of it."""
        a = self.at[:2] - centre
        radius = float(np.hypot(*a))
        turn = self._turn(centre, to, sense)
        step = 2 * math.acos(max(1 - 0.005 / max(radius, 0.01), -0.99))
        n = max(1, math.ceil(turn / step))
        first = math.atan2(a[1], a[0])
        z0 = float(self.at[2])
        points = []
        for k in range(1, n):
            angle = first + sense * turn * k / n
            z = z0 + (float(to[2]) - z0) * k / n
            points.append(
                np.array(
                    [centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle), z]
                )
            )
        return [*points, to]

    def _feed(self, words: list[str], feed: float) -> None:
        if feed != self.feed:
            words.append(
                f"F{feed * self.scale:.{1 if self.scale == 1 else 2}f}".rstrip("0").rstrip(".")
            )
            self.feed = feed
        self.lines.append(" ".join(words))

    def _moved(self, to: _Floats, centre: _Floats, sense: int, speed: float, kind: int) -> None:
        self.starts.append(self.at)
        self.ends.append(to)
        self.centres.append(centre)
        self.senses.append(sense)
        self.speeds.append(speed / 60)
        self.classes.append(kind)
        self.at = to


_RAPID, _CUT, _PLUNGE = 0, 1, 2

_BAND = 2.0
"""A machine's acceleration is seldom known better than by this factor; common practice, no
source."""


def write_program(
    name: str,
    header: Sequence[str],
    tooling: Sequence[Tooling],
    machine: Machine,
    thickness_mm: float,
    *,
    zero_mm: tuple[float, float] = (0.0, 0.0),
) -> Program:
    """Return the program that carries out the operations of each cutter in turn.

    Its x and y are nought at `zero_mm` of the sheet's frame.

    With `tool_change = program` there is one cutter. The same input gives the same bytes.
    """
    w = _Writer(machine, thickness_mm)
    shift = -zero_mm[0], -zero_mm[1]
    if machine.program_mark:
        w.lines.append("%")
    for text in header:
        w.comment(text)
    units = "G20" if machine.units == "inch" else "G21"
    w.lines.append(f"G17 {units} G40 G49 G54 G80 G90 G94")
    w.lines.extend(machine.start_words)
    keys = list(dict.fromkeys(t.cutter.key for t in tooling))
    for tool in tooling:
        _change_to(w, tool, keys.index(tool.cutter.key) + 1, machine)
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
    w.lines.extend(machine.end_words)
    w.lines.append(machine.end_word)
    if machine.program_mark:
        w.lines.append("%")
    end = "\r\n" if machine.line_end == "crlf" else "\n"
    text = end.join(w.lines) + end
    changes = machine.tool_change_s * len(tooling) + machine.spin_up_s * len(tooling)
    return Program(name, tuple(keys), text, _time(w, machine, changes))


def _change_to(w: _Writer, tool: Tooling, number: int, machine: Machine) -> None:
    w.comment(f"cutter: {tool.cutter.name}")
    w.feed = -1.0
    w.placed = False
    if machine.tool_change == "automatic":
        w.lines.append(f"T{number} M6")
    if tool.cutter.kind is CutterKind.BEAM:
        w.at = np.array([w.at[0], w.at[1], 0.0])
        w.lines.append("M5 S0")  # whatever ran before: no beam before the first path
        return  # no height to find; the beam is lit for each path
    if tool.cutter.kind is CutterKind.DRAG:
        w.lines.append("M5")  # whatever ran before: a drag point does not turn
    else:
        w.lines.append(f"S{tool.operations[0].feeds.spindle_rpm:.0f} M3")
        if machine.spin_up_s:
            w.lines.append(f"G4 P{machine.spin_up_s:g}")
    # The cutter may be anywhere: up first, whatever was there before.
    w.lines.append(f"G0 Z{w.number(machine.safe_height_mm + w.lift)}")
    w.at = np.array([w.at[0], w.at[1], machine.safe_height_mm])
    w.feed = -1.0


def _follow(w: _Writer, path: Toolpath, feeds: Feeds, machine: Machine) -> None:
    start = path.start
    w.rapid(z=machine.safe_height_mm)
    w.rapid(x=float(start[0]), y=float(start[1]))
    w.rapid(z=max(float(start[2]), 0.0) + APPROACH_MM)
    w.line(np.array([*start[:2], start[2]]), feeds.plunge_mm_per_min, _PLUNGE)
    _walk_along(w, path, feeds)
    w.rapid(z=machine.safe_height_mm)


def _burn(w: _Writer, path: Toolpath, feeds: Feeds, machine: Machine) -> None:
    """Travel to a path with the beam off, light it, follow the path, put it out."""
    w.rapid(x=float(path.start[0]), y=float(path.start[1]))
    power = f"{machine.power_full * feeds.power_percent / 100:.3f}".rstrip("0").rstrip(".")
    w.lines.append(f"M3 S{power}")
    _walk_along(w, path, feeds)
    w.lines.append("M5")


def _walk_along(w: _Writer, path: Toolpath, feeds: Feeds) -> None:
    ends, senses, centres = path.ends, path.senses, path.centres
    for k, rate in enumerate(path.rates.tolist()):
        feed = feeds.at(Rate(rate))
        kind = _PLUNGE if rate == Rate.PLUNGE else _CUT
        if senses[k] == 0:
            w.line(ends[k], feed, kind)
        else:
            w.arc(ends[k], centres[k], int(senses[k]), feed, kind)


def _time(w: _Writer, machine: Machine, changes_s: float) -> TimeSum:
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
