"""What repairs changed: outlines before and after, what was added, numbered places and a list.

One panel for each layer that was repaired: the outline before in the grey of what is not cut, the
outline after in the blue of what is, and between them what was added. Places are numbered as in
the stack's document.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.pictures.findings import spread
from letterply.exports.primitives.captions import (
    INK,
    PAPER,
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
from letterply.exports.primitives.palette import REFERENCE, STYLES
from letterply.exports.primitives.views import Frame
from letterply.stacks import Layer, Repair, RepairReport, Stack, move_words
from letterply.units import counted, format_area, format_mm

__all__ = ["CHANGE_COLOUR", "repair_picture", "repair_summary"]

CHANGE_COLOUR = "#F0E442"
"""The yellow of Okabe and Ito, which stands for no operation."""

_MAX_LISTED = 60
_MATERIAL = "#DEDBD4"
_ROW = 1.9
_LEAST_COLUMN = 24
"""Height of a line and least width of a column of the list, in sizes of its text."""


def repair_summary(stack: Stack) -> str:
    """Say in one sentence what the repairs of a stack changed."""
    reports = [la.repair for la in stack.layers if la.repair is not None]
    if not reports:
        return "No outline was changed."
    places = sum(len(r.places) for r in reports)
    move = move_words(max(r.along_mm for r in reports), max(r.crotches_mm for r in reports))
    area = sum(r.area_added_mm2 for r in reports)
    return (
        f"{counted(places, 'place')} changed on {counted(len(reports), 'layer')}: outlines moved "
        f"by {move}; {format_area(area, 1)} were added."
    )


def repair_picture(stack: Stack) -> str:
    """Return a picture of what the repairs of a stack changed, as SVG."""
    repaired = [la for la in reversed(stack.layers) if la.repair is not None]
    left, low, right, high = stack.bounds
    width, height = right - left, high - low
    unit = max(1.4, 0.022 * math.sqrt(width * height), 0.014 * width)
    pad = 2.2 * unit
    summary = repair_summary(stack)
    inner = max(width, 30 * unit)
    panels = [_Panel(la, la.repair, inner, unit) for la in repaired if la.repair is not None]
    said = wrapped(summary, unit, inner)
    head = (5.8 + 1.3 * len(said)) * unit
    total_h = head + sum(p.height + p.list_height + 7.6 * unit for p in panels) + 3.2 * unit
    total_w = inner + 2 * pad
    title = stack.title or "Repairs"
    found = svg_open(total_w, total_h, escaped(title), escaped(summary))
    found.append(caption_within(title, 1.6 * unit, pad, 2 * unit + pad / 2, inner, bold=True))
    for line, words in enumerate(said):
        found.append(caption(words, unit, pad, pad + (2.6 + 1.3 * line) * unit, colour=QUIET))
    found.extend(_legend(pad, pad + (3.6 + 1.3 * len(said)) * unit, unit))
    y = head + pad
    for panel in panels:
        y += 2.4 * unit
        frame = Frame(pad - left, y + panel.top)
        found.extend(panel.drawn(frame))
        y += panel.height + 2.2 * unit
        name = f"{panel.layer.name}: {_layer_words(panel.report)}"
        found.append(caption_within(name, unit, pad, y, inner, bold=True))
        y += 0.6 * unit
        found.extend(panel.listed(pad, y))
        y += panel.list_height + 2.4 * unit
    found.extend(scale_bar(pad, total_h - 1.4 * unit, bar_length(width), unit))
    return svg_close(found)


def _layer_words(report: RepairReport) -> str:
    words = [
        f"moved by {move_words(report.along_mm, report.crotches_mm)}",
        f"{format_area(report.area_added_mm2, 1)} added",
    ]
    if report.bridges:
        words.append(counted(report.bridges, "bridge"))
    if report.pieces_joined > 0:
        words.append(f"{counted(report.pieces_joined, 'piece')} fewer")
    return ", ".join(words)


class _Panel:
    """One layer: its drawing and its list."""

    def __init__(self, layer: Layer, report: RepairReport, width: float, unit: float) -> None:
        self.layer = layer
        self.report = report
        self._unit = unit
        low, self.top = layer.region.bounds[1], layer.region.bounds[3]
        self.height = self.top - low
        self._words = [_place_words(r) for r in report.places[:_MAX_LISTED]]
        more = len(report.places) - len(self._words)
        if more > 0:
            self._words.append(f"{more} more: see the document of the stack")
        longest = max((text_width(w, unit) for w in self._words), default=0.0) + 4 * unit
        column = min(max(longest, _LEAST_COLUMN * unit), width)
        self._columns = max(int(width / column), 1)
        self._column = width / self._columns
        self._rows = math.ceil(len(self._words) / self._columns)

    @property
    def list_height(self) -> float:
        return self._rows * _ROW * self._unit

    def drawn(self, frame: Frame) -> list[str]:
        unit, report = self._unit, self.report
        grey, blue = STYLES[REFERENCE].colour, STYLES["profile"].colour
        after = frame.path(region_rings(self.layer.region))
        found = [f'<path d="{after}" fill="{_MATERIAL}" fill-rule="evenodd"/>']
        for repair in report.places:
            added = frame.path(region_rings(repair.region))
            found.append(f'<path d="{added}" fill="{CHANGE_COLOUR}" fill-rule="evenodd"/>')
        wide = number(0.1 * unit, 3)
        found.append(f'<path d="{after}" fill="none" stroke="{blue}" stroke-width="{wide}"/>')
        before = frame.path(region_rings(report.before))
        dash = number(0.35 * unit, 3)
        found.append(
            f'<path d="{before}" fill="none" stroke="{grey}" '
            f'stroke-width="{number(0.08 * unit, 3)}" stroke-dasharray="{dash} {dash}"/>'
        )
        return found + self._marks(frame)

    def _marks(self, frame: Frame) -> list[str]:
        unit = self._unit
        places = [r.where for r in self.report.places]
        lines: list[str] = []
        numbers: list[str] = []
        for label, (place, at) in enumerate(
            zip(places, spread([p.anchor for p in places], unit), strict=True), start=1
        ):
            x, y = place.anchor[0] + frame.left_mm, frame.top_mm - place.anchor[1]
            bx, by = at[0] + frame.left_mm, frame.top_mm - at[1]
            n = number
            lines.append(
                f'<path d="M{n(x, 2)} {n(y, 2)}L{n(bx, 2)} {n(by, 2)}" stroke="{INK}" '
                f'stroke-width="{n(0.07 * unit, 3)}" fill="none"/>'
                f'<circle cx="{n(x, 2)}" cy="{n(y, 2)}" r="{n(0.18 * unit, 3)}" fill="{INK}"/>'
            )
            numbers.extend(_badge(label, bx, by, unit))
        return lines + numbers

    def listed(self, x: float, y: float) -> list[str]:
        unit = self._unit
        found: list[str] = []
        for place, words in enumerate(self._words):
            at_x = x + place // self._rows * self._column
            at_y = y + (place % self._rows + 1) * _ROW * unit
            if place < _MAX_LISTED:
                found.extend(_badge(place + 1, at_x + unit, at_y - 0.36 * unit, 0.85 * unit))
            room = self._column - 3.4 * unit
            found.append(caption_within(words, unit, at_x + 2.6 * unit, at_y, room))
        return found


def _place_words(repair: Repair) -> str:
    """Return what was changed at a place.

    >>> from letterply.findings import Place
    >>> from letterply.shapes.regions import EMPTY
    >>> _place_words(Repair("bridge", Place("point", ((0, 0),)), EMPTY, 2.1, 4.2, 3.0))
    'bridge 3 mm wide across 4.2 mm'

    """
    was, move = format_mm(repair.was_mm), move_words(repair.along_mm, repair.move_mm)
    now = "" if repair.now_mm is None else format_mm(repair.now_mm)
    if repair.kind == "bridge":
        return f"bridge {now} wide across {was}"
    if repair.kind == "join":
        return f"link {now} wide across {was}"
    if repair.kind == "strengthen":
        return f"{was} wide, now {now}: moved by {move}"
    return f"inside corners rounded: moved by {move}"


def _badge(label: int, x: float, y: float, unit: float) -> Sequence[str]:
    """Return a number in a ring of ink: nothing here is a doubt."""
    wide = max(0.95 * unit, text_width(str(label), unit, bold=True) / 2 + 0.4 * unit)
    return (
        f'<rect x="{number(x - wide, 2)}" y="{number(y - 0.85 * unit, 2)}" '
        f'width="{number(2 * wide, 2)}" height="{number(1.7 * unit, 2)}" '
        f'rx="{number(0.85 * unit, 2)}" fill="{PAPER}" stroke="{INK}" '
        f'stroke-width="{number(0.1 * unit, 3)}"/>',
        caption(str(label), unit, x, y + 0.36 * unit, anchor="middle", bold=True),
    )


def _legend(x: float, y: float, unit: float) -> list[str]:
    grey, blue = STYLES[REFERENCE].colour, STYLES["profile"].colour
    n = number
    found: list[str] = []
    for words, look in (
        ("outline before", f'stroke="{grey}" stroke-dasharray="{n(0.35 * unit, 3)}"'),
        ("outline now", f'stroke="{blue}"'),
    ):
        found.append(
            f'<path d="M{n(x, 2)} {n(y - 0.35 * unit, 2)}h{n(2.4 * unit, 2)}" fill="none" {look} '
            f'stroke-width="{n(0.16 * unit, 3)}"/>'
        )
        found.append(caption(words, unit, x + 3 * unit, y))
        x += 4.8 * unit + text_width(words, unit)
    found.append(
        f'<rect x="{n(x, 2)}" y="{n(y - 0.85 * unit, 2)}" width="{n(1.6 * unit, 2)}" '
        f'height="{n(unit, 2)}" fill="{CHANGE_COLOUR}" stroke="{blue}" '
        f'stroke-width="{n(0.08 * unit, 3)}"/>'
    )
    found.append(caption("added", unit, x + 2.2 * unit, y))
    return found
