"""Lines of a program, one after another, in the words of a machine; and the moves that they make.

What differs between machines is their data: units, decimals, heights from the work zero, comments,
how arcs are given, how pauses count. Nothing here knows a machine by its name.

An arc's centre is recomputed from its written, rounded end points, since a controller compares
the two radii (0.002 mm in RS274/NGC): it is put on the bisector of their chord. By its radius an
arc is written in quarters, for the nearer it comes to half a turn, the less its radius says where
its centre is.
"""

from __future__ import annotations

import math
from textwrap import wrap

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Machine
from letterply.names import ascii_text
from letterply.shapes import LEAST_DIVISOR, SAME_MM
from letterply.units import MM_PER_INCH

__all__ = ["Writer"]

_Floats = NDArray[np.float64]

_COMMENT = 110
"""Characters in a comment."""

_RADIUS_LIMIT_MM = 0.0015
"""An arc whose two written radii differ by more is written as lines; the limit is 0.002 mm."""

_QUARTER = math.pi / 2 + 1e-6
"""The most that an arc turns that is written by its radius."""

_MOST_LINES = 99_999
"""The largest number of a line (NISTIR 6556, from memory); a longer program counts anew."""


class Writer:
    """Collects lines and moves; knows the machine's words and where the cutter is."""

    def __init__(self, machine: Machine, lift_mm: float) -> None:
        self.machine = machine
        self.lines: list[str] = []
        self.scale = 1 / MM_PER_INCH if machine.units == "inch" else 1.0
        self.lift = lift_mm
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
        """Write a comment, in as many lines as it takes."""
        plain = ascii_text(text).replace(";", ",")
        plain = "".join(c if c.isprintable() and c not in "()%" else " " for c in plain)
        # Broken into lines that any controller takes, never cut short.
        opened, closed = ("; ", "") if self.machine.comments == "semicolon" else ("(", ")")
        told = wrap(plain.strip(), _COMMENT) or [""]
        self.lines.extend(f"{opened}{line}{closed}".rstrip() for line in told)

    def text(self) -> str:
        """Return all lines as the machine reads them, numbered and ended as it has them."""
        lines, step = self.lines, self.machine.line_number_step
        if step:
            lines, number = [], 0
            for line in self.lines:
                if line[0] not in "(;%":
                    number = number + step if number + step <= _MOST_LINES else step
                    line = f"N{number} {line}"
                lines.append(line)
        end = "\r\n" if self.machine.line_end == "crlf" else "\n"
        return end.join(lines) + end

    def pause(self, seconds: float) -> None:
        """Wait, as the machine counts."""
        count = 1000 * seconds if self.machine.dwell == "milliseconds" else seconds
        self.lines.append(f"G4 P{count:g}")

    def park(self) -> None:
        """Go where the machine goes for a change of the cutter; it stands at safe height."""
        if not self.machine.park_mm:
            return
        x, y = self.machine.park_mm
        if self.machine.park_from == "zero":
            self.rapid(x=x, y=y)
            return
        if self.machine.kind != "beam":  # the height of a beam is its focus
            self.lines.append("G53 G0 Z0")
        self.lines.append(f"G53 G0 X{self.number(x)} Y{self.number(y)}")
        self.placed = False

    def number(self, mm: float) -> str:
        """Return a length as it is written."""
        text = f"{mm * self.scale:.{self.machine.decimals}f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text

    def rounded(self, mm: _Floats) -> _Floats:
        """Return what the machine reads, in mm."""
        written: _Floats = np.round(mm * self.scale, self.machine.decimals) / self.scale
        return written

    def rapid(
        self, *, x: float | None = None, y: float | None = None, z: float | None = None
    ) -> None:
        """Travel at rapid speed."""
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
        """Cut along a line."""
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
        """Cut along an arc of less than a whole turn."""
        by_radius = self.machine.arcs and self.machine.arc_form == "radius"
        count = math.ceil(self._turn(centre, to, sense) / _QUARTER) if by_radius else 1
        for point in self._along(to, centre, sense, max(count, 1)):
            self._arc(point, centre, sense, feed, kind)

    def _arc(self, to: _Floats, centre: _Floats, sense: int, feed: float, kind: int) -> None:
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
        words += self._centre_words(start[:2], written, (r0 + r1) / 2)
        feed = self._within(feed, turned * r0, float(to[2] - self.at[2]))
        self._feed(words, feed)
        radius = (r0 + r1) / 2
        top = math.sqrt(self.machine.acceleration_mm_per_s2 * radius) * 60
        self._moved(to, centre, sense, min(feed, top), kind)

    def _centre_words(self, start: _Floats, offset: _Floats, radius: float) -> list[str]:
        """Return what says where an arc of at most half a turn has its centre."""
        if self.machine.arc_form == "radius":
            return [f"R{self.number(radius)}"]
        i, j = offset if self.machine.arc_form == "centre" else start + offset
        return [f"I{self.number(float(i))}", f"J{self.number(float(j))}"]

    def _turn(self, centre: _Floats, to: _Floats, sense: int) -> float:
        a, b = self.at[:2] - centre, to[:2] - centre
        return float((math.atan2(b[1], b[0]) - math.atan2(a[1], a[0])) * sense % (2 * math.pi))

    def _chords(self, to: _Floats, centre: _Floats, sense: int) -> list[_Floats]:
        """Return the end points of chords that stand for an arc, within 0.005 mm of it."""
        a = self.at[:2] - centre
        radius = float(np.hypot(*a))
        turn = self._turn(centre, to, sense)
        step = 2 * math.acos(max(1 - 0.005 / max(radius, 0.01), -0.99))
        return self._along(to, centre, sense, max(1, math.ceil(turn / step)))

    def _along(self, to: _Floats, centre: _Floats, sense: int, count: int) -> list[_Floats]:
        """Return so many points along an arc from where the cutter is, the last one its end."""
        if count == 1:
            return [to]
        a = self.at[:2] - centre
        radius, turn = float(np.hypot(*a)), self._turn(centre, to, sense)
        first = math.atan2(a[1], a[0])
        z0, rise = float(self.at[2]), float(to[2]) - float(self.at[2])
        points = []
        for k in range(1, count):
            angle, z = first + sense * turn * k / count, z0 + rise * k / count
            x, y = centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)
            points.append(np.array([x, y, z]))
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
