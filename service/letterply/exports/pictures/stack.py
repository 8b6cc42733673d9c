"""A stack as its maker or customer will see it: assembled, or with its layers apart.

The pictures are in real size, one unit a millimetre, with a scale bar. All text is outlines.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import resvg_py
from numpy.typing import NDArray

from letterply.catalogue import Catalogue, Material
from letterply.exports.cutfiles.drawing import region_rings
from letterply.exports.pictures.relief import layer_relief, layer_shadow
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
from letterply.exports.primitives.colours import darker
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_width
from letterply.exports.primitives.views import FRONT, TILTED, Frame, View
from letterply.stacks import Layer, Stack
from letterply.units import counted, format_mm, format_sides

__all__ = ["png", "png_within", "stack_picture"]

_MAX_PX = 8000
_VIEW_BOX = re.compile(r'<svg [^>]*?viewBox="0 0 ([0-9.]+) ([0-9.]+)"', re.DOTALL)

_MM_PER_INCH = 25.4
_GAP_SHARE = 0.62
"""Gap between layers that float apart, as a share of the height that a face takes up."""

Box = tuple[float, float, float, float]


def png(svg: str, width_px: int) -> bytes:
    """Return a picture as PNG, `width_px` wide; no font of the machine is looked at.

    Raises:
        ValueError: for a width below 1 or above 8000, or text that is no SVG.

    """
    if not 1 <= width_px <= _MAX_PX:
        raise ValueError(f"a picture is 1 to {_MAX_PX} pixels wide, not {width_px}")
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg, width=width_px, dpi=_MM_PER_INCH, skip_system_fonts=True
        )
    )


def png_within(svg: str, longer_px: int) -> bytes:
    """Return a picture of ours as PNG whose longer side is `longer_px`.

    Raises:
        ValueError: for a picture whose root has no view box from 0 0, or as `png`.

    """
    root = _VIEW_BOX.search(svg)
    if root is None:
        raise ValueError("a picture without a view box has no proportions")
    width, height = float(root[1]), float(root[2])
    return png(svg, max(1, round(longer_px * min(1.0, width / height))))


def stack_picture(stack: Stack, catalogue: Catalogue, *, exploded: bool) -> str:
    """Return a picture of a stack as SVG.

    Args:
        stack: what is shown; it has at least one part.
        catalogue: colours and names of its materials.
        exploded: True for layers that float over one another, each with its name.

    Raises:
        UnknownName: for a material that the catalogue does not hold.

    """
    materials = {la.name: catalogue.material(la.material) for la in stack.layers}
    stack = replace(stack, layers=tuple(_from_front(la) for la in stack.layers))
    return _exploded(stack, materials) if exploded else _assembled(stack, materials)


_FROM_FRONT = "seen from the front"
_AT_A_SLANT = "seen from the side at a slant, layers apart; the scale holds for widths"


def _from_front(layer: Layer) -> Layer:
    """Return a layer as its face shows it: what is worked into its back is not seen."""
    if not layer.from_back:
        return layer
    parts = tuple(
        replace(
            part,
            holes=tuple(h for h in part.holes if h.depth_mm is None),
            pockets=(),
            grooves=(),
            scribes=(),
        )
        for part in layer.parts
    )
    return replace(layer, parts=parts)


def _assembled(stack: Stack, materials: dict[str, Material]) -> str:
    box = _seen(stack.layers, FRONT, {la.name: 0.0 for la in stack.layers})
    unit = _unit(box)
    shadow = 0.6 * max(la.stands_mm for la in stack.layers)
    pad = 2.2 * unit + shadow
    head = 2.6 * unit if stack.title else 0.0
    foot = (1.9 * len(stack.layers) + 2.6) * unit
    lines_wide = [text_width(_words(la, materials), unit) + 2.2 * unit for la in stack.layers]
    wide = max(box[2] - box[0], 14 * unit, *lines_wide)
    width, height = wide + 2 * pad, box[3] - box[1] + 2 * pad + head + foot
    inset = (wide - (box[2] - box[0])) / 2
    frame = Frame(pad - box[0] + inset, pad + head + box[3])
    says = f"{_says(stack, materials)} S{_FROM_FRONT[1:]}."
    found = svg_open(width, height, escaped(stack.title), escaped(says))
    if stack.title:
        at = pad * 0.6 + 1.7 * unit
        found.append(caption_within(stack.title, 1.7 * unit, pad, at, wide, bold=True))
    below = 0.0
    for place, layer in enumerate(sorted(stack.layers, key=lambda la: la.z_mm)):
        prefix = f"l{place}"
        found.extend(layer_shadow(layer, FRONT, frame, max(layer.z_mm, below), prefix))
        found.extend(layer_relief(layer, materials[layer.name], FRONT, frame, below, prefix))
        below = max(below, layer.z_mm + layer.stands_mm)
    y = height - foot - pad * 0.4
    found.extend(_legend(stack, materials, pad, y, unit))
    y += (1.9 * len(stack.layers) + 2.0) * unit
    bar = scale_bar(pad, y, bar_length(box[2] - box[0]), unit)
    found.extend(bar)
    left, low, right, high = stack.bounds
    sides = format_sides(right - left, high - low, times="×")
    size = f"{sides}, {format_mm(stack.height_mm)} thick"
    found.append(caption(size, unit, width - pad, y, anchor="end"))
    found.append(caption(_FROM_FRONT, 0.8 * unit, pad, y + 1.5 * unit, colour=QUIET))
    return svg_close(found)


def _exploded(stack: Stack, materials: dict[str, Material]) -> str:
    layers = sorted(stack.layers, key=lambda la: la.z_mm)
    left, low, right, high = stack.bounds
    rise = (high - low) * TILTED.y_axis[1]
    lifts: dict[str, float] = {}
    lift = 0.0
    for layer in layers:
        lifts[layer.name] = lift - layer.z_mm
        lift += layer.stands_mm + (_GAP_SHARE * rise + 10) / TILTED.up[1]
    box = _seen(stack.layers, TILTED, lifts)
    unit = _unit(box)
    pad = 2.5 * unit
    head = 2.6 * unit if stack.title else 0.0
    names = [_label(layer, materials) for layer in layers]
    side = max(max(text_width(a, unit, bold=True), text_width(b, unit)) for a, b in names)
    side += 3 * unit
    width = box[2] - box[0] + 2 * pad + side
    height = box[3] - box[1] + 2 * pad + head + 2 * unit
    frame = Frame(pad - box[0], pad + head + box[3])
    says = f"{_says(stack, materials)} S{_AT_A_SLANT[1:]}."
    found = svg_open(width, height, escaped(stack.title), escaped(says))
    if stack.title:
        at = pad * 0.6 + 1.7 * unit
        found.append(caption_within(stack.title, 1.7 * unit, pad, at, width - 2 * pad, bold=True))
    for place, layer in enumerate(layers):
        floating = _lifted(layer, lifts[layer.name])
        prefix = f"l{place}"
        if not place:
            found.extend(layer_shadow(floating, TILTED, frame, floating.z_mm, prefix))
        found.extend(layer_relief(floating, materials[layer.name], TILTED, frame, 0.0, prefix))
        if not place and len(layers) > 1:
            found.append(_guides(layers, lifts, frame))
        name, facts = _label(layer, materials)
        outer = np.vstack(region_rings(layer.region))
        seen = TILTED.project(outer, floating.z_mm + layer.stands_mm)
        tip = seen[int(seen[:, 0].argmax())]
        y = frame.top_mm - float(tip[1])
        x0 = frame.left_mm + float(tip[0]) + 0.6 * unit
        x1 = width - pad - side + 2.6 * unit
        found.append(
            f'<path d="M{number(x0, 2)} {number(y, 2)}H{number(x1 - 0.6 * unit, 2)}" '
            f'stroke="{QUIET}" stroke-width="{number(unit * 0.07, 3)}" fill="none"/>'
        )
        found.append(caption(name, unit, x1, y, bold=True))
        found.append(caption(facts, unit, x1, y + 1.35 * unit, colour=QUIET))
    bar = scale_bar(pad, height - pad * 0.7, bar_length(right - left), unit)
    found.extend(bar)
    said = pad, height - pad * 0.7 + 1.5 * unit
    found.append(caption(_AT_A_SLANT, 0.8 * unit, *said, colour=QUIET))
    return svg_close(found)


def _guides(layers: list[Layer], lifts: dict[str, float], frame: Frame) -> str:
    """Return dashed lines from the outermost points of the highest layer to the lowest one."""
    ends = [la.z_mm + lifts[la.name] for la in (layers[0], layers[-1])]
    ends[0] += layers[0].stands_mm
    points = np.vstack(region_rings(layers[-1].region))
    picked = points[[int(points[:, 0].argmin()), int(points[:, 0].argmax())]]
    lines = [
        np.vstack((low, high))
        for low, high in zip(*(TILTED.project(picked, z) for z in ends), strict=True)
    ]
    return (
        f'<path d="{frame.path((), lines)}" fill="none" stroke="{QUIET}" stroke-width="0.3" '
        'stroke-dasharray="1.8 1.4"/>'
    )


def _lifted(layer: Layer, lift_mm: float) -> Layer:
    return replace(layer, z_mm=layer.z_mm + lift_mm)


def _seen(layers: tuple[Layer, ...], view: View, lifts: dict[str, float]) -> Box:
    """Return the box, y up, that holds all faces and undersides in the picture."""
    points: list[NDArray[np.float64]] = []
    for layer in layers:
        z = layer.z_mm + lifts[layer.name]
        for ring in region_rings(layer.region):
            points.append(view.project(ring, z))
            points.append(view.project(ring, z + layer.stands_mm))
    every = np.vstack(points)
    low, high = every.min(axis=0), every.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _unit(box: Box) -> float:
    """Return the size of text that is read easily beside a picture of this size, mm."""
    width, height = box[2] - box[0], box[3] - box[1]
    return max(1.2, 0.03 * math.sqrt(width * height), 0.02 * width)


def _legend(
    stack: Stack, materials: dict[str, Material], x: float, y: float, unit: float
) -> list[str]:
    """Return a line a layer, top layer first."""
    found = []
    for layer in sorted(stack.layers, key=lambda la: -la.z_mm):
        colour = materials[layer.name].colour
        y += 1.9 * unit
        found.append(
            f'<rect x="{number(x, 2)}" y="{number(y - unit, 2)}" width="{number(1.3 * unit, 2)}" '
            f'height="{number(1.2 * unit, 2)}" rx="{number(0.15 * unit, 2)}" fill="{colour}" '
            f'stroke="{darker(colour, 0.4)}" stroke-width="{number(unit * 0.06, 3)}"/>'
        )
        found.append(caption(_words(layer, materials), unit, x + 2.0 * unit, y, colour=INK))
    return found


def _words(layer: Layer, materials: dict[str, Material]) -> str:
    name, facts = _label(layer, materials)
    return f"{name}: {facts}"


def _label(layer: Layer, materials: dict[str, Material]) -> tuple[str, str]:
    material = materials[layer.name]
    return layer.name, f"{material.name}, {layer.thickness_words}"


def _says(stack: Stack, materials: dict[str, Material]) -> str:
    layers = "; ".join(_words(la, materials) for la in stack.layers)
    return f"{counted(len(stack.layers), 'layer')}, bottom first: {layers}."
