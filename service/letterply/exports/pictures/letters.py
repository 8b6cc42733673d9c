"""Letters in boxes of one size, each with what it is: how large letters may be, at a glance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from letterply.catalogue import Catalogue
from letterply.exports.cutfiles.drawing import region_rings
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
from letterply.exports.primitives.palette import FINDING_COLOUR
from letterply.exports.primitives.views import Frame
from letterply.shapes import Region
from letterply.units import format_mm, format_sides

__all__ = ["BoxedLetter", "letters_picture"]

_MOST_WIDE = 8
_WIDE = 1.6
"""A picture is about so many times as wide as it is high."""


@dataclass(frozen=True, slots=True)
class BoxedLetter:
    """A letter with its layers at the size that it has in its box.

    Attributes:
        text: the letter.
        cap_height_mm: height of capitals at that size; None where it fits at none.
        layers: material and region of each, bottom first.
        holds: whether nothing is in the way of it at that size; None where that was not asked.

    """

    text: str
    cap_height_mm: float | None
    layers: tuple[tuple[str, Region], ...] = ()
    holds: bool | None = None


def letters_picture(
    title: str, letters: Sequence[BoxedLetter], box_mm: tuple[float, float], catalogue: Catalogue
) -> str:
    """Return letters in their boxes as SVG, rows from the upper left.

    Args:
        title: what they are for.
        letters: in the order of the text.
        box_mm: width and height of the box of each.
        catalogue: for colours.

    """
    wide, high = box_mm
    unit = max(0.5, 0.055 * wide, 0.02 * math.sqrt(wide * high * len(letters)))
    pad, gap = 1.8 * unit, 1.6 * unit
    tall = high + 3.4 * unit + gap
    columns = math.ceil(math.sqrt(_WIDE * len(letters) * tall / (wide + gap)))
    columns = max(1, min(columns, _MOST_WIDE, len(letters)))
    inner = max(columns * (wide + gap) - gap, 24 * unit)
    top = pad + 4.6 * unit
    foot = top + math.ceil(len(letters) / columns) * tall
    words = f"each box is {format_sides(wide, high, times='×')}"
    told = "; ".join([words, *(", ".join(_words(letter)) for letter in letters)])
    found = svg_open(inner + 2 * pad, foot + 2.4 * unit + pad, escaped(title), escaped(told))
    found.append(caption_within(title, 1.6 * unit, pad, pad + 1.3 * unit, inner, bold=True))
    found.append(caption_within(words, unit, pad, pad + 3.1 * unit, inner, colour=QUIET))
    for at, letter in enumerate(letters):
        row, column = divmod(at, columns)
        x, y = pad + column * (wide + gap), top + row * tall
        found += _cell(letter, (x, y), box_mm, unit, catalogue)
    found += scale_bar(pad, foot + unit, bar_length(inner), unit)
    return svg_close(found)


def _cell(
    letter: BoxedLetter,
    at: tuple[float, float],
    box_mm: tuple[float, float],
    unit: float,
    catalogue: Catalogue,
) -> list[str]:
    """Return a letter in the middle of its box, and below it how large it is."""
    (x, y), (wide, high) = at, box_mm
    said = _words(letter)
    good = letter.cap_height_mm is not None and letter.holds is not False
    found = [
        f'<rect x="{number(x)}" y="{number(y)}" width="{number(wide)}" height="{number(high)}" '
        f'fill="none" stroke="{QUIET if good else FINDING_COLOUR}" '
        f'stroke-width="{number((0.06 if good else 0.16) * unit, 3)}"/>'
    ]
    if letter.layers:
        left, low, right, up = shapely.total_bounds([region for _, region in letter.layers])
        frame = Frame(x + (wide - right - left) / 2, y + (high + up + low) / 2)
        found += [
            f'<path d="{frame.path(region_rings(region))}" fill="{catalogue.material(key).colour}" '
            f'fill-rule="evenodd" stroke="{INK}" stroke-width="{number(0.05 * unit, 3)}"/>'
            for key, region in letter.layers
        ]
    colour = INK if good else FINDING_COLOUR
    for at_line, line in enumerate(said):
        below = y + high + (1.4 + 1.3 * at_line) * unit
        found.append(caption_within(line, unit, x, below, wide, colour=colour))
    return found


def _words(letter: BoxedLetter) -> list[str]:
    """Return what is said below a letter, a line each."""
    if letter.cap_height_mm is None:
        return [f"{letter.text}: fits at no size"]
    size = f"{letter.text}: capitals {format_mm(letter.cap_height_mm)}"
    return [size, "does not hold"] if letter.holds is False else [size]
