"""Where the doubts are: outlines in grey, numbered spots in vermillion, and a list beside them.

Findings are numbered worst first, in the order of `letterply.findings.by_severity`, as in the
findings document. Each layer with a finding that has a place gets a panel; the other layers are
shown faintly in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from letterply.exports.cutfiles.drawing import region_rings
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
from letterply.findings import Finding, Place, Severity, by_severity, summarise
from letterply.names import layer_words
from letterply.stacks import Layer, Stack

__all__ = ["badge", "findings_picture", "measure_words", "spread"]

_MAX_LISTED = 40
_COLUMN = (14, 44)
"""Least and largest width of the list, in sizes of its text."""


@dataclass(frozen=True, slots=True)
class _Spot:
    """A numbered mark: what it shows, and where its number goes, in the panel's frame, y up."""

    label: int
    place: Place
    badge: tuple[float, float]
    severity: Severity


def findings_picture(stack: Stack, findings: Sequence[Finding]) -> str:
    """Return a picture of a stack's outlines with its findings marked and listed, as SVG."""
    ordered = by_severity(findings)
    panels = _panels(stack, ordered)
    left, low, right, high = stack.bounds
    width, height = right - left, high - low
    unit = max(1.4, 0.022 * math.sqrt(width * height), 0.014 * width)
    pad, gap = 2.2 * unit, 3.2 * unit
    beside = height * len(panels) > 0.8 * width or not ordered
    listed = ordered[:_MAX_LISTED]
    column = _column(listed, unit)
    rows = [_Row(f, column, unit) for f in listed]
    list_height = sum(r.height for r in rows) + (1.8 * unit if len(ordered) > len(listed) else 0)
    drawn_height = len(panels) * (height + gap) + 2 * unit
    total_w = width + column + 3 * pad if beside else max(width, column) + 2 * pad
    summary = summarise(ordered)
    told = wrapped(summary, unit, total_w - 2 * pad)
    head = (2.6 + 1.3 * len(told)) * unit
    if beside:
        total_h = head + max(drawn_height, list_height) + 2 * pad
        list_x, list_y = width + 2 * pad, head + pad
    else:
        total_h = head + drawn_height + list_height + 3 * pad
        list_x, list_y = pad, head + drawn_height + 2 * pad
    found = svg_open(total_w, total_h, escaped(stack.title or "Findings"), escaped(summary))
    title, room = stack.title or "Findings", total_w - 2 * pad
    found.append(caption_within(title, 1.6 * unit, pad, pad + 1.2 * unit, room, bold=True))
    for line, said in enumerate(told):
        found.append(caption(said, unit, pad, pad + (3.0 + 1.3 * line) * unit, colour=QUIET))
    y = head + pad
    for layer, spots in panels:
        frame = Frame(pad - left, y + high)
        found.extend(_panel(stack, layer, frame, unit))
        found.extend(_marks(_spots(spots, unit), frame, unit))
        name = layer.name if layer else "all layers"
        found.append(caption(name, unit, pad, y + height + 1.6 * unit, bold=True))
        y += height + gap
    bar_y = y + 0.6 * unit
    found.extend(scale_bar(pad, bar_y, bar_length(width), unit))
    found.extend(_list(rows, len(ordered), list_x, list_y, unit))
    return svg_close(found)


def measure_words(finding: Finding) -> str:
    """Return what was measured against what, in words; empty when nothing was.

    >>> from letterply.findings import Severity
    >>> measure_words(Finding("neck", Severity.BLOCKER, "", measured=1.234, limit=3))
    '1.23 mm, limit 3 mm'

    """
    unit = f" {finding.unit}" if finding.unit else ""
    words = []
    if finding.measured is not None and math.isfinite(finding.measured):
        words.append(f"{number(finding.measured, 2)}{unit}")
    if finding.limit is not None and math.isfinite(finding.limit):
        words.append(f"limit {number(finding.limit, 2)}{unit}")
    return ", ".join(words)


def _panels(
    stack: Stack, ordered: Sequence[Finding]
) -> list[tuple[Layer | None, list[tuple[int, Finding]]]]:
    """Return a panel for each layer with a placed finding, or one of the whole without any."""
    by_layer: dict[str | None, list[tuple[int, Finding]]] = {}
    names = {la.name for la in stack.layers}
    for label, finding in enumerate(ordered, start=1):
        if finding.where is not None:
            key = finding.layer if finding.layer in names else None
            by_layer.setdefault(key, []).append((label, finding))
    panels: list[tuple[Layer | None, list[tuple[int, Finding]]]] = [
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


def _spots(numbered: Sequence[tuple[int, Finding]], unit: float) -> list[_Spot]:
    placed = [(n, f.where, f.severity) for n, f in numbered if f.where is not None]
    places = spread([where.anchor for _, where, _ in placed], unit)
    return [
        _Spot(label, where, at, severity)
        for (label, where, severity), at in zip(placed, places, strict=True)
    ]


def _marks(spots: Sequence[_Spot], frame: Frame, unit: float) -> list[str]:
    """Return place, line and number of each spot; all places lie below all numbers."""
    places, numbers = [], []
    line = number(0.12 * unit, 3)
    for spot in spots:
        points = np.array(spot.place.points, dtype=np.float64)
        ring = [points] if spot.place.kind == "polygon" else []
        segment = [points] if spot.place.kind == "segment" else []
        x, y = _at(spot.place.anchor, frame)
        bx, by = _at(spot.badge, frame)
        if ring or segment:
            places.append(
                f'<path d="{frame.path(ring, segment)}" fill="{FINDING_COLOUR}" '
                f'fill-opacity="{0.35 if ring else 0}" stroke="{FINDING_COLOUR}" '
                f'stroke-width="{number(0.2 * unit, 3)}" stroke-linecap="round"/>'
            )
        places.append(
            f'<circle cx="{number(x, 2)}" cy="{number(y, 2)}" r="{number(0.55 * unit, 2)}" '
            f'fill="none" stroke="{FINDING_COLOUR}" stroke-width="{line}"/>'
        )
        places.append(
            f'<path d="M{number(x, 2)} {number(y, 2)}L{number(bx, 2)} {number(by, 2)}" '
            f'stroke="{FINDING_COLOUR}" stroke-width="{number(0.08 * unit, 3)}" fill="none"/>'
        )
        numbers.extend(badge(spot.label, spot.severity, bx, by, unit))
    return places + numbers


def badge(label: int, severity: Severity, x: float, y: float, unit: float) -> list[str]:
    """Return a number in its shape: a blocker is filled, a caution is a ring, a note is thin."""
    wide = max(0.95 * unit, text_width(str(label), unit, bold=True) / 2 + 0.4 * unit)
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
    """A finding in the list: what it is and where, then why, in as many lines as it takes."""

    def __init__(self, finding: Finding, width: float, unit: float) -> None:
        self._finding, self._unit, self._room = finding, unit, width - 2.8 * unit
        self._why = wrapped(finding.why, 0.9 * unit, self._room)
        self.height = (1.45 + 1.15 * len(self._why)) * unit

    def drawn(self, label: int, x: float, y: float) -> list[str]:
        unit, text_x = self._unit, x + 2.8 * self._unit
        found = badge(label, self._finding.severity, x + unit, y + 0.75 * unit, unit)
        head, about = _heads(self._finding)
        found.append(caption(head, unit, text_x, y + 0.7 * unit, bold=True))
        after = text_width(head, unit, bold=True) + 0.8 * unit
        room = max(self._room - after, unit)
        found.append(caption_within(about, unit, text_x + after, y + 0.7 * unit, room))
        for line, words in enumerate(self._why):
            at = y + (1.85 + 1.15 * line) * unit
            found.append(caption(words, 0.9 * unit, text_x, at, colour=QUIET))
        return found


def _list(rows: Sequence[_Row], total: int, x: float, y: float, unit: float) -> list[str]:
    if not total:
        return [caption("No findings.", unit, x, y + unit, colour=QUIET)]
    found = []
    for label, row in enumerate(rows, start=1):
        found.extend(row.drawn(label, x, y))
        y += row.height
    if total > len(rows):
        more = f"{total - len(rows)} more: see the findings document"
        found.append(caption(more, unit, x + 2.8 * unit, y + 0.8 * unit, colour=QUIET))
    return found


def _column(listed: Sequence[Finding], unit: float) -> float:
    """Return the width that the list wants, within limits."""
    wanted = [text_width(f.why, 0.9 * unit) + 3.2 * unit for f in listed]
    wanted += [
        text_width(f"{' · '.join(_heads(f))}   ", unit, bold=True) + 4 * unit for f in listed
    ]
    least, largest = (size * unit for size in _COLUMN)
    return min(largest, max(least, *wanted)) if wanted else least


def _heads(finding: Finding) -> tuple[str, str]:
    """Return the two halves of a finding's first line: what it is, and how much of it where."""
    about = measure_words(finding), layer_words(finding.layer) if finding.layer else ""
    head = f"{finding.code.replace('-', ' ')} · {finding.severity}"
    return head, " · ".join(w for w in about if w)


def _at(point: tuple[float, float], frame: Frame) -> tuple[float, float]:
    return point[0] + frame.left_mm, frame.top_mm - point[1]
