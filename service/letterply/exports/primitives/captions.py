"""What stands beside a picture: lines of text, swatches, a scale bar. SVG text, y down, mm."""

from __future__ import annotations

import math

from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_path

__all__ = ["INK", "PAPER", "QUIET", "bar_length", "caption", "scale_bar", "svg_close", "svg_open"]

INK = "#2B2B2B"
QUIET = "#6B6B6B"
PAPER = "#F6F4EF"


def svg_open(width_mm: float, height_mm: float, title: str, description: str) -> list[str]:
    """Return the start of a picture in real size; `title` and `description` are escaped.

    The size is rounded up to whole millimetres: renderers that count in whole pixels would
    otherwise stretch it.
    """
    w, h = str(math.ceil(width_mm)), str(math.ceil(height_mm))
    return [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}" role="img" aria-labelledby="title description">',
        f'<title id="title">{title}</title>',
        f'<desc id="description">{description}</desc>',
        f'<rect width="{w}" height="{h}" fill="{PAPER}"/>',
    ]


def svg_close(lines: list[str]) -> str:
    """Return the whole picture."""
    return "\n".join([*lines, "</svg>\n"])


def caption(
    text: str,
    size_mm: float,
    x_mm: float,
    y_mm: float,
    *,
    colour: str = INK,
    anchor: str = "start",
    bold: bool = False,
) -> str:
    """Return a line of text, drawn as outlines, on the baseline `y_mm`."""
    data = text_path(text, size_mm, x_mm=x_mm, y_mm=y_mm, anchor=anchor, bold=bold)
    return f'<path d="{data}" fill="{colour}"/>'


def bar_length(width_mm: float) -> float:
    """Return a round length between an eighth and a third of a width, mm.

    >>> bar_length(310), bar_length(80), bar_length(1220)
    (100.0, 20.0, 200.0)

    """
    power = 10.0 ** math.floor(math.log10(max(width_mm, 1e-3) / 3))
    return max(step * power for step in (1, 2, 5) if step * power <= width_mm / 3)


def scale_bar(x_mm: float, y_mm: float, length_mm: float, size_mm: float) -> list[str]:
    """Return a scale bar on the line `y_mm` with its length beside it."""
    tick = size_mm * 0.35
    half = length_mm / 2
    x, y = x_mm, y_mm - size_mm * 0.3
    n = number
    label = f"{number(length_mm)} mm"
    return [
        f'<path d="M{n(x, 2)} {n(y - tick, 2)}V{n(y + tick, 2)}M{n(x + half, 2)} '
        f"{n(y - tick * 0.6, 2)}V{n(y + tick * 0.6, 2)}M{n(x + length_mm, 2)} {n(y - tick, 2)}"
        f'V{n(y + tick, 2)}M{n(x, 2)} {n(y, 2)}H{n(x + length_mm, 2)}" fill="none" '
        f'stroke="{INK}" stroke-width="{n(size_mm * 0.09, 3)}"/>',
        caption(label, size_mm, x + length_mm + size_mm * 0.6, y_mm),
    ]
