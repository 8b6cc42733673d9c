"""A sheet to hang on the wall of the shop: parts with their marks, operations, legend, scale.

Unlike the cut files this picture may hold text, fills and a legend: no machine reads it.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from letterply.cutting import CutPlan
from letterply.exports.cutfiles.drawing import Drawing, region_rings, sheet_drawing
from letterply.exports.primitives.captions import (
    QUIET,
    bar_length,
    caption,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.colours import lighter
from letterply.exports.primitives.markup import attribute
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import fitted, text_width
from letterply.exports.primitives.palette import REFERENCE, STYLES
from letterply.exports.primitives.views import Frame
from letterply.sheets import PlacedPart, Sheet
from letterply.units import format_mm

__all__ = ["legend", "mark_label", "sheet_picture"]

_LINE = 0.07
"""Width of a line, in sizes of the text."""

_SLENDER = 1.4
"""A part so many times as long as broad has its mark along it; others have it level."""

_LEVEL_DEG = 0.01


def sheet_picture(sheet: Sheet, plan: CutPlan | None = None, *, colour: str = "#E2C391") -> str:
    """Return a picture of a sheet as SVG.

    Args:
        sheet: what is shown.
        plan: its plan, for the cutters in the legend.
        colour: colour of the material.

    """
    stock = sheet.stock
    drawing = sheet_drawing(sheet, plan)
    unit = max(1.5, 0.02 * math.sqrt(stock.width_mm * stock.height_mm))
    pad = 1.6 * unit
    used = [s.key for s in STYLES.values() if any(m.operation == s.key for m in drawing.marks)]
    foot = (1.8 * len(used) + 3.4) * unit
    width = max(stock.width_mm, 30 * unit) + 2 * pad
    top = pad + 3.4 * unit
    height = top + stock.height_mm + foot + pad
    frame = Frame(pad, top + stock.height_mm)
    found = svg_open(width, height, escaped(drawing.title), escaped(drawing.description))
    found.append(caption(drawing.title, 1.5 * unit, pad, pad + 1.2 * unit, bold=True))
    facts = fitted(_facts(sheet), unit, width - 2 * pad)
    found.append(caption(facts, unit, pad, pad + 2.7 * unit, colour=QUIET))
    found.append(
        f'<rect x="{number(pad, 2)}" y="{number(top, 2)}" width="{number(stock.width_mm, 2)}" '
        f'height="{number(stock.height_mm, 2)}" fill="{lighter(colour, 0.6)}"/>'
    )
    for placed in sheet.parts:
        data = frame.path(region_rings(placed.part.outline))
        found.append(
            f'<path d="{data}" fill="{lighter(colour, 0.15)}" fill-rule="evenodd" '
            f"data-letterply-part={attribute(placed.mark)}/>"
        )
    found.extend(_operations(drawing, frame, unit))
    for placed in sheet.parts:
        found.extend(mark_label(placed, frame, unit))
    y = top + stock.height_mm + 0.6 * unit
    found.extend(legend(used, drawing, pad, y, unit))
    y += (1.8 * len(used) + 2.0) * unit
    found.extend(scale_bar(pad, y, bar_length(stock.width_mm), unit))
    return svg_close(found)


def legend(keys: list[str], drawing: Drawing, x: float, y: float, unit: float) -> list[str]:
    """Return a line of the legend for each operation, with its cutters where they are known."""
    found = []
    for key in keys:
        style = STYLES[key]
        y += 1.8 * unit
        cutters = sorted({c for m in drawing.marks if m.operation == key for c in m.cutters})
        label = style.label if key == REFERENCE else f"{key}: {style.label}"
        label += f" ({', '.join(cutters)})" if cutters else ""
        found.append(
            f'<path d="M{number(x, 2)} {number(y - 0.35 * unit, 2)}h{number(4 * unit, 2)}" '
            f'fill="none" stroke="{style.colour}" stroke-width="{number(2 * _LINE * unit, 3)}"'
            f"{_dash(style.dash_mm, unit)}/>"
        )
        found.append(caption(label, unit, x + 4.8 * unit, y))
    return found


def mark_label(placed: PlacedPart, frame: Frame, unit: float) -> list[str]:
    """Return a part's mark on a pale ground, where the part has most room, along its longer side.

    It is as large as the part's box is long and broad, within limits that keep it legible.
    """
    outline = placed.part.outline
    box = shapely.minimum_rotated_rectangle(outline)
    corners = shapely.get_coordinates(box)[:4]
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(*sides.T)
    long, broad = float(lengths.max()), float(lengths.min())
    along = sides[int(lengths.argmax())] / long
    if long < _SLENDER * broad:
        left, low, right, high = outline.bounds
        long, broad, along = right - left, high - low, np.array([1.0, 0.0])
    if along[0] < -1e-9 or (abs(along[0]) <= 1e-9 and along[1] < 0):
        along = -along  # read from the left, or from below
    wide = text_width(placed.mark, 1.0, bold=True)
    size = min(0.85 * unit, max(0.3 * unit, min(0.9 * long / (wide + 1), 0.35 * broad)))
    half = (wide + 0.8) * size / 2
    at = shapely.get_coordinates(shapely.maximum_inscribed_circle(outline, tolerance=1.0))[0]
    # Kept within the part's box, as far as it is shorter than that.
    reach = shapely.get_coordinates(outline) @ along
    mine = float(at @ along)
    at = at + (_kept_within(mine, reach.min() + half, reach.max() - half) - mine) * along
    x, y = float(at[0]) + frame.left_mm, frame.top_mm - float(at[1])
    angle = -math.degrees(math.atan2(along[1], along[0]))
    turn = f' transform="rotate({number(angle, 2)} {number(x, 2)} {number(y, 2)})"'
    return [
        f"<g{turn if abs(angle) > _LEVEL_DEG else ''}>",
        f'<rect x="{number(x - half, 2)}" y="{number(y - 0.75 * size, 2)}" '
        f'width="{number(2 * half, 2)}" height="{number(1.5 * size, 2)}" '
        f'rx="{number(0.4 * size, 2)}" fill="#FFFFFF" fill-opacity="0.82"/>',
        caption(placed.mark, size, x, y + 0.34 * size, anchor="middle", bold=True),
        "</g>",
    ]


def _kept_within(value: float, least: float, largest: float) -> float:
    """Return the value moved into a range; the middle of a range turned inside out."""
    return min(max(value, least), largest) if least < largest else (least + largest) / 2


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


def _facts(sheet: Sheet) -> str:
    stock = sheet.stock
    size = (
        f"{format_mm(stock.width_mm)} × {format_mm(stock.height_mm)} × "
        f"{format_mm(stock.thickness_mm)}"
    )
    count = len(sheet.parts)
    words = [f"{stock.material}, {size}", f"{count} {'part' if count == 1 else 'parts'}"]
    words.append(f"{100 * sheet.used_share:.0f} % used")
    if sheet.from_back:
        words.append("cut from the back: parts lie mirrored, their face down")
    return " · ".join(words)
