"""Shapes of SVG as subpaths: path data and the basic shapes, in user units.

Basic shapes follow the equivalent paths that SVG 2 gives for each (chapter 10). Path data with a
mistake is drawn up to it, as SVG 2 asks (section 9.5.4). Elliptical arcs become cubics of at most
30 degrees: within 4e-7 of the radius.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence

import numpy as np
from svgelements import Arc, Close, CubicBezier, Move, Path, QuadraticBezier

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import ArtworkError, Subpath
from letterply.lettering.artwork.values import NUMBER, numbers, skip_gap
from letterply.shapes.flatten import SegmentTable

__all__ = ["MAX_SEGMENTS", "SHAPES", "path_subpaths", "shape_subpaths"]

MAX_SEGMENTS = 200_000
_ARC_STEP = math.tau / 12
_REACH = 1e9

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})

Lengths = Callable[[str, str], float | None]
"""Reads an attribute as a length: its name and which way it runs (`x`, `y`, `o`)."""


def shape_subpaths(element: Element, read: Lengths) -> tuple[tuple[Subpath, ...], bool]:
    """Return the outline of a shape, and whether it was whole: path data may break off.

    Raises:
        ArtworkError: `artwork-too-complex`.

    """
    match element.tag:
        case "path":
            return path_subpaths(element.attributes.get("d", ""))
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
    return path_subpaths(data)


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
    rx, ry = (
        None if element.attributes.get(n, "auto").strip() == "auto" else read(n, n[1])
        for n in ("rx", "ry")
    )
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
    path = Path()
    sound = _with_good_arcs(data)
    whole = len(sound) == len(data)
    try:
        path.parse(sound)
    except Exception:  # the parser raises errors of any kind; what it read before stands
        whole = False
    if len(path) > MAX_SEGMENTS:
        raise _too_many()
    # Something else than a move at the start: nothing of it is drawn.
    if not data.lstrip().lower().startswith("m"):
        return (), not data.strip() or data.strip() == "none"
    return _subpaths(path, whole)


_ARC_RUN = re.compile(r"[Aa]([^A-DF-Za-df-z]*)")
_FLAGS = (3, 4)


def _with_good_arcs(data: str) -> str:
    """Return path data up to the first arc whose flags are neither 0 nor 1, or that breaks off."""
    for run in _ARC_RUN.finditer(data):
        place, at, end = 0, run.start(1), run.end(1)
        good = at
        while True:
            at = skip_gap(data, at)
            if place == 0 and at >= end:
                break
            match = None if place in _FLAGS else NUMBER.match(data, at, end)
            if match is None and not (place in _FLAGS and data[at : at + 1] in ("0", "1")):
                return data[:good]
            at = match.end() if match is not None else at + 1
            place = (place + 1) % 7
            if place == 0:
                good = at
    return data


def _subpaths(path: Path, whole: bool) -> tuple[tuple[Subpath, ...], bool]:
    found: list[Subpath] = []
    rows: list[Sequence[tuple[float, float]]] = []
    start = now = (0.0, 0.0)
    begun = False

    def finish(*, closed: bool) -> None:
        nonlocal begun
        if begun:
            found.append(Subpath(_table(rows or [(start, start)]), closed))
        rows.clear()
        begun = False

    for segment in path:
        end = start if segment.end is None else (float(segment.end.x), float(segment.end.y))
        if not all(math.isfinite(v) and abs(v) <= _REACH for v in end):
            return tuple(found), False
        if isinstance(segment, Move):
            finish(closed=False)
            start = end
        elif isinstance(segment, Close):
            if now != start:
                rows.append((now, start))
            begun = True
            finish(closed=True)
            end = start
        else:
            begun = True
            rows.extend(_controls(segment, now, end))
        now = end
        if len(rows) > MAX_SEGMENTS:
            raise _too_many()
    finish(closed=False)
    return tuple(found), whole


def _controls(
    segment: object, now: tuple[float, float], end: tuple[float, float]
) -> Sequence[Sequence[tuple[float, float]]]:
    if isinstance(segment, CubicBezier):
        one, two = segment.control1, segment.control2
        return [(now, (one.x, one.y), (two.x, two.y), end)]
    if isinstance(segment, QuadraticBezier):
        return [(now, (segment.control.x, segment.control.y), end)]
    if isinstance(segment, Arc) and now != end:
        if not (segment.rx and segment.ry):
            return [(now, end)]
        steps = max(1, math.ceil(abs(float(segment.sweep)) / _ARC_STEP))
        pieces = [
            (
                (float(c.start.x), float(c.start.y)),
                (float(c.control1.x), float(c.control1.y)),
                (float(c.control2.x), float(c.control2.y)),
                (float(c.end.x), float(c.end.y)),
            )
            for c in segment.as_cubic_curves(steps)
        ]
        return pieces or [(now, end)]
    return [(now, end)]


def _table(rows: Sequence[Sequence[tuple[float, float]]]) -> SegmentTable:
    points = np.zeros((len(rows), 4, 2))
    for place, controls in enumerate(rows):
        points[place, : len(controls)] = controls
    degrees = np.array([len(r) - 1 for r in rows], dtype=np.int8)
    np.nan_to_num(points, copy=False, nan=0.0, posinf=_REACH, neginf=-_REACH)
    return points, degrees


def _too_many() -> ArtworkError:
    return ArtworkError(
        f"A path has more than {MAX_SEGMENTS} segments.",
        code="artwork-too-complex",
        expected="paths of fewer segments",
    )
