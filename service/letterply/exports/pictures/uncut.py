"""What each cutter of the rack leaves uncut, layer by layer: one panel a cutter, side by side.

The material is grey, what a cutter does not reach is filled in vermillion; below stands how much
that is. Cutters stand in the order of their size, the smallest first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from letterply.catalogue import Cutter
from letterply.checks import find_uncut
from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.primitives.captions import (
    QUIET,
    bar_length,
    caption,
    caption_within,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.palette import FINDING_COLOUR
from letterply.exports.primitives.views import Frame
from letterply.names import in_sentence
from letterply.shapes import DEFAULT_TOLERANCES, Region, Tolerances, polygons
from letterply.stacks import Layer, Stack
from letterply.units import counted, format_area

__all__ = ["uncut_picture"]

_MATERIAL = "#C9C4BA"
_MOST_CUTTERS = 4
_COLUMNS = 2


def uncut_picture(
    stack: Stack,
    cutters: Mapping[str, Sequence[Cutter]],
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> str:
    """Return what the smallest cutters of each layer leave, at most four of them, as SVG.

    `cutters` has for the name of a layer those that go through it, smallest first.
    """
    left, low, right, high = stack.bounds
    width, height = right - left, high - low
    unit = max(1.4, 0.022 * math.sqrt(width * height), 0.014 * width)
    pad = 2.2 * unit
    inner = max(_COLUMNS * width + pad, 40 * unit)
    column = (inner - pad) / _COLUMNS
    title = f"{stack.title or 'Stack'}: what each cutter leaves"
    rows = [
        panels[k : k + _COLUMNS]
        for layer in reversed(stack.layers)
        for panels in (_panels(layer, cutters.get(layer.name, ()), tolerances),)
        for k in range(0, len(panels), _COLUMNS)
    ]
    head, tall = 5.6 * unit, height + 5.2 * unit
    total_h = head + max(len(rows), 1) * tall + 4 * unit
    found = svg_open(inner + 2 * pad, total_h, escaped(title), escaped(title))
    at = 2 * unit + pad / 2
    found.append(caption_within(title, 1.6 * unit, pad, at, inner, bold=True))
    if not rows:
        found.append(caption("No cutter in the rack goes through.", unit, pad, head, colour=QUIET))
    for k, row in enumerate(rows):
        y = head + k * tall
        for place, panel in enumerate(row):
            x = pad + place * (column + pad)
            found += panel.drawn(Frame(x - left, y + high))
            found.append(caption_within(panel.words, unit, x, y + height + 1.8 * unit, column))
    found.extend(scale_bar(pad, total_h - 1.2 * unit, bar_length(width), unit))
    return svg_close(found)


@dataclass(frozen=True, slots=True)
class _Panel:
    """A layer and what one cutter leaves of it."""

    layer: Layer
    cutter: Cutter
    left: tuple[Region, ...]

    @property
    def words(self) -> str:
        area = sum(float(region.area) for region in self.left)
        places = sum(len(polygons(region)) for region in self.left)
        said = f"{self.layer.name}: the {in_sentence(self.cutter.name)}"
        if not places:
            return f"{said} reaches everywhere"
        return f"{said} does not reach {counted(places, 'place')}, {format_area(area, 1)} in all"

    def drawn(self, frame: Frame) -> list[str]:
        def filled(region: Region, colour: str) -> str:
            data = frame.path(region_rings(region))
            return f'<path d="{data}" fill="{colour}" fill-rule="evenodd"/>'

        return [
            filled(self.layer.region, _MATERIAL),
            *(filled(region, FINDING_COLOUR) for region in self.left if not region.is_empty),
        ]


def _panels(layer: Layer, cutters: Sequence[Cutter], tolerances: Tolerances) -> list[_Panel]:
    each = [find_uncut(part, cutters, tolerances.offset_mm) for part in layer.parts]
    return [
        _Panel(layer, cutter, tuple(uncut[k].region for uncut in each))
        for k, cutter in enumerate(cutters[:_MOST_CUTTERS])
    ]
