"""Test pieces drawn: what is cut, letters of its steps, where the caliper goes. SVG, y down.

Every place that is read has a number, the same as on the sheet to write on. All mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.primitives.captions import (
    INK,
    QUIET,
    caption,
    caption_lines,
    caption_within,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.palette import FINDING_COLOUR, STYLES
from letterply.pieces import Piece, ReadAt
from letterply.stacks import Layer, Part, Stack

__all__ = ["piece_picture"]

_MARGIN = 10.0
_GAP = 16.0
_ROW_MM = 190.0
"""Panels stand side by side up to this width."""

_UNIT_MM = 150.0
"""Of a picture that is wider, words and marks are larger by as much."""

_BODY = "#F1EADB"
_TEXT_MM = 3.2
_JAW_MM = 2.4
_NUMBER_MM = 2.3


def piece_picture(piece: Piece, stack: Stack, *, titled: bool = True) -> str:
    """Return a test piece, all of its layers beside each other, without words for papers."""
    layers = {layer.name: layer for layer in stack.layers}
    boxes = [_bounds(layers[n] for n in names) for names in piece.panels]
    sizes = [(b[2] - b[0], b[3] - b[1]) for b in boxes]
    beside = sum(w for w, _ in sizes) + _GAP * (len(sizes) - 1) <= _ROW_MM
    if beside:
        wide, high = sum(w for w, _ in sizes) + _GAP * (len(sizes) - 1), max(h for _, h in sizes)
    else:
        wide, high = max(w for w, _ in sizes), sum(h for _, h in sizes) + _GAP * (len(sizes) - 1)
    wide = max(wide, 120.0)
    unit = max(1.0, wide / _UNIT_MM)
    size = unit * _TEXT_MM
    top = _MARGIN + (3 if titled else 1) * size
    body: list[str] = []
    x, y = _MARGIN, top
    for names, (left, low, right, upper) in zip(piece.panels, boxes, strict=True):
        view = _View(x - left, y + upper, unit)
        body.append(caption(names[0], size, x, y - 0.5 * size, colour=QUIET))
        for name in names:
            for part in layers[name].parts:
                body += _part(part, view)
            body += _letters(piece, layers[name], view)
        for at, read in enumerate(piece.reads, start=1):
            if read.layer in names:
                body += _read(at, read, _middle(layers[read.layer]), view)
        if beside:
            x += right - left + _GAP
        else:
            y += upper - low + _GAP
    below = top + high + 2.2 * size
    legend: list[str] = []
    for at, read in enumerate(piece.reads if titled else (), start=1):
        line, tall = caption_lines(f"{at}  {read.label}", size, _MARGIN, below, wide)
        legend += line
        below += tall
    found = svg_open(wide + 2 * _MARGIN, below + 4, escaped(piece.title), escaped(piece.subject))
    if titled:
        title = caption_within(piece.title, 1.2 * size, _MARGIN, _MARGIN, wide, bold=True)
        found.append(title)
    return svg_close([*found, *body, *legend])


class _View:
    """From the stack's frame, y up, to the picture's, y down."""

    def __init__(self, x_mm: float, y_mm: float, unit: float) -> None:
        self._x, self._y = x_mm, y_mm
        self.unit = unit

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        return self._x + x_mm, self._y - y_mm

    def path(self, rings: Iterable[np.ndarray], *, closed: bool = True) -> str:
        found = []
        for ring in rings:
            points = [self.at(float(x), float(y)) for x, y in ring]
            steps = " L".join(f"{number(x, 3)} {number(y, 3)}" for x, y in points)
            found.append(f"M{steps}{'Z' if closed else ''}")
        return "".join(found)


def _bounds(layers: Iterable[Layer]) -> tuple[float, float, float, float]:
    outlines = [p.outline for layer in layers for p in layer.parts]
    left, low, right, high = shapely.total_bounds(outlines).tolist()
    return left, low, right, high


def _middle(layer: Layer) -> tuple[float, float]:
    left, low, right, high = _bounds([layer])
    return (left + right) / 2, (low + high) / 2


def _part(part: Part, view: _View) -> list[str]:
    outline = view.path(region_rings(part.outline))
    edge = STYLES["profile"].colour if not part.ready_made else STYLES["reference"].colour
    dash = "" if not part.ready_made else ' stroke-dasharray="2 1"'
    found = [
        f'<path d="{outline}" fill="{_BODY}" fill-rule="evenodd" stroke="{edge}" '
        f'stroke-width="{number(0.4 * view.unit, 3)}"{dash}/>'
    ]
    for kind, regions in (
        ("pocket", [p.region for p in part.pockets]),
        ("groove", [g.region for g in part.grooves]),
    ):
        colour = STYLES[kind].colour
        found += [
            f'<path d="{view.path(region_rings(region))}" fill="{colour}" fill-opacity="0.25" '
            f'stroke="{colour}" stroke-width="{number(0.3 * view.unit, 3)}"/>'
            for region in regions
        ]
    stroke = f'stroke-width="{number(0.3 * view.unit, 3)}"'
    for hole in part.holes:
        x, y = view.at(hole.x_mm, hole.y_mm)
        colour = STYLES["drill"].colour
        found.append(
            f'<circle cx="{number(x, 3)}" cy="{number(y, 3)}" r="{number(hole.diameter_mm / 2, 3)}"'
            f' fill="{colour}" fill-opacity="0.25" stroke="{colour}" {stroke}/>'
        )
    for scribe in part.scribes:
        lines = [np.asarray(line.coords) for line in scribe.lines]
        colour = STYLES["scribe"].colour
        path = view.path(lines, closed=False)
        found.append(f'<path d="{path}" fill="none" stroke="{colour}" {stroke}/>')
    return found


def _letters(piece: Piece, layer: Layer, view: _View) -> list[str]:
    """Return the letters of the steps of a ladder, below or left of them."""
    rungs = [r for r in piece.rungs if r.layer == layer.name]
    if not rungs:
        return []
    mx, my = _middle(layer)
    left, low, _, _ = _bounds([layer])
    level = len({round(r.at[1], 3) for r in rungs}) == 1
    found = []
    for rung in rungs:
        x, y = mx + rung.at[0], my + rung.at[1]
        x, y = (x, low + 1.6) if level else (left + 4.0, y)
        px, py = view.at(x, y)
        found.append(caption(rung.letter, 1.2 * _TEXT_MM, px, py + (0.0 if level else 1.3),
                             anchor="middle", bold=True))  # fmt: skip
    return found


def _read(at: int, read: ReadAt, middle: tuple[float, float], view: _View) -> list[str]:
    """Return where something is read: jaws and a line between them, and its number."""
    if read.choices:
        return []
    (x0, y0), (x1, y1) = (
        view.at(middle[0] + x, middle[1] + y) for x, y in (read.ends[0], read.ends[1])
    )
    found: list[str] = []
    unit = view.unit
    jaw, round_mm = unit * _JAW_MM, unit * _NUMBER_MM
    length = float(np.hypot(x1 - x0, y1 - y0))
    mx, my = (x0 + x1) / 2, (y0 + y1) / 2
    if length:
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        strokes = [((x0, y0), (x1, y1))]
        strokes += [
            ((x - uy * jaw, y + ux * jaw), (x + uy * jaw, y - ux * jaw))
            for x, y in ((x0, y0), (x1, y1))
        ]
        found += [_line(a, b, 0.35 * unit) for a, b in strokes]
        if length < 4 * round_mm:  # beside a narrow place, not over it
            mx, my = mx - uy * 3.4 * round_mm, my - abs(ux) * 3.4 * round_mm
    found.append(
        f'<circle cx="{number(mx, 3)}" cy="{number(my, 3)}" r="{number(round_mm, 3)}" '
        f'fill="#FFFFFF" stroke="{FINDING_COLOUR}" stroke-width="{number(0.35 * unit, 3)}"/>'
    )
    found.append(
        caption(str(at), 2.7 * unit, mx, my + 0.95 * unit, anchor="middle", colour=INK, bold=True)
    )
    return found


def _line(a: Sequence[float], b: Sequence[float], wide_mm: float) -> str:
    return (
        f'<path d="M{number(a[0], 3)} {number(a[1], 3)}L{number(b[0], 3)} {number(b[1], 3)}" '
        f'stroke="{FINDING_COLOUR}" stroke-width="{number(wide_mm, 3)}" fill="none"/>'
    )
