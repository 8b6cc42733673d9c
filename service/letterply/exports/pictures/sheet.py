"""A sheet to hang on the wall of the shop: parts with their marks, operations, legend, scale.

Unlike the cut files this picture may hold text, fills and a legend: no machine reads it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from letterply.cutting import CutPlan
from letterply.exports.cutfiles.drawing import Drawing, region_rings, sheet_drawing
from letterply.exports.pictures.kept_clear import draw_places
from letterply.exports.pictures.part_labels import PartLabel, draw_labels, place_labels
from letterply.exports.primitives.captions import (
    QUIET,
    bar_length,
    caption,
    caption_lines,
    caption_within,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.colours import lighter
from letterply.exports.primitives.markup import attribute
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import wrapped
from letterply.exports.primitives.palette import FINDING_COLOUR, REFERENCE, STYLES
from letterply.exports.primitives.views import Frame
from letterply.sheets import Sheet
from letterply.units import counted, format_sides

__all__ = ["legend", "sheet_picture", "sheet_pictures"]

_LINE = 0.07
"""Width of a line, in sizes of the text."""


def sheet_picture(
    sheet: Sheet, plan: CutPlan | None = None, *, colour: str = "#E2C391", alone: bool = True
) -> str:
    """Return a picture of a sheet as SVG.

    Args:
        sheet: what is shown.
        plan: its plan, for the cutters in the legend.
        colour: colour of the material.
        alone: whether it tells facts of the sheet and cautions of the plan; False for a page that
            has them.

    """
    return _picture(sheet, plan, _shown(sheet, plan), colour, alone=alone)


def sheet_pictures(sheet: Sheet, plan: CutPlan | None = None, *, colour: str) -> tuple[str, str]:
    """Return both pictures of a sheet as SVG, the one that stands alone and the one for a page."""
    shown = _shown(sheet, plan)
    return (
        _picture(sheet, plan, shown, colour, alone=True),
        _picture(sheet, plan, shown, colour, alone=False),
    )


@dataclass(frozen=True, slots=True)
class _Shown:
    """What every picture of a sheet shows, and the size of its text."""

    drawing: Drawing
    labels: tuple[PartLabel, ...]
    unit: float


def _shown(sheet: Sheet, plan: CutPlan | None) -> _Shown:
    stock = sheet.stock
    unit = max(1.5, 0.02 * math.sqrt(stock.width_mm * stock.height_mm))
    box = 0.0, 0.0, stock.width_mm, stock.height_mm
    return _Shown(sheet_drawing(sheet, plan), place_labels(sheet.parts, box, unit), unit)


def _picture(sheet: Sheet, plan: CutPlan | None, shown: _Shown, colour: str, *, alone: bool) -> str:
    stock, drawing, labels, unit = sheet.stock, shown.drawing, shown.labels, shown.unit
    names = plan.names if plan else {}
    pad = 1.6 * unit
    used = [s.key for s in STYLES.values() if any(m.operation == s.key for m in drawing.marks)]
    reach = max((label.ground.bounds[2] for label in labels), default=0.0)
    room = max(stock.width_mm, reach, 30 * unit)
    width = room + 2 * pad
    facts = _facts(sheet, names, alone=alone)
    if plan is not None and alone:
        facts += f" · zero: x and y at {plan.zero.at}"
    told = [t for t in wrapped(facts, unit, room) if t]
    top = pad + (2.1 + 1.35 * len(told)) * unit
    y = top + stock.height_mm + 0.6 * unit
    foot = legend(used, drawing, pad, y, unit, names)
    y += (1.8 * len(used) + 2.0) * unit
    if plan is not None:
        foot += _zero_mark(pad + 2 * unit, y - 0.5 * unit, unit)
        foot.append(caption("work zero of x and y", unit, pad + 4.8 * unit, y - 0.15 * unit))
        y += 1.8 * unit
    foot += scale_bar(pad, y, bar_length(stock.width_mm), unit)
    if plan is not None and plan.cautions and alone:
        lines, high = _cautions(plan.cautions, pad, y + unit, room, unit)
        foot += lines
        y += unit + high
    height = y + 1.4 * unit + pad
    frame = Frame(pad, top + stock.height_mm)
    found = svg_open(width, height, escaped(drawing.title), escaped(drawing.description))
    found.append(caption_within(drawing.title, 1.5 * unit, pad, pad + 1.2 * unit, room, bold=True))
    for line, words in enumerate(told):
        at = pad + (2.7 + 1.35 * line) * unit
        found.append(caption(words, unit, pad, at, colour=QUIET))
    found.append(
        f'<path d="{frame.path(region_rings(stock.material_area))}" '
        f'fill="{lighter(colour, 0.6)}" fill-rule="evenodd"/>'
        if stock.outline_mm
        else f'<rect x="{number(pad, 2)}" y="{number(top, 2)}" '
        f'width="{number(stock.width_mm, 2)}" '
        f'height="{number(stock.height_mm, 2)}" fill="{lighter(colour, 0.6)}"/>'
    )
    for placed in sheet.parts:
        data = frame.path(region_rings(placed.part.outline))
        found.append(
            f'<path d="{data}" fill="{lighter(colour, 0.15)}" fill-rule="evenodd" '
            f"data-letterply-part={attribute(placed.mark)}/>"
        )
    found.extend(_operations(drawing, frame, unit))
    found.extend(draw_places(stock, (0.0, 0.0, stock.width_mm, stock.height_mm), frame, unit))
    found.extend(draw_labels(labels, frame))
    if plan is not None:
        x, y = plan.zero.x_mm + frame.left_mm, frame.top_mm - plan.zero.y_mm
        if 0 <= x <= width and 0 <= y <= height:  # a pin may lie farther off
            found += _zero_mark(x, y, unit)
    return svg_close([*found, *foot])


def _zero_mark(x: float, y: float, unit: float) -> list[str]:
    """Return a disc in quarters, with a cross through it: where x and y are nought."""
    r, arm = 0.7 * unit, 1.1 * unit
    at = f"{number(x, 2)} {number(y, 2)}"
    quarters = "".join(
        f"M{at}h{number(s * r, 3)}A{number(r, 3)} {number(r, 3)} 0 0 0 "
        f"{number(x, 2)} {number(y - s * r, 3)}z"
        for s in (1, -1)
    )
    cross = (
        f"M{number(x - arm, 3)} {number(y, 2)}h{number(2 * arm, 3)}"
        f"M{number(x, 2)} {number(y - arm, 3)}v{number(2 * arm, 3)}"
    )
    return [
        f'<g data-letterply-zero="xy"><circle cx="{number(x, 2)}" cy="{number(y, 2)}" '
        f'r="{number(r, 3)}" fill="#FFFFFF" stroke="#000000" '
        f'stroke-width="{number(_LINE * unit, 3)}"/>'
        f'<path d="{quarters}" fill="#000000"/>'
        f'<path d="{cross}" fill="none" stroke="#000000" stroke-width="{number(_LINE * unit, 3)}"/>'
        "</g>"
    ]


def _cautions(
    texts: Sequence[str], x: float, y: float, width: float, unit: float
) -> tuple[list[str], float]:
    """Return cautions set off by a bar at their left, from `y` down, and their height."""
    found, high = [], 0.2 * unit
    for text in texts:
        lines, tall = caption_lines(
            text, 0.9 * unit, x + 1.2 * unit, y + high + 0.9 * unit, width - 1.2 * unit
        )
        found += lines
        high += tall + 0.3 * unit
    bar = (
        f'<rect x="{number(x, 2)}" y="{number(y, 2)}" width="{number(0.5 * unit, 2)}" '
        f'height="{number(high, 2)}" fill="{FINDING_COLOUR}"/>'
    )
    return [bar, *found], high


def legend(
    keys: list[str], drawing: Drawing, x: float, y: float, unit: float, names: Mapping[str, str]
) -> list[str]:
    """Return a line of the legend for each operation, with its cutters where they are known."""
    found = []
    for key in keys:
        style = STYLES[key]
        y += 1.8 * unit
        cutters = sorted({c for m in drawing.marks if m.operation == key for c in m.cutters})
        label = style.label
        if cutters:
            label += ": " + "; ".join(names.get(cutter, cutter) for cutter in cutters)
        found.append(
            f'<path d="M{number(x, 2)} {number(y - 0.35 * unit, 2)}h{number(4 * unit, 2)}" '
            f'fill="none" stroke="{style.colour}" stroke-width="{number(2 * _LINE * unit, 3)}"'
            f"{_dash(style.dash_mm, unit)}/>"
        )
        found.append(caption(label, unit, x + 4.8 * unit, y))
    return found


def _operations(drawing: Drawing, frame: Frame, unit: float) -> list[str]:
    found = []
    for style in STYLES.values():
        wide = _LINE * unit * (0.7 if style.key == REFERENCE else 1.4)
        marks = [m for m in drawing.marks if m.operation == style.key]
        if not marks:
            continue
        found.append(
            f'<g fill="none" stroke="{style.colour}" stroke-width="{number(wide, 3)}"'
            f'{_dash(style.dash_mm, unit)} data-letterply-operation="{style.key}">'
        )
        for mark in marks:
            if mark.rings or mark.lines:
                found.append(f'<path d="{frame.path(mark.rings, mark.lines)}"/>')
            for x, y, radius in mark.circles:
                found.append(
                    f'<circle cx="{number(x + frame.left_mm, 2)}" '
                    f'cy="{number(frame.top_mm - y, 2)}" r="{number(radius, 3)}"/>'
                )
        found.append("</g>")
    return found


def _dash(dash_mm: tuple[float, ...], unit: float) -> str:
    if not dash_mm:
        return ""
    grown = " ".join(number(d * max(1.0, unit / 4), 2) for d in dash_mm)
    return f' stroke-dasharray="{grown}"'


def _facts(sheet: Sheet, names: Mapping[str, str], *, alone: bool) -> str:
    stock = sheet.stock
    sides = stock.width_mm, stock.height_mm, stock.thickness_mm
    size = format_sides(*sides, places=2, times="×")
    material = names.get(stock.material, stock.material)
    words = [f"{material}, {size}", counted(len(sheet.parts), "part")] if alone else []
    if sheet.from_back:
        words.append("cut from the back: parts lie mirrored, their front down")
    return " · ".join(words)
