"""Drawings as SVG cut files: real millimetres, one colour and dash an operation, nothing else.

One unit of the view box is one millimetre. The turn from y up to y down is made in the numbers,
so no `transform` is left for a reader to miss. Lines are not filled; the same drawing always
gives the same bytes. Colours and dashes are those of `letterply.exports.primitives.palette`, and
every element says in `data-letterply-operation`, `-part` and `-depth-mm` what it is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Stock
from letterply.cutting import CutPlan
from letterply.exports.cutfiles.drawing import (
    Drawing,
    Mark,
    layer_drawing,
    sheet_drawing,
    stock_drawing,
)
from letterply.exports.primitives.markup import attribute, text
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.palette import STYLES, Style
from letterply.sheets import Sheet
from letterply.stacks import Layer, Stack

__all__ = ["drawing_svg", "layer_svg", "path_data", "sheet_svg", "stock_svg"]

DECIMALS = 4
"""Digits after the point: a tenth of a micrometre."""

LAYER_PAD_MM = 5.0
"""Room round a layer, so that no line is cut off at the edge of the picture."""

_STROKE_MM = 0.2


def layer_svg(layer: Layer, stack: Stack) -> bytes:
    """Return one layer of a stack as an SVG file.

    All layers of a stack have the same size and lie on one another. A layer that is cut from its
    back is mirrored, and its description says so.
    """
    return drawing_svg(layer_drawing(layer, stack), pad_mm=LAYER_PAD_MM)


def sheet_svg(sheet: Sheet, plan: CutPlan | None = None) -> bytes:
    """Return a stock sheet with its placed parts as an SVG file of the size of the stock."""
    return drawing_svg(sheet_drawing(sheet, plan), pad_mm=0.0)


def stock_svg(stock: Stock) -> bytes:
    """Return a sheet without parts, its edge and its holes, as an SVG file of its size."""
    return drawing_svg(stock_drawing(stock), pad_mm=0.0)


def drawing_svg(drawing: Drawing, *, pad_mm: float) -> bytes:
    """Return a drawing as an SVG file with `pad_mm` of room on every side."""
    width, height = drawing.width_mm + 2 * pad_mm, drawing.height_mm + 2 * pad_mm
    w, h = number(width, DECIMALS), number(height, DECIMALS)
    top = pad_mm + drawing.height_mm
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}" role="img" aria-labelledby="title description">',
        f'<title id="title">{text(drawing.title)}</title>',
        f'<desc id="description">{text(drawing.description)}</desc>',
    ]
    for style in STYLES.values():
        marks = [m for m in drawing.marks if m.operation == style.key]
        if not marks:
            continue
        lines.append(_group(style))
        for mark in marks:
            lines.extend(_elements(mark, pad_mm, top))
        lines.append("</g>")
    lines.append("</svg>\n")
    return "\n".join(lines).encode()


def path_data(
    rings: tuple[NDArray[np.float64], ...],
    lines: tuple[NDArray[np.float64], ...] = (),
    *,
    left_mm: float = 0.0,
    top_mm: float = 0.0,
    decimals: int = DECIMALS,
) -> str:
    """Return closed rings and open lines, y up, as path data, y down.

    Args:
        rings: (n, 2) float64, mm, first point not repeated.
        lines: (n, 2) float64, mm.
        left_mm: added to x.
        top_mm: height, in the drawing, of the upper edge of the view box.
        decimals: digits after the point.

    >>> path_data((np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.5]]),), top_mm=10)
    'M0 10L2 10 2 8.5Z'

    """
    pieces = []
    for points, end in [(r, "Z") for r in rings] + [(line, "") for line in lines]:
        flipped = np.column_stack((points[:, 0] + left_mm, top_mm - points[:, 1]))
        words = [number(v, decimals) for v in flipped.ravel().tolist()]
        head, tail = words[:2], words[2:]
        pieces.append(f"M{head[0]} {head[1]}" + (f"L{' '.join(tail)}" if tail else "") + end)
    return "".join(pieces)


def _group(style: Style) -> str:
    dash = " ".join(number(d) for d in style.dash_mm)
    return (
        f'<g data-letterply-operation="{style.key}" fill="none" stroke="{style.colour}" '
        f'stroke-width="{number(_STROKE_MM)}"'
        + (f' stroke-dasharray="{dash}"' if dash else "")
        + ' stroke-linejoin="round">'
    )


def _elements(mark: Mark, left: float, top: float) -> list[str]:
    facts = f' data-letterply-operation="{mark.operation}"'
    if mark.part:
        facts += f" data-letterply-part={attribute(mark.part)}"
    if mark.depth_mm is not None:
        facts += f' data-letterply-depth-mm="{number(mark.depth_mm)}"'
    if mark.cutters:
        facts += f" data-letterply-cutter={attribute(' '.join(mark.cutters))}"
    found = []
    if mark.rings or mark.lines:
        data = path_data(mark.rings, mark.lines, left_mm=left, top_mm=top)
        found.append(f'<path{facts} fill-rule="evenodd" d="{data}"/>')
    for x, y, radius in mark.circles:
        found.append(
            f'<circle{facts} cx="{number(x + left)}" cy="{number(top - y)}" r="{number(radius)}"/>'
        )
    return found
