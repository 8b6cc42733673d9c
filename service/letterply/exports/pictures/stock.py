"""A sheet on the rack as a picture: an irregular left-over with its edge and its holes."""

from __future__ import annotations

import math

from letterply.catalogue import Stock
from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.pictures.sizes import LINE_PX
from letterply.exports.pictures.stack import png_within
from letterply.exports.primitives.captions import (
    INK,
    QUIET,
    bar_length,
    caption_within,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.views import Frame
from letterply.units import format_mm

__all__ = ["stock_png"]

_WOOD = "#E3D7C4"


def stock_png(stock: Stock) -> bytes:
    """Return the picture of a sheet, PNG, its width along x; the same sheet, the same bytes."""
    unit = max(1.5, 0.03 * math.sqrt(stock.width_mm * stock.height_mm))
    pad = 1.2 * unit
    room = max(stock.width_mm, 22 * unit)
    top = pad + 3.6 * unit
    foot = top + stock.height_mm + unit
    width, height = room + 2 * pad, foot + 3.2 * unit
    size = f"{format_mm(stock.width_mm)} × {format_mm(stock.height_mm)}"
    words = f"{stock.material.replace('-', ' ')}, {size} × {format_mm(stock.thickness_mm)}"
    frame = Frame(pad, top + stock.height_mm)
    drawn = svg_open(width, height, escaped(stock.key), escaped(words))
    drawn += [
        caption_within(stock.key, 1.5 * unit, pad, pad + 1.2 * unit, room, bold=True),
        caption_within(words, unit, pad, pad + 2.7 * unit, room, colour=QUIET),
        f'<path d="{frame.path(region_rings(stock.material_area))}" fill="{_WOOD}" '
        f'fill-rule="evenodd" stroke="{INK}" stroke-width="{number(0.1 * unit, 3)}"/>',
    ]
    foot_lines = scale_bar(pad, foot, bar_length(stock.width_mm), unit)
    return png_within(svg_close([*drawn, *foot_lines]), LINE_PX)
