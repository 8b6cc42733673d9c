"""Clamps, screws and what is cut out already, as a picture of a sheet shows them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from letterply.catalogue import Stock
from letterply.exports.primitives.captions import INK, caption
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_width
from letterply.exports.primitives.palette import REFERENCE, STYLES
from letterply.exports.primitives.views import Frame

__all__ = ["draw_places"]

Box = tuple[float, float, float, float]

_WORDS = {"clamp": "clamp", "screw": "screw", "cut": "cut out before"}


def draw_places(stock: Stock, box: Box, frame: Frame, unit: float) -> list[str]:
    """Return what of the places that a sheet keeps clear lies in a box, each under its name.

    Args:
        stock: the sheet.
        box: left, low, right and high of what is shown of it, mm.
        frame: where it lies in the picture.
        unit: size of text, mm.

    """
    colour = STYLES[REFERENCE].colour
    found: list[str] = []
    for place in stock.keep_clear:
        area = place.area.intersection(shapely.box(*box))
        if not isinstance(area, shapely.Polygon) or area.is_empty:
            continue
        ring = np.asarray(area.exterior.coords)[:-1]
        found.append(
            f'<path d="{frame.path([ring])}" fill="{colour}" fill-opacity="0.7" '
            f'stroke="{INK}" stroke-width="{number(0.08 * unit, 3)}" '
            f'stroke-dasharray="{number(0.5 * unit, 2)} {number(0.4 * unit, 2)}" '
            f'data-letterply-kept-clear="{place.kind}"/>'
        )
        found.append(_name(_WORDS[place.kind], area.bounds, box, frame, unit))
    return found


def _name(words: str, bounds: Sequence[float], box: Box, frame: Frame, unit: float) -> str:
    """Return a name in the middle of a place, under it where that is narrower, within the box."""
    left, low, right, high = bounds
    wide = text_width(words, 0.9 * unit)
    inside = wide < right - left and unit < high - low
    x = (left + right) / 2
    if wide < box[2] - box[0]:
        x = min(max(x, box[0] + wide / 2), box[2] - wide / 2)
    y = (low + high) / 2 - 0.3 * unit if inside else low - 1.1 * unit
    if y < box[1]:
        y = high + 0.4 * unit
    return caption(words, 0.9 * unit, x + frame.left_mm, frame.top_mm - y, anchor="middle")
