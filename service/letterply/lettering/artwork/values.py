"""Values of SVG attributes: numbers, lengths, transforms, boxes. Text in, pixels out.

A value that makes no sense is None: what happens then differs from attribute to attribute.
"""

from __future__ import annotations

import math
import re

from letterply.lettering.artwork.model import IDENTITY, Matrix, compose

__all__ = [
    "NUMBER",
    "length",
    "numbers",
    "skip_gap",
    "skip_space",
    "transform",
    "view_box",
    "view_matrix",
]

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
NUMBER = re.compile(_NUMBER)
"""A number of SVG. Lists are read one by one: no pattern for a whole list, which could be read in
so many ways that it never ends."""

_SPACE = " \t\n\r\f"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*([a-zA-Z%]*)\s*")
_CALL = re.compile(r"\s*,?\s*([a-zA-Z]+)\s*\(([^()]*)\)")
_UNITS = {
    "": 1.0, "px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6,
    "pt": 96 / 72, "pc": 16.0,
}  # fmt: skip
"""Pixels a unit (CSS Values and Units, absolute lengths)."""

_MAX_CALLS = 200
"""Steps of a transform."""

_MAX = 1e9
"""Figures beyond are taken for mistakes: no drawing is that large."""


def _finite(text: str) -> float | None:
    value = float(text)
    return value if math.isfinite(value) and abs(value) <= _MAX else None


def skip_gap(text: str, at: int) -> int:
    """Return the place behind white space with at most one comma in it."""
    comma = False
    while at < len(text) and (text[at] in _SPACE or (text[at] == "," and not comma)):
        comma = comma or text[at] == ","
        at += 1
    return at


def skip_space(text: str, at: int) -> int:
    """Return the place behind white space."""
    while at < len(text) and text[at] in _SPACE:
        at += 1
    return at


def numbers(text: str) -> list[float] | None:
    """Return a list of numbers, separated by white space or commas; None for anything else.

    >>> numbers("1,2 -3.5e1"), numbers("1 two")
    ([1.0, 2.0, -35.0], None)

    """
    found: list[float] = []
    text = text.strip()
    at = 0
    while at < len(text):
        match = NUMBER.match(text, at)
        value = _finite(match[0]) if match is not None else None
        if match is None or value is None:
            return None
        found.append(value)
        at = skip_gap(text, match.end())
    return found


def length(
    text: str | None, whole: float, font_size: float = 16.0, root_size: float = 16.0
) -> float | None:
    """Return a length in pixels (user units); `whole` is what 100 % stands for.

    `font_size` is what em means, `root_size` what rem means.

    >>> length("1in", 0), length("50%", 80), length("2em", 0, 10), length("12 apples", 0)
    (96.0, 40.0, 20.0, None)

    """
    match = _LENGTH.fullmatch(text or "")
    if match is None:
        return None
    value = _finite(match[1])
    unit = match[2].lower()
    if value is None:
        return None
    if unit == "%":
        return value * whole / 100
    if unit == "em":
        return value * font_size
    if unit == "rem":
        return value * root_size
    if unit in ("ex", "ch"):
        return value * font_size / 2
    return value * _UNITS[unit] if unit in _UNITS else None


def transform(text: str) -> Matrix | None:
    """Return the matrix of a transform list; None for one that breaks the grammar.

    >>> transform("translate(10 20) scale(2)")
    (2.0, 0.0, 0.0, 2.0, 10.0, 20.0)

    """
    found = IDENTITY
    at = 0
    text = text.strip()
    for _ in range(_MAX_CALLS):
        if at == len(text):
            break
        call = _CALL.match(text, at)
        if call is None:
            return None
        one = _one_transform(call[1], numbers(call[2].strip()))
        if one is None:
            return None
        found = compose(found, one)
        at = call.end()
    else:
        return None
    return found if all(math.isfinite(v) and abs(v) <= _MAX for v in found) else None


def _one_transform(name: str, values: list[float] | None) -> Matrix | None:
    match (name, values):
        case ("matrix", [a, b, c, d, e, f]):
            return (a, b, c, d, e, f)
        case ("translate", [x]):
            return (1.0, 0.0, 0.0, 1.0, x, 0.0)
        case ("translate", [x, y]):
            return (1.0, 0.0, 0.0, 1.0, x, y)
        case ("scale", [s]):
            return (s, 0.0, 0.0, s, 0.0, 0.0)
        case ("scale", [x, y]):
            return (x, 0.0, 0.0, y, 0.0, 0.0)
        case ("rotate", [turn]):
            cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            return (cos, sin, -sin, cos, 0.0, 0.0)
        case ("rotate", [turn, x, y]):
            cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            there: Matrix = (1.0, 0.0, 0.0, 1.0, x, y)
            back: Matrix = (1.0, 0.0, 0.0, 1.0, -x, -y)
            return compose(compose(there, (cos, sin, -sin, cos, 0.0, 0.0)), back)
        case ("skewX", [angle]):
            return (1.0, 0.0, math.tan(math.radians(angle)), 1.0, 0.0, 0.0)
        case ("skewY", [angle]):
            return (1.0, math.tan(math.radians(angle)), 0.0, 1.0, 0.0, 0.0)
    return None


def view_box(text: str | None) -> tuple[float, float, float, float] | None:
    """Return a viewBox as x, y, width, height; None for none, or one that makes no sense."""
    values = numbers(text.strip()) if text else None
    if values is None or len(values) != 4 or values[2] < 0 or values[3] < 0:
        return None
    return values[0], values[1], values[2], values[3]


_ALIGN = re.compile(r"(none|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


def view_matrix(
    box: tuple[float, float, float, float], width: float, height: float, aspect: str
) -> Matrix:
    """Return what takes a viewBox into a viewport of `width` by `height` at the origin.

    SVG 2, section 8.2 (equivalent transform of an SVG viewport). Both sides of the box are above
    0; `aspect` is the attribute preserveAspectRatio, which falls back to `xMidYMid meet`.

    >>> view_matrix((11, 13, 3, 2), 21, 10, "xMaxYMax slice")
    (7.0, 0.0, 0.0, 7.0, -77.0, -95.0)

    """
    x, y, w, h = box
    said = _ALIGN.fullmatch(aspect.strip())
    scale_x, scale_y = width / w, height / h
    share_x = share_y = 0.5
    if said is None or said[1] != "none":
        slices = said is not None and said[4] == "slice"
        scale_x = scale_y = max(scale_x, scale_y) if slices else min(scale_x, scale_y)
        if said is not None:
            share_x, share_y = _SHARE[said[2]], _SHARE[said[3]]
    left = -x * scale_x + (width - w * scale_x) * share_x
    top = -y * scale_y + (height - h * scale_y) * share_y
    return (scale_x, 0.0, 0.0, scale_y, left, top)
