"""Transforms as style sheets write them, and the point about which an element is turned.

CSS Transforms 1: functions with units (sections 8 and 9) and `transform-origin` (5). Attributes
have a grammar of their own, read in `values`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from letterply.lettering.artwork.model import IDENTITY, Matrix, compose

__all__ = ["angle", "css_transform", "origin_of"]

Length = Callable[[str, str], float | None]
"""Reads a text as a length: along `x` or along `y`."""

_CALL = re.compile(r"\s*([a-zA-Z]+)\(([^()]*)\)")
_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)(deg|grad|rad|turn|%)?", re.I)
_TURNS = {"deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}
_MAX_CALLS = 200
_MAX = 1e9


def angle(text: str) -> float | None:
    """Return an angle in degrees; a bare number is degrees.

    >>> angle("0.25turn"), angle("100grad"), angle("up")
    (90.0, 90.0, None)

    """
    match = _NUMBER.fullmatch(text.strip())
    if match is None or match[2] == "%" or len(match[1]) > 30:
        return None
    return float(match[1]) * _TURNS[(match[2] or "deg").lower()]


def css_transform(text: str, read: Length) -> Matrix | None:
    """Return the matrix of a transform of CSS; None for one that is not plane, or no transform."""
    found = IDENTITY
    text = text.strip()
    if text.lower() in ("none", ""):
        return found
    at = 0
    for _ in range(_MAX_CALLS):
        if at == len(text):
            break
        call = _CALL.match(text, at)
        one = None if call is None else _one(call[1].lower(), _arguments(call[2]), read)
        if call is None or one is None:
            return None
        found = compose(found, one)
        at = call.end()
    else:
        return None
    return found if all(math.isfinite(v) and abs(v) <= _MAX for v in found) else None


def _arguments(text: str) -> list[str]:
    return [part.strip() for part in text.split(",")]


def _number(text: str) -> float | None:
    match = _NUMBER.fullmatch(text)
    if match is None or match[2] not in (None, "%") or len(match[1]) > 30:
        return None
    return float(match[1]) / (100 if match[2] else 1)


def _shift(texts: list[str], read: Length) -> Matrix | None:
    x, y = read(texts[0], "x"), read(texts[1], "y")
    return None if x is None or y is None else (1.0, 0.0, 0.0, 1.0, x, y)


def _one(name: str, texts: list[str], read: Length) -> Matrix | None:
    match name, texts:
        case "translate", [_, _]:
            return _shift(texts, read)
        case (("translate" | "translatex"), [x]):
            return _shift([x, "0"], read)
        case "translatey", [y]:
            return _shift(["0", y], read)
        case (("rotate" | "skewx" | "skewy" | "skew"), [*_]):
            angles = [angle(t) for t in texts]
            found = [math.radians(a) for a in angles if a is not None]
            return _turned(name, found) if len(found) == len(texts) else None
        case (("scale" | "scalex" | "scaley" | "matrix"), [*_]):
            numbers = [_number(t) for t in texts]
            given = [n for n in numbers if n is not None]
            return _scaled(name, given) if len(given) == len(texts) else None
    return None


def _turned(name: str, angles: list[float]) -> Matrix | None:
    match name, angles:
        case "rotate", [turn]:
            cos, sin = math.cos(turn), math.sin(turn)
            return (cos, sin, -sin, cos, 0.0, 0.0)
        case (("skewx" | "skew"), [x]):
            return (1.0, 0.0, math.tan(x), 1.0, 0.0, 0.0)
        case "skewy", [y]:
            return (1.0, math.tan(y), 0.0, 1.0, 0.0, 0.0)
        case "skew", [x, y]:
            return (1.0, math.tan(y), math.tan(x), 1.0, 0.0, 0.0)
    return None


def _scaled(name: str, values: list[float]) -> Matrix | None:
    match name, values:
        case "scale", [s]:
            return (s, 0.0, 0.0, s, 0.0, 0.0)
        case "scale", [x, y]:
            return (x, 0.0, 0.0, y, 0.0, 0.0)
        case "scalex", [x]:
            return (x, 0.0, 0.0, 1.0, 0.0, 0.0)
        case "scaley", [y]:
            return (1.0, 0.0, 0.0, y, 0.0, 0.0)
        case "matrix", [a, b, c, d, e, f]:
            return (a, b, c, d, e, f)
    return None


_SIDES = {"left": ("x", "0%"), "right": ("x", "100%"), "top": ("y", "0%"), "bottom": ("y", "100%")}


def origin_of(text: str, read: Length) -> tuple[float, float] | None:
    """Return the point of `transform-origin` in user units; None for what it cannot be.

    The box is that of the viewport, its corner at the origin (CSS Transforms 1, `view-box`).
    """
    words = text.lower().split()
    if not 1 <= len(words) <= 3:
        return None
    words = words[:2]
    if len(words) == 1:
        words.append("center")
    if words[0] in ("top", "bottom") or words[1] in ("left", "right"):
        words.reverse()
    found: list[float] = []
    for word, way in zip(words, ("x", "y"), strict=True):
        side, share = _SIDES.get(word, (way, word))
        value = read("50%" if word == "center" else share, way)
        if value is None or side != way:
            return None
        found.append(value)
    return found[0], found[1]
