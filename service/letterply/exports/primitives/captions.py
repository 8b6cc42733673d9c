"""What stands beside a picture: lines of text, swatches, a scale bar. SVG text, y down, mm."""

from __future__ import annotations

import math

from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_path, text_width, wrapped
from letterply.shapes import ROUNDING
from letterply.units import MM_PER_INCH, format_mm, spoken

__all__ = [
    "INK",
    "PAPER",
    "QUIET",
    "bar_length",
    "caption",
    "caption_lines",
    "caption_within",
    "scale_bar",
    "svg_close",
    "svg_open",
]

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


_SMALL = 0.62
"""Share of its size below which a line is broken rather than written smaller still."""


_MOST_LINES = 3


def caption_within(
    text: str,
    size_mm: float,
    x_mm: float,
    y_mm: float,
    width_mm: float,
    *,
    colour: str = INK,
    bold: bool = False,
) -> str:
    """Return a text that is not wider than `width_mm`, none of it left out.

    What is too long for a line of `size_mm` is written smaller, and in up to three lines in the
    height of one, the last on the baseline `y_mm`.
    """
    size = min(size_mm, width_mm / max(text_width(text, 1.0, bold=bold), ROUNDING))
    lines = [text]
    count = 1
    while size < _SMALL * size_mm / count and count < _MOST_LINES:
        count += 1
        size, lines = _broken(text, size_mm / count, width_mm, count, bold=bold)
    return "".join(
        caption(
            line, size, x_mm, y_mm - 1.1 * size * (len(lines) - 1 - k), colour=colour, bold=bold
        )
        for k, line in enumerate(lines)
    )


def _broken(
    text: str, size_mm: float, width_mm: float, count: int, *, bold: bool
) -> tuple[float, list[str]]:
    """Return the largest size, not above `size_mm`, at which a text takes so many lines."""
    while True:
        lines = wrapped(text, size_mm, width_mm, bold=bold)
        if len(lines) <= count:
            return size_mm, lines
        size_mm *= 0.95


_LEADING = 1.35


def caption_lines(
    text: str, size_mm: float, x_mm: float, y_mm: float, width_mm: float, *, colour: str = INK
) -> tuple[list[str], float]:
    """Return a text in as many lines as it takes, the first on `y_mm`, and the height of all."""
    lines = wrapped(text, size_mm, width_mm)
    step = _LEADING * size_mm
    found = [caption(t, size_mm, x_mm, y_mm + k * step, colour=colour) for k, t in enumerate(lines)]
    return found, step * len(lines)


def bar_length(width_mm: float) -> float:
    """Return a round length between an eighth and a third of a width, mm.

    >>> bar_length(310), bar_length(80), bar_length(1220)
    (100.0, 20.0, 200.0)
    >>> from letterply.units import speaking
    >>> with speaking("inch"):
    ...     [bar_words(bar_length(w)) for w in (310, 80, 20)]
    ['2 in', '1 in', '1/4 in']

    """
    longest = width_mm / 3
    if spoken() == "inch":
        # On a rule: halves of an inch and smaller; whole inches by their usual steps.
        small = [math.ldexp(MM_PER_INCH, -k) for k in range(1, 7)]
        if longest < MM_PER_INCH:
            return next((s for s in small if s <= longest), small[-1])
        return MM_PER_INCH * _round_length(longest / MM_PER_INCH)
    return _round_length(longest)


def _round_length(longest: float) -> float:
    power: float = 10.0 ** math.floor(math.log10(max(longest, 1e-3)))
    return power * max(step for step in (1, 2, 5) if step * power <= longest)


def bar_words(length_mm: float) -> str:
    """Return what stands beside a scale bar."""
    return format_mm(length_mm)


def scale_bar(x_mm: float, y_mm: float, length_mm: float, size_mm: float) -> list[str]:
    """Return a scale bar on the line `y_mm` with its length beside it."""
    tick = size_mm * 0.35
    half = length_mm / 2
    x, y = x_mm, y_mm - size_mm * 0.3
    n = number
    label = bar_words(length_mm)
    return [
        f'<path d="M{n(x, 2)} {n(y - tick, 2)}V{n(y + tick, 2)}M{n(x + half, 2)} '
        f"{n(y - tick * 0.6, 2)}V{n(y + tick * 0.6, 2)}M{n(x + length_mm, 2)} {n(y - tick, 2)}"
        f'V{n(y + tick, 2)}M{n(x, 2)} {n(y, 2)}H{n(x + length_mm, 2)}" fill="none" '
        f'stroke="{INK}" stroke-width="{n(size_mm * 0.09, 3)}"/>',
        caption(label, size_mm, x + length_mm + size_mm * 0.6, y_mm),
    ]
