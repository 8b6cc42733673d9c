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

from letterply.catalogue import Machine
from letterply.names import ascii_text
from letterply.shapes import LEAST_DIVISOR, SAME_MM
from letterply.units import MM_PER_INCH

__all__ = ["Writer"]

_Place = tuple[float, float, float]
_Plane = tuple[float, float]

_NO_CENTRE = math.nan, math.nan

_COMMENT = 110
"""Characters in a comment."""

_RADIUS_LIMIT_MM = 0.0015
"""An arc whose two written radii differ by more is written as lines; the limit is 0.002 mm."""

_QUARTER = math.pi / 2 + 1e-6
"""The most that an arc turns that is written by its radius."""

_MOST_LINES = 99_999
"""The largest number of a line (NISTIR 6556, from memory); a longer program counts anew."""


class Writer:
    """Collects lines and moves; knows the machine's words and where the cutter is.

    In plain numbers: arrays of two or three take several times as long.
    """

    def __init__(self, machine: Machine, lift_mm: float) -> None:
        self.machine = machine
        self.lines: list[str] = []
        self.scale = 1 / MM_PER_INCH if machine.units == "inch" else 1.0
        self.lift = lift_mm
        self.feed = -1.0
        # Where x and y are is not known at the start, nor after a cutter change.
        self.placed = False
        self.starts: list[_Place] = []
        self.ends: list[_Place] = []
        self.centres: list[_Plane] = []
        self.senses: list[int] = []
        self.speeds: list[float] = []
        self.classes: list[int] = []
        self._steps = 10.0**machine.decimals
        self._digits = f".{machine.decimals}f"
        self.at: _Place = (0.0, 0.0, machine.safe_height_mm)
        self._words = self._words_of(self.at)

    def stand_at(self, z_mm: float) -> None:
        """Take the cutter to be at a height, where no line of its own brought it."""
        self.at = (*self.at[:2], z_mm)
        self._words = self._words_of(self.at)

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
        text = f"{mm * self.scale:{self._digits}}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text

    def _words_of(self, place: _Place) -> tuple[str, str, str]:
        x, y, z = place
        return self.number(x), self.number(y), self.number(z + self.lift)

    def _rounded(self, mm: float) -> float:
        """Return what the machine reads, in mm."""
        return round(mm * self.scale * self._steps) / self._steps / self.scale

    def rapid(
        self, *, x: float | None = None, y: float | None = None, z: float | None = None
    ) -> None:
        """Travel at rapid speed."""
        x0, y0, z0 = self.at
        to = x0 if x is None else x, y0 if y is None else y, z0 if z is None else z
        travels = x is not None and y is not None
        if to == self.at and (self.placed or not travels):
            return
        self.placed |= travels
        words = self._words_of(to)
        told = ["G0"]
        told += [f"X{words[0]}"] if x is not None else []
        told += [f"Y{words[1]}"] if y is not None else []
        told += [f"Z{words[2]}"] if z is not None else []
        self.lines.append(" ".join(told))
        up = z is not None and x is None and y is None
        speed = self.machine.rapid_z_mm_per_min if up else self.machine.rapid_mm_per_min
        self._moved(to, words, _NO_CENTRE, 0, speed, 0)

    def line(self, to: _Place, feed: float, kind: int) -> None:
        """Cut along a line."""
        words, before = self._words_of(to), self._words
        if words == before:
            return
        told = ["G1"]
        for letter, word, old in zip("XYZ", words, before, strict=True):
            if word != old:
                told.append(f"{letter}{word}")
        (x0, y0, z0), (x1, y1, z1) = self.at, to
        along = math.hypot(
            self._rounded(x1) - self._rounded(x0), self._rounded(y1) - self._rounded(y0)
        )
        up = self._rounded(z1 + self.lift) - self._rounded(z0 + self.lift)
        feed = self._within(feed, along, up)
        self._feed(told, feed)
        self._moved(to, words, _NO_CENTRE, 0, feed, kind)

    def _within(self, feed: float, along: float, up: float) -> float:
        """Return the feed at which a sloping move asks no more of the z axis than it gives."""
        rise = abs(up) / max(math.hypot(along, up), LEAST_DIVISOR)
        limit = self.machine.max_plunge_mm_per_min
        return feed if rise * feed <= limit else math.floor(limit / rise)

    def arc(self, to: _Place, centre: _Plane, sense: int, feed: float, kind: int) -> None:
        """Cut along an arc of less than a whole turn."""
        by_radius = self.machine.arcs and self.machine.arc_form == "radius"
        count = math.ceil(self._turn(centre, to, sense) / _QUARTER) if by_radius else 1
        for point in self._along(to, centre, sense, max(count, 1)):
            self._arc(point, centre, sense, feed, kind)

    def _arc(self, to: _Place, centre: _Plane, sense: int, feed: float, kind: int) -> None:
        x0, y0 = self._rounded(self.at[0]), self._rounded(self.at[1])
        x1, y1 = self._rounded(to[0]), self._rounded(to[1])
        dx, dy = x1 - x0, y1 - y0
        length = math.hypot(dx, dy)
        if length < SAME_MM:
            self.line(to, feed, kind)
            return
        nx, ny = -dy / length, dx / length
        mx, my = (x0 + x1) / 2, (y0 + y1) / 2
        away = (centre[0] - mx) * nx + (centre[1] - my) * ny
        i, j = self._rounded(mx + nx * away - x0), self._rounded(my + ny * away - y0)
        r0, r1 = math.hypot(i, j), math.hypot(x0 + i - x1, y0 + j - y1)
        # A shallow arc between near points could be read as almost a full circle: draw its chord.
        turned = self._turn(centre, to, sense)
        shallow = turned < 1 and r0 * (1 - math.cos(turned / 2)) < 2 / self._steps
        if not self.machine.arcs or shallow or abs(r0 - r1) > _RADIUS_LIMIT_MM:
            for point in self._chords(to, centre, sense):
                self.line(point, feed, kind)
            return
        words, radius = self._words_of(to), (r0 + r1) / 2
        told = ["G3" if sense > 0 else "G2", f"X{words[0]}", f"Y{words[1]}"]
        if words[2] != self._words[2]:
            told.append(f"Z{words[2]}")
        told += self._centre_words((x0, y0), (i, j), radius)
        feed = self._within(feed, turned * r0, to[2] - self.at[2])
        self._feed(told, feed)
        top = math.sqrt(self.machine.acceleration_mm_per_s2 * radius) * 60
        self._moved(to, words, centre, sense, min(feed, top), kind)

    def _centre_words(self, start: _Plane, offset: _Plane, radius: float) -> list[str]:
        """Return what says where an arc of at most half a turn has its centre."""
        if self.machine.arc_form == "radius":
            return [f"R{self.number(radius)}"]
        i, j = offset
        if self.machine.arc_form != "centre":
            i, j = start[0] + i, start[1] + j
        return [f"I{self.number(i)}", f"J{self.number(j)}"]

    def _turn(self, centre: _Plane, to: _Place, sense: int) -> float:
        x, y = centre
        first = math.atan2(self.at[1] - y, self.at[0] - x)
        return (math.atan2(to[1] - y, to[0] - x) - first) * sense % (2 * math.pi)

    def _chords(self, to: _Place, centre: _Plane, sense: int) -> list[_Place]:
        """Return the end points of chords that stand for an arc, within 0.005 mm of it."""
        radius = math.hypot(self.at[0] - centre[0], self.at[1] - centre[1])
        turn = self._turn(centre, to, sense)
        step = 2 * math.acos(max(1 - 0.005 / max(radius, 0.01), -0.99))
        return self._along(to, centre, sense, max(1, math.ceil(turn / step)))

    def _along(self, to: _Place, centre: _Plane, sense: int, count: int) -> list[_Place]:
        """Return so many points along an arc from where the cutter is, the last one its end."""
        if count == 1:
            return [to]
        x, y = self.at[0] - centre[0], self.at[1] - centre[1]
        radius, turn = math.hypot(x, y), self._turn(centre, to, sense)
        first = math.atan2(y, x)
        z0, rise = self.at[2], to[2] - self.at[2]
        points = []
        for k in range(1, count):
            angle, z = first + sense * turn * k / count, z0 + rise * k / count
            x, y = centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)
            points.append((x, y, z))
        return [*points, to]

    def _feed(self, words: list[str], feed: float) -> None:
        if feed != self.feed:
            words.append(
                f"F{feed * self.scale:.{1 if self.scale == 1 else 2}f}".rstrip("0").rstrip(".")
            )
            self.feed = feed
        self.lines.append(" ".join(words))

    def _moved(
        self,
        to: _Place,
        words: tuple[str, str, str],
        centre: _Plane,
        sense: int,
        speed: float,
        kind: int,
    ) -> None:
        self.starts.append(self.at)
        self.ends.append(to)
        self.centres.append(centre)
        self.senses.append(sense)
        self.speeds.append(speed / 60)
        self.classes.append(kind)
        self.at, self._words = to, words
