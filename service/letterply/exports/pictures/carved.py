"""Two more views of a proof: the carved sheet as a thing, and where it differs from the parts.

Both show the height field that an independent reading of the programs carves. The *carved view*
looks down at a slope from the front, in the colour of the material, lit from the upper left; the
*difference map* tells what lies deeper than wanted from what lies higher, by colour and by words.
"""

from __future__ import annotations

import base64
import math

import numpy as np
from numpy.typing import NDArray

from letterply.exports.primitives.captions import (
    QUIET,
    bar_length,
    bar_words,
    caption,
    scale_bar,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.markup import text as escaped
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_width, wrapped
from letterply.exports.primitives.palette import FINDING_COLOUR, STYLES, rgb
from letterply.exports.primitives.raster import encode_png, reduced
from letterply.proof import SheetProof
from letterply.shapes import SAME_MM
from letterply.units import format_mm

__all__ = ["carved_svg", "carved_view", "difference_pixels", "difference_svg"]

_Heights = NDArray[np.float32]
_Pixels = NDArray[np.uint8]

_TILT_DEG = 52.0
"""How far above the horizon the eye is."""

_SUN = (-0.5, 0.55, 0.67)
"""Towards the light: from the left, from behind, above."""

_BED = (58, 54, 50)
_SHADOW = 0.7
_TOLERANCE_MM = 0.05
_MOST_MM = 0.5
"""Differences from here on have the full colour."""


def carved_view(z_mm: _Heights, cell_mm: float, thickness_mm: float, colour: str) -> _Pixels:
    """Return a height field as it looks from the front, above.

    Args:
        z_mm: (ny, nx), row 0 nearest; 0 at the face, at or below -thickness through.
        cell_mm: width of a cell.
        thickness_mm: of the stock.
        colour: of the material, `#RRGGBB`.

    Returns:
        (height, nx, 3) uint8, row 0 on top.

    """
    z = np.clip(z_mm, -thickness_mm, 0.0).astype(np.float32)
    shades = _shaded(z, z_mm <= -thickness_mm + 1e-3, cell_mm, colour)
    tilt = math.radians(_TILT_DEG)
    ny, nx = z.shape
    up = z * np.float32(math.cos(tilt) / cell_mm)
    base = thickness_mm * math.cos(tilt) / cell_mm
    height = math.ceil(ny * math.sin(tilt) + base) + 2
    out = np.empty((height, nx, 3), dtype=np.uint8)
    out[:] = _BED
    horizon = np.zeros(nx, dtype=np.int64)
    columns = np.arange(nx)
    # From the nearest row to the farthest: each shows where it rises above those before it.
    for row in range(ny):
        top = np.minimum((row * math.sin(tilt) + base + up[row]).astype(np.int64) + 1, height)
        seen = top > horizon
        while seen.any():
            at = columns[seen]
            out[horizon[at], at] = shades[row, at]
            horizon[at] += 1
            seen = top > horizon
    return out[::-1]


def _shaded(z: _Heights, through: NDArray[np.bool_], cell_mm: float, colour: str) -> _Pixels:
    padded = np.pad(z, 1, mode="edge")
    slope_x = (padded[1:-1, 2:] - padded[1:-1, :-2]) / (2 * cell_mm)
    slope_y = (padded[2:, 1:-1] - padded[:-2, 1:-1]) / (2 * cell_mm)
    x, y, up = _SUN
    facing = (up - slope_x * x - slope_y * y) / np.sqrt(slope_x**2 + slope_y**2 + 1)
    light = 0.6 + 0.5 * np.clip(facing / up, 0.0, 1.5)
    light = np.where(_in_shadow(z, cell_mm), light * _SHADOW, light)
    # Deep places see less of the sky.
    light = light * (1 + 0.25 * z / max(float(-z.min()), SAME_MM))
    base = np.where(through[..., None], np.array(_BED, float), np.array(rgb(colour), float))
    lit: _Pixels = np.clip(base * light[..., None], 0, 255).astype(np.uint8)
    return lit


def _in_shadow(z: _Heights, cell_mm: float) -> NDArray[np.bool_]:
    """Return the cells that a higher one keeps the light from, walking towards it."""
    x, y, up = _SUN
    flat = math.hypot(x, y)
    deepest = float(-z.min())
    steps = math.ceil(deepest * flat / up / cell_mm)
    shadow = np.zeros(z.shape, dtype=np.bool_)
    ny, nx = z.shape
    for step in range(1, min(steps, max(ny, nx)) + 1):
        dx, dy = round(step * x / flat), round(step * y / flat)
        rise = step * cell_mm * up / flat
        here = z[max(0, -dy) : ny - max(0, dy), max(0, -dx) : nx - max(0, dx)]
        there = z[max(0, dy) : ny - max(0, -dy), max(0, dx) : nx - max(0, -dx)]
        if not here.size:
            break
        shadow[max(0, -dy) : ny - max(0, dy), max(0, -dx) : nx - max(0, dx)] |= there > here + rise
    return shadow


def difference_pixels(carved: _Heights, wanted: _Heights) -> _Pixels:
    """Return where a carved surface differs from the wanted one, row 0 highest.

    Vermillion lies deeper than wanted, sky blue higher, the stronger the more; grey is right;
    paper is where nothing is asked.
    """
    apart = (carved - wanted)[::-1]
    free = np.isnan(apart)
    apart = np.where(free, 0.0, apart)
    share = np.clip((np.abs(apart) - _TOLERANCE_MM) / (_MOST_MM - _TOLERANCE_MM), 0.0, 1.0)
    share = np.where(np.abs(apart) > _TOLERANCE_MM, 0.35 + 0.65 * share, 0.0)[..., None]
    right, paper = np.array((205, 205, 203), float), np.array((240, 238, 232), float)
    deep, high = (np.array(rgb(c), float) for c in (FINDING_COLOUR, STYLES["drill"].colour))
    colours = np.where((apart < 0)[..., None], deep, high)
    pixels = right * (1 - share) + colours * share
    return np.where(free[..., None], paper, pixels).astype(np.uint8)


def carved_svg(proof: SheetProof, colour: str, *, size_px: int = 1600) -> str:
    """Return the carved view of a proof with its title; `colour` is that of the material."""
    field = proof.carved
    factor = max(1, math.ceil(max(field.z.shape) / size_px))
    cell = field.cell_mm * factor
    pixels = carved_view(reduced(field.z, factor), cell, proof.thickness_mm, colour)
    title = f"Sheet {proof.sheet_number}, carved"
    words = (
        "What the programs leave of the sheet, as the proof finds it, seen from the front at a "
        "slant; the scale holds for widths."
    )
    return _framed(title, words, pixels, cell, [])


def difference_svg(proof: SheetProof, *, size_px: int = 1600) -> str:
    """Return the difference map of a proof with its key."""
    carved, wanted = proof.carved, proof.wanted
    factor = max(1, math.ceil(max(carved.z.shape) / size_px))
    cells = slice(factor // 2, None, factor)
    pixels = difference_pixels(carved.z[cells, cells], wanted.z[cells, cells])
    title = f"Sheet {proof.sheet_number}, carved and wanted compared"
    asked = ~np.isnan(wanted.z)
    apart = np.abs(carved.z[asked] - wanted.z[asked]) if asked.any() else np.zeros(1)
    right = float((apart <= _TOLERANCE_MM).mean())
    words = (
        f"{100 * right:.1f} % of the surface lies within {format_mm(_TOLERANCE_MM)} of what is "
        "wanted. Walls, and corners that the cutter leaves round, show as fine lines."
    )
    key = [
        (FINDING_COLOUR, "too deep"),
        (STYLES["drill"].colour, "too high"),
        ("#CDCDCB", "as wanted"),
        ("#F0EEE8", "nothing wanted here"),
    ]
    return _framed(title, words, pixels, carved.cell_mm * factor, key)


def _framed(
    title: str, words: str, pixels: _Pixels, cell_mm: float, key: list[tuple[str, str]]
) -> str:
    width, height = pixels.shape[1] * cell_mm, pixels.shape[0] * cell_mm
    unit = max(1.3, 0.02 * math.sqrt(width * height), 0.015 * width)
    pad = 1.8 * unit
    bar = bar_length(width)
    room = bar + text_width(bar_words(bar), unit) + 0.6 * unit
    keys = sum(2.6 * unit + text_width(name, unit) for _, name in key)
    total_w = max(width, 34 * unit, keys + room) + 2 * pad
    told = wrapped(words, unit, total_w - 2 * pad)
    head = (3.6 + 1.4 * len(told)) * unit
    total_h = head + height + 3.4 * unit + 2 * pad
    found = svg_open(total_w, total_h, escaped(title), escaped(words))
    found.append(caption(title, 1.5 * unit, pad, pad + 1.2 * unit, bold=True))
    for line, said in enumerate(told):
        found.append(caption(said, unit, pad, pad + (3.1 + 1.4 * line) * unit, colour=QUIET))
    top = head + pad
    data = base64.b64encode(encode_png(np.ascontiguousarray(pixels))).decode()
    found.append(
        f'<image x="{number(pad)}" y="{number(top)}" width="{number(width)}" '
        f'height="{number(height)}" preserveAspectRatio="none" '
        f'href="data:image/png;base64,{data}"/>'
    )
    y = top + height + 2.2 * unit
    x = pad
    for colour, name in key:
        found.append(
            f'<rect x="{number(x, 2)}" y="{number(y - 0.9 * unit, 2)}" width="{number(unit, 2)}" '
            f'height="{number(unit, 2)}" fill="{colour}" stroke="{QUIET}" '
            f'stroke-width="{number(0.05 * unit, 3)}"/>'
        )
        found.append(caption(name, unit, x + 1.4 * unit, y, colour=QUIET))
        x += 2.6 * unit + text_width(name, unit)
    found.extend(scale_bar(total_w - pad - room, y, bar, unit))
    return svg_close(found)
