"""Where the doubts are: outlines in grey, numbered spots in vermillion, and a list beside them.

Findings are numbered worst first, in the order of `letterply.findings.by_severity`, as in the
findings document; equal ones share the number of the first. Each layer with a mark gets a panel;
the other layers are shown faintly in it. The three gravest places are shown magnified.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
import shapely

from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.pictures.insets import SUNK, Inset, inset_of, sunk_into
from letterply.exports.pictures.marks import (
    Group,
    Mark,
    badge_size,
    grouped,
    marks_of,
    set_apart,
)
from letterply.exports.primitives.captions import (
    INK,
    QUIET,
    bar_length,
    caption,
    caption_within,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_width, wrapped
from letterply.exports.primitives.palette import FINDING_COLOUR
from letterply.exports.primitives.views import Frame
from letterply.findings import Finding, Severity, by_severity, summarise
from letterply.names import layer_words
from letterply.shapes import EMPTY, Region, as_region
from letterply.stacks import Layer, Stack
from letterply.units import about_mm, counted, format_area, format_exact, format_figure

__all__ = ["badge", "findings_picture", "measure_words", "spread"]

_MAX_LISTED = 40
_INSETS = 3
_INSET_SIDE = 13.0
"""Side of an inset, in sizes of the text."""
_COLUMN = (14, 44)
"""Least and largest width of the list, in sizes of its text."""
_MARGIN = 2.8
"""Room round a panel into which numbers may go, in sizes of the text."""


def findings_picture(stack: Stack, findings: Sequence[Finding]) -> str:
    """Return a picture of a stack's outlines with its findings marked and listed, as SVG."""
    ordered = by_severity(findings)
    groups = grouped(ordered)
    marks = marks_of(groups, large=_INSETS)
    left, low, right, high = stack.bounds
    width, height = right - left, high - low
    unit = max(1.4, 0.022 * math.sqrt(width * height), 0.014 * width)
    drawn = _Drawn(stack, marks, unit)
    pad, wide = 2.2 * unit, width + 2 * _MARGIN * unit
    beside = drawn.height > 0.8 * width or not ordered
    listed = groups[:_MAX_LISTED]
    column = max(_column(listed, unit), len(drawn.insets) * (_INSET_SIDE + 1) * unit)
    rows = [_Row(g, column, unit) for g in listed]
    list_height = drawn.inset_height + sum(r.height for r in rows) + 3.6 * unit
    total_w = wide + column + 3 * pad if beside else max(wide, column) + 2 * pad
    summary = summarise(ordered)
    told = wrapped(summary, unit, total_w - 2 * pad)
    head = (2.6 + 1.3 * len(told)) * unit
    if beside:
        total_h = head + max(drawn.height, list_height) + 2 * pad
        list_x, list_y = wide + 2 * pad, head + pad
    else:
        total_h = head + drawn.height + list_height + 3 * pad
        list_x, list_y = pad, head + drawn.height + 2 * pad
    title, room = stack.title or "Findings", total_w - 2 * pad
    found = svg_open(total_w, total_h, escaped(title), escaped(summary))
    found.append(caption_within(title, 1.6 * unit, pad, pad + 1.2 * unit, room, bold=True))
    for line, said in enumerate(told):
        found.append(caption(said, unit, pad, pad + (3.0 + 1.3 * line) * unit, colour=QUIET))
    found.extend(drawn.panels(pad, head + pad))
    found.extend(drawn.magnified(list_x, list_y))
    shown = {m.group.label for m in marks}
    found.extend(_list(rows, shown, len(ordered), list_x, list_y + drawn.inset_height, unit))
    return svg_close(found)


class _Drawn:
    """What is drawn of a stack: a panel for each layer with a mark, the gravest places larger."""

    def __init__(self, stack: Stack, marks: Sequence[Mark], unit: float) -> None:
        self._stack, self._unit = stack, unit
        self._panels = _panels(stack, marks)
        self._step = stack.bounds[3] - stack.bounds[1] + (2 * _MARGIN + 2.4) * unit
        self.height = len(self._panels) * self._step + 2 * unit
        self.insets: list[tuple[Mark, Inset]] = []
        for mark in marks[:_INSETS]:
            if mark.place is mark.group.places[0]:
                region, sunk = self._regions(mark.group.finding.layer)
                region = as_region(shapely.difference(region, sunk))
                inset = inset_of(mark.group.finding, mark.place, region, _INSET_SIDE * unit)
                self.insets.append((mark, inset))
        self.inset_height = (_INSET_SIDE + 4) * unit if self.insets else 0.0

    def _regions(self, name: str | None) -> tuple[Region, Region]:
        """Return a layer, or all of them, and what is sunk into it."""
        for layer in self._stack.layers:
            if layer.name == name:
                return layer.region, sunk_into(layer)
        return as_region(shapely.union_all([la.region for la in self._stack.layers])), EMPTY

    def panels(self, x: float, y: float) -> list[str]:
        """Return the panels, one below the other, and the scale bar below the last."""
        unit, margin = self._unit, _MARGIN * self._unit
        left, low, right, high = self._stack.bounds
        within = (left - margin, low - margin, right + margin, high + margin)
        found: list[str] = []
        for layer, mine in self._panels:
            frame = Frame(x + margin - left, y + margin + high)
            found.extend(_panel(self._stack, layer, frame, unit))
            found.extend(_windows([i for m, i in self.insets if m in mine], frame, unit))
            found.extend(_marks(_spots(self._stack, layer, mine, within, unit), frame, unit))
            name = layer.name if layer else "all layers"
            found.append(caption(name, unit, x, y + self._step - 1.4 * unit, bold=True))
            y += self._step
        found.extend(scale_bar(x, y + 0.6 * unit, bar_length(right - left), unit))
        return found

    def magnified(self, x: float, y: float) -> list[str]:
        """Return the gravest places in a row, each with its number over it."""
        unit = self._unit
        found: list[str] = []
        for mark, inset in self.insets:
            label, finding = mark.group.label, mark.group.finding
            found.extend(inset.drawn(*self._regions(finding.layer), x, y + 2.2 * unit, unit))
            wide, _ = _half(label, unit)
            found.extend(badge(label, finding.severity, x + wide, y + 1.1 * unit, unit))
            x += (_INSET_SIDE + 1) * unit
        return found


def _windows(insets: Sequence[Inset], frame: Frame, unit: float) -> list[str]:
    """Return the frames of what is shown magnified."""
    found = []
    for inset in insets:
        left, low, right, high = inset.window
        x, y = _at((left, high), frame)
        found.append(
            f'<rect x="{number(x, 2)}" y="{number(y, 2)}" width="{number(right - left, 2)}" '
            f'height="{number(high - low, 2)}" fill="none" stroke="{QUIET}" '
            f'stroke-width="{number(0.07 * unit, 3)}"/>'
        )
    return found


def measure_words(finding: Finding) -> str:
    """Return what was measured against what, in words; empty when nothing was.

    Figures are written as the sentence of the finding has them, where it has them.

    >>> from letterply.findings import Severity
    >>> from letterply.said import say
    >>> why = say("2.961 mm wide: at least 3 mm")
    >>> measure_words(Finding("neck", Severity.BLOCKER, why, measured=2.961, limit=3))
    '2.961 mm, limit 3 mm'

    """
    measured, limit = (
        None if value is None or not math.isfinite(value) else value
        for value in (finding.measured, finding.limit)
    )
    words = []
    if measured is not None:
        words.append(_as_told(measured, limit, finding))
    if limit is not None:
        words.append(f"limit {_as_told(limit, measured, finding)}")
    return ", ".join(words)


def _as_told(value: float, beside: float | None, finding: Finding) -> str:
    """Return a figure as the sentence of its finding writes it; else as figures are written."""
    ways = [format_figure(value, finding.unit)]
    if finding.unit == "mm":
        ways += [about_mm(value, beside), format_exact(value)]
    elif finding.unit == "mm2":
        ways.append(format_area(value))
    told = (w for w in ways if re.search(rf"(?<![\d./]){re.escape(w)}(?!\w)", finding.why))
    return next(told, ways[0])


def _panels(stack: Stack, marks: Sequence[Mark]) -> list[tuple[Layer | None, list[Mark]]]:
    """Return a panel for each layer with a mark, or one of the whole without any."""
    by_layer: dict[str | None, list[Mark]] = {}
    names = {la.name for la in stack.layers}
    for mark in marks:
        name = mark.group.finding.layer
        by_layer.setdefault(name if name in names else None, []).append(mark)
    panels: list[tuple[Layer | None, list[Mark]]] = [
        (layer, by_layer[layer.name]) for layer in reversed(stack.layers) if layer.name in by_layer
    ]
    if None in by_layer or not panels:
        panels.append((None, by_layer.get(None, [])))
    return panels


def _panel(stack: Stack, layer: Layer | None, frame: Frame, unit: float) -> list[str]:
    found = []
    line = number(0.06 * unit, 3)
    for each in stack.layers:
        data = frame.path(region_rings(each.region))
        shown = layer is None or each is layer
        look = 'fill="#DEDBD4"' if each is layer else 'fill="none"'
        stroke = "#8A8780" if shown else "#D3CFC7"
        found.append(
            f'<path d="{data}" {look} fill-rule="evenodd" stroke="{stroke}" stroke-width="{line}"/>'
        )
    sunk = EMPTY if layer is None else sunk_into(layer)
    if not sunk.is_empty:
        found.append(
            f'<path d="{frame.path(region_rings(sunk))}" fill="{SUNK}" fill-rule="evenodd" '
            f'stroke="#8A8780" stroke-width="{line}"/>'
        )
    return found


def spread(anchors: Sequence[tuple[float, float]], unit: float) -> list[tuple[float, float]]:
    """Return where numbers go beside their places, apart from one another where there is room.

    Each number takes the first of a ring of directions, near before far, at which it does not
    touch an earlier number.
    """
    turns = np.deg2rad(np.array([60, 120, 20, 160, 90, 0, 180, -60, -120, -90, -20, -160]))
    around = np.column_stack((np.cos(turns), np.sin(turns)))
    rings = np.vstack([around * unit * far for far in (2.2, 3.6, 5.2, 7.5)])
    taken = np.empty((0, 2))
    for anchor in anchors:
        choices = np.array(anchor) + rings
        apart = np.hypot(*(choices[:, None, :] - taken[None, :, :]).transpose(2, 0, 1))
        free = np.flatnonzero((apart > 1.75 * unit).all(axis=1))
        taken = np.vstack((taken, choices[int(free[0]) if len(free) else 0]))
    return [(float(x), float(y)) for x, y in taken]


def _half(label: int, unit: float) -> tuple[float, float]:
    """Return half the width and half the height of a number."""
    return badge_size(text_width(str(label), unit, bold=True), unit)


def _spots(
    stack: Stack,
    layer: Layer | None,
    marks: Sequence[Mark],
    within: tuple[float, float, float, float],
    unit: float,
) -> list[tuple[Mark, tuple[float, float]]]:
    """Return marks with the places of their numbers."""
    mine = [la for la in stack.layers if layer is None or la is layer]
    regions = [region for la in mine for region in (la.region, sunk_into(la))]
    halves = [_half(m.group.label, m.size * unit) for m in marks]
    # What is thick is drawn over; it is the edges that numbers leave free.
    edges = shapely.union_all([shapely.boundary(r) for r in regions])
    anchors = [m.place.anchor for m in marks]
    return list(zip(marks, set_apart(anchors, halves, within, edges, unit), strict=True))


def _marks(
    spots: Sequence[tuple[Mark, tuple[float, float]]], frame: Frame, unit: float
) -> list[str]:
    """Return place, line and number of each spot; all places lie below all numbers."""
    places, numbers = [], []
    for mark, to in spots:
        place, size = mark.place, mark.size * unit
        line = number(0.12 * size, 3)
        points = np.array(place.points, dtype=np.float64)
        ring = [points] if place.kind == "polygon" else []
        segment = [points] if place.kind == "segment" else []
        x, y = _at(place.anchor, frame)
        bx, by = _at(to, frame)
        if ring or segment:
            places.append(
                f'<path d="{frame.path(ring, segment)}" fill="{FINDING_COLOUR}" '
                f'fill-opacity="{0.35 if ring else 0}" stroke="{FINDING_COLOUR}" '
                f'stroke-width="{number(0.2 * size, 3)}" stroke-linecap="round"/>'
            )
        places.append(
            f'<circle cx="{number(x, 2)}" cy="{number(y, 2)}" r="{number(0.5 * size, 2)}" '
            f'fill="none" stroke="{FINDING_COLOUR}" stroke-width="{line}"/>'
        )
        places.append(
            f'<path d="M{number(x, 2)} {number(y, 2)}L{number(bx, 2)} {number(by, 2)}" '
            f'stroke="{FINDING_COLOUR}" stroke-width="{number(0.08 * size, 3)}" fill="none"/>'
        )
        numbers.extend(badge(mark.group.label, mark.group.finding.severity, bx, by, size))
    return places + numbers


def badge(label: int, severity: Severity, x: float, y: float, unit: float) -> list[str]:
    """Return a number in its shape: a blocker is filled, a caution is a ring, a note is thin."""
    wide, _ = _half(label, unit)
    filled = severity is Severity.BLOCKER
    stroke = 0.08 if severity is Severity.NOTE else 0.18
    return [
        f'<rect x="{number(x - wide, 2)}" y="{number(y - 0.85 * unit, 2)}" '
        f'width="{number(2 * wide, 2)}" height="{number(1.7 * unit, 2)}" '
        f'rx="{number(0.85 * unit, 2)}" fill="{FINDING_COLOUR if filled else "#FFFFFF"}" '
        f'stroke="{FINDING_COLOUR}" stroke-width="{number(stroke * unit, 3)}"/>',
        caption(
            str(label),
            1.05 * unit,
            x,
            y + 0.36 * unit,
            colour="#FFFFFF" if filled else INK,
            anchor="middle",
            bold=True,
        ),
    ]


class _Row:
    """What the list says of a number: what it is and where, then why, in as many lines."""

    def __init__(self, group: Group, width: float, unit: float) -> None:
        self.group, self._unit, self._room = group, unit, width - 2.8 * unit
        self._why = wrapped(group.finding.why, 0.9 * unit, self._room)
        self.height = (1.45 + 1.15 * len(self._why)) * unit

    def drawn(self, x: float, y: float) -> list[str]:
        unit, text_x = self._unit, x + 2.8 * self._unit
        severity = self.group.finding.severity
        found = badge(self.group.label, severity, x + unit, y + 0.75 * unit, unit)
        head, about = _heads(self.group)
        found.append(caption(head, unit, text_x, y + 0.7 * unit, bold=True))
        after = text_width(head, unit, bold=True) + 0.8 * unit
        room = max(self._room - after, unit)
        found.append(caption_within(about, unit, text_x + after, y + 0.7 * unit, room))
        for line, words in enumerate(self._why):
            at = y + (1.85 + 1.15 * line) * unit
            found.append(caption(words, 0.9 * unit, text_x, at, colour=QUIET))
        return found


def _list(
    rows: Sequence[_Row], shown: set[int], total: int, x: float, y: float, unit: float
) -> list[str]:
    """Return the list; what is not marked in the picture comes last, and is said to be so."""
    if not total:
        return [caption("No findings.", unit, x, y + unit, colour=QUIET)]
    found = []
    marked = [r for r in rows if r.group.label in shown or not r.group.places]
    others = [r for r in rows if r not in marked]
    for row in marked:
        found.extend(row.drawn(x, y))
        y += row.height
    if others:
        said = "Not marked, to keep the picture clear:"
        found.append(caption(said, 0.9 * unit, x, y + 0.9 * unit, colour=QUIET))
        y += 1.8 * unit
    for row in others:
        found.extend(row.drawn(x, y))
        y += row.height
    more = total - sum(r.group.count for r in rows)
    if more:
        words = f"{more} more: see the findings document"
        found.append(caption(words, unit, x + 2.8 * unit, y + 0.8 * unit, colour=QUIET))
    return found


def _column(listed: Sequence[Group], unit: float) -> float:
    """Return the width that the list wants, within limits."""
    wanted = [text_width(g.finding.why, 0.9 * unit) + 3.2 * unit for g in listed]
    wanted += [
        text_width(f"{' · '.join(_heads(g))}   ", unit, bold=True) + 4 * unit for g in listed
    ]
    least, largest = (size * unit for size in _COLUMN)
    return min(largest, max(least, *wanted)) if wanted else least


def _heads(group: Group) -> tuple[str, str]:
    """Return the two halves of a first line of the list: what it is, and how much of it where."""
    finding = group.finding
    places = max(len(group.places), group.count)
    about = (
        measure_words(finding),
        layer_words(finding.layer) if finding.layer else "",
        counted(places, "place") if places > 1 else "",
    )
    head = f"{finding.code.replace('-', ' ')} · {finding.severity}"
    return head, " · ".join(w for w in about if w)


def _at(point: tuple[float, float], frame: Frame) -> tuple[float, float]:
    return point[0] + frame.left_mm, frame.top_mm - point[1]
