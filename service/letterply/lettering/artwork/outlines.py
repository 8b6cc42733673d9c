"""Shapes of SVG as subpaths: path data and the basic shapes, in user units.

Basic shapes follow the equivalent paths that SVG 2 gives for each (chapter 10). Path data with a
mistake is drawn up to it, as SVG 2 asks (section 9.5.4). Elliptical arcs become cubics of at most
30 degrees: within 4e-7 of the radius.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from svgelements import Arc

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import ArtworkError, Subpath
from letterply.lettering.artwork.values import NUMBER, numbers, skip_gap, skip_space
from letterply.shapes import SegmentTable

__all__ = ["MAX_SEGMENTS", "SHAPES", "path_subpaths", "shape_subpaths"]

MAX_SEGMENTS = 100_000
_ARC_STEP = math.tau / 12
_REACH = 1e9
_CSS_PATH = re.compile(r"""^path\(\s*(["'])(.*)\1\s*\)$""", re.DOTALL)

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})

Lengths = Callable[[str, str], float | None]
"""Reads an attribute as a length: its name and which way it runs (`x`, `y`, `o`)."""


def shape_subpaths(
    element: Element, read: Lengths, style: Mapping[str, str]
) -> tuple[tuple[Subpath, ...], bool]:
    """Return the outline of a shape, and whether it was whole: path data may break off.

    `style` has `d` where a style sheet gives a path its data (SVG 2, 9.3.1).

    Raises:
        ArtworkError: `artwork-too-complex`.

    """
    match element.tag:
        case "path":
            written = style.get("d", "")
            data = _CSS_PATH.sub(r"\2", written) if written else element.attributes.get("d", "")
        case "rect":
            data = _rect(element, read)
        case "circle":
            radius = read("r", "o") or 0.0
            data = _ellipse(read("cx", "x") or 0.0, read("cy", "y") or 0.0, radius, radius)
        case "ellipse":
            rx, ry = _radii(element, read)
            data = _ellipse(read("cx", "x") or 0.0, read("cy", "y") or 0.0, rx, ry)
        case "line":
            ends = [read(name, name[0]) or 0.0 for name in ("x1", "y1", "x2", "y2")]
            data = "M{!r} {!r}L{!r} {!r}".format(*ends)
        case _:
            data, whole = _points(element)
            found, _ = path_subpaths(data)
            return found, whole
    found, whole = path_subpaths(data)
    if element.tag in ("rect", "circle", "ellipse"):
        # The last arc closes the shape itself (SVG 2, 9.3.4): no vertex stands behind it.
        found = tuple(replace(s, steps=s.steps[:-1]) if s.steps[-1:] == (0,) else s for s in found)
    return found, whole


def _points(element: Element) -> tuple[str, bool]:
    values = numbers(element.attributes.get("points", "").strip())
    whole = values is not None and len(values) % 2 == 0
    values = (values or [])[: len(values or []) // 2 * 2]
    if len(values) < 2:
        return "", whole
    if len(values) > 2 * MAX_SEGMENTS:
        raise _too_many()
    pairs = [f"{values[i]!r} {values[i + 1]!r}" for i in range(0, len(values), 2)]
    return f"M{'L'.join(pairs)}{'Z' if element.tag == 'polygon' else ''}", whole


def _radii(element: Element, read: Lengths) -> tuple[float, float]:
    """Return rx and ry; one that is not given, or is `auto`, is as the other (SVG 2)."""
    rx, ry = (read(n, n[1]) for n in ("rx", "ry"))
    rx = None if rx is not None and rx < 0 else rx
    ry = None if ry is not None and ry < 0 else ry
    x = rx if rx is not None else ry
    y = ry if ry is not None else rx
    return x or 0.0, y or 0.0


def _rect(element: Element, read: Lengths) -> str:
    x, y = read("x", "x") or 0.0, read("y", "y") or 0.0
    w, h = read("width", "x") or 0.0, read("height", "y") or 0.0
    if w <= 0 or h <= 0:
        return ""
    rx, ry = _radii(element, read)
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        return f"M{x!r} {y!r}h{w!r}v{h!r}h{-w!r}z"
    arc = f"A{rx!r} {ry!r} 0 0 1 "
    return (
        f"M{x + rx!r} {y!r}H{x + w - rx!r}{arc}{x + w!r} {y + ry!r}V{y + h - ry!r}"
        f"{arc}{x + w - rx!r} {y + h!r}H{x + rx!r}{arc}{x!r} {y + h - ry!r}"
        f"V{y + ry!r}{arc}{x + rx!r} {y!r}z"
    )


def _ellipse(cx: float, cy: float, rx: float, ry: float) -> str:
    if rx <= 0 or ry <= 0:
        return ""
    arc = f"A{rx!r} {ry!r} 0 0 1 "
    return (
        f"M{cx + rx!r} {cy!r}{arc}{cx!r} {cy + ry!r}{arc}{cx - rx!r} {cy!r}"
        f"{arc}{cx!r} {cy - ry!r}{arc}{cx + rx!r} {cy!r}z"
    )


def path_subpaths(data: str) -> tuple[tuple[Subpath, ...], bool]:
    """Return path data as subpaths, and whether all of it could be read.

    Raises:
        ArtworkError: `artwork-too-complex`.

    """
    if data.strip() in ("", "none"):
        return (), True
    pen = _Pen()
    whole = _read_path(data, pen)
    pen.finish(closed=False)
    return tuple(pen.found), whole


_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}
_FLAGS = (3, 4)


def _read_path(data: str, pen: _Pen) -> bool:
    """Drive the pen by path data; return whether it went through to the end."""
    at = skip_space(data, 0)
    if data[at : at + 1] not in ("M", "m"):
        return False
    while at < len(data):
        letter = data[at]
        at = skip_space(data, at + 1)
        if letter in "Zz":
            pen.close()
            continue
        count = _COUNTS.get(letter.upper())
        if count is None:
            return False
        command = letter.upper()
        while True:
            values, at = _numbers(data, at, count, command)
            if values is None:
                return False
            if not pen.draw(command, values, relative=letter.islower()):
                return False
            # Further pairs after a move are lines.
            command = "L" if command == "M" else command
            behind = skip_gap(data, at)
            if behind >= len(data) or data[behind] not in "+-.0123456789":
                at = skip_space(data, at)
                break
            at = behind
    return True


def _numbers(data: str, at: int, count: int, command: str) -> tuple[list[float] | None, int]:
    """Return the numbers of one step and the place behind them; None when one is missing."""
    values: list[float] = []
    for place in range(count):
        if place:
            at = skip_gap(data, at)
        if command == "A" and place in _FLAGS:
            if data[at : at + 1] not in ("0", "1"):
                return None, at
            values.append(float(data[at]))
            at += 1
            continue
        match = NUMBER.match(data, at)
        if match is None:
            return None, at
        value = float(match[0])
        if not (math.isfinite(value) and abs(value) <= _REACH):
            return None, at
        values.append(value)
        at = match.end()
    return values, at


class _Pen:
    """Draws the steps of a path: relative ones from where it stands, smooth ones mirrored."""

    def __init__(self) -> None:
        self.found: list[Subpath] = []
        self._rows: list[Sequence[tuple[float, float]]] = []
        self._start = self._now = (0.0, 0.0)
        self._begun = self._closed = self._goes_on = False
        self._steps: list[int] = []
        self._count = 0
        self._mirror: tuple[str, tuple[float, float]] = ("", (0.0, 0.0))

    def finish(self, *, closed: bool) -> None:
        """End the subpath."""
        if self._begun:
            rows = self._rows or [(self._start, self._start)]
            steps = tuple(self._steps)
            self.found.append(Subpath(_table(rows), closed, steps, self._goes_on))
            self._goes_on = closed
        self._rows = []
        self._steps = []
        self._begun = False

    def close(self) -> None:
        """Go back to the start in a straight line; once is as good as many times."""
        if self._closed:
            return
        self._steps.append(int(self._now != self._start))
        if self._now != self._start:
            self._rows.append((self._now, self._start))
        self._begun = True
        self.finish(closed=True)
        self._now = self._start
        self._mirror = ("", self._now)
        self._closed = True

    def draw(self, command: str, values: list[float], *, relative: bool) -> bool:
        """Do one step; return False when it leads out of reach."""
        x, y = self._now
        dx, dy = (x, y) if relative else (0.0, 0.0)
        if command == "H":
            values = [values[0] + dx, y]
        elif command == "V":
            values = [x, values[0] + dy]
        elif command == "A":
            values = [*values[:5], values[5] + dx, values[6] + dy]
        else:
            values = [v + (dy if i % 2 else dx) for i, v in enumerate(values)]
        end = (values[-2], values[-1])
        if abs(end[0]) > _REACH or abs(end[1]) > _REACH:
            return False
        self._closed = False
        self._count += 1
        if max(self._count, len(self._rows), 10 * len(self.found)) > MAX_SEGMENTS:
            raise _too_many()
        if command == "M":
            self.finish(closed=False)
            self._start = self._now = end
            self._mirror = ("", end)
            self._goes_on = False
            return True
        self._begun = True
        rows = self._curve(command, values, end)
        self._rows += rows
        if rows or command != "A":  # an arc that goes nowhere is no segment (SVG 2, 9.5.1)
            self._steps.append(len(rows))
        self._now = end
        return True

    def _curve(
        self, command: str, values: list[float], end: tuple[float, float]
    ) -> Sequence[Sequence[tuple[float, float]]]:
        now = self._now
        kind, before = self._mirror
        self._mirror = ("", end)
        mirrored = (2 * now[0] - before[0], 2 * now[1] - before[1])
        match command:
            case "C" | "S":
                pairs = list(zip(values[::2], values[1::2], strict=True))
                first = pairs[0] if command == "C" else mirrored if kind == "C" else now
                self._mirror = ("C", pairs[-2])
                return [(now, first, pairs[-2], end)]
            case "Q" | "T":
                control = (values[0], values[1])
                if command == "T":
                    control = mirrored if kind == "Q" else now
                self._mirror = ("Q", control)
                return [(now, control, end)]
            case "A":
                return _arc(now, values, end)
        return [(now, end)]


def _arc(
    now: tuple[float, float], values: list[float], end: tuple[float, float]
) -> Sequence[Sequence[tuple[float, float]]]:
    """Return an elliptical arc as cubics (SVG 2, appendix on elliptical arcs)."""
    rx, ry, turn, large, sweep = values[:5]
    if now == end:
        return []
    if rx == 0 or ry == 0:
        return [(now, end)]
    arc = Arc(now, abs(rx), abs(ry), turn, large, sweep, end)
    steps = max(1, math.ceil(abs(float(arc.sweep)) / _ARC_STEP))
    return [
        (
            (float(c.start.x), float(c.start.y)),
            (float(c.control1.x), float(c.control1.y)),
            (float(c.control2.x), float(c.control2.y)),
            (float(c.end.x), float(c.end.y)),
        )
        for c in arc.as_cubic_curves(steps)
    ] or [(now, end)]


def _table(rows: Sequence[Sequence[tuple[float, float]]]) -> SegmentTable:
    points = np.zeros((len(rows), 4, 2))
    for place, controls in enumerate(rows):
        points[place, : len(controls)] = controls
    degrees = np.array([len(r) - 1 for r in rows], dtype=np.int8)
    np.nan_to_num(points, copy=False, nan=0.0, posinf=_REACH, neginf=-_REACH)
    return points, degrees


def _too_many() -> ArtworkError:
    return ArtworkError(
        f"A path has more than {MAX_SEGMENTS} segments or {MAX_SEGMENTS // 10} subpaths.",
        code="artwork-too-complex",
        expected="paths of fewer segments",
    )
