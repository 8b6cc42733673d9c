"""Properties of CSS that drawings use: which are inherited, and which values they may have.

A declaration whose value is not valid is ignored, as if it were not there (CSS Syntax 3, 9; SVG 2,
6.6 for presentation attributes). Names and values are those of SVG 2 and of the CSS modules that
it names. `GEOMETRY` are the properties that SVG 2 (8.4, 10.1) lets style sheets set; as attributes
they are read where they are used.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from letterply.lettering.artwork.colours import is_paint, read_colour
from letterply.lettering.artwork.values import length

__all__ = ["GEOMETRY", "INHERITED", "KNOWN", "UNDONE", "url_of", "valid"]

_URL = re.compile(
    r"""url\(\s*(?:"([^"]*)"|'([^']*)'|([^'"()\s]*))\s*\)\s*(.*)""", re.IGNORECASE | re.DOTALL
)

_MOST_LETTERS = 2000

Check = Callable[[str], bool]


def url_of(value: str) -> tuple[str, str] | None:
    """Return the address in `url(...)` and what stands behind it; None for anything else.

    >>> url_of("url( '#a' ) none"), url_of("none")
    (('#a', 'none'), None)

    """
    value = value.strip()
    match = _URL.fullmatch(value) if len(value) <= _MOST_LETTERS else None
    if match is None:
        return None
    return (match[1] or match[2] or match[3] or "").strip(), match[4].strip()


def _any(_: str) -> bool:
    return True


def _one_of(*words: str) -> Check:
    known = frozenset(words)
    return lambda value: value.lower() in known


def _number(value: str) -> bool:
    return length(value, 1.0) is not None


def _bare(value: str) -> float | None:
    """Return a number without a unit, None for anything else."""
    return length(value, 1.0) if value[-1:].isdigit() or value.endswith(".") else None


def _width(value: str) -> bool:
    found = length(value, 1.0)
    return found is not None and found >= 0


def _miter(value: str) -> bool:
    found = _bare(value)
    return found is not None and found >= 1


def _opacity(value: str) -> bool:
    return _number(value) and (value.endswith("%") or _bare(value) is not None)


def _dashes(value: str) -> bool:
    return value.lower() == "none" or all(_width(t) for t in value.replace(",", " ").split())


def _reference(value: str) -> bool:
    return value.lower() == "none" or (url_of(value) or ("", "x"))[1] == ""


_PAINT_ORDER = frozenset({"fill", "stroke", "markers"})


def _paint_order(value: str) -> bool:
    words = value.lower().split()
    return words == ["normal"] or (len(set(words)) == len(words) and set(words) <= _PAINT_ORDER)


_SIZES = _one_of("xx-small", "x-small", "small", "medium", "large", "x-large", "xx-large",
                 "smaller", "larger")  # fmt: skip
_INHERITED: dict[str, Check] = {
    "fill": is_paint,
    "fill-rule": _one_of("nonzero", "evenodd"),
    "fill-opacity": _opacity,
    "stroke": is_paint,
    "stroke-width": _width,
    "stroke-linecap": _one_of("butt", "round", "square"),
    "stroke-linejoin": _one_of("miter", "round", "bevel", "miter-clip", "arcs"),
    "stroke-miterlimit": _miter,
    "stroke-dasharray": _dashes,
    "stroke-dashoffset": _number,
    "stroke-opacity": _opacity,
    "visibility": _one_of("visible", "hidden", "collapse"),
    "clip-rule": _one_of("nonzero", "evenodd"),
    "color": lambda value: read_colour(value) is not None,
    "font-size": lambda value: _SIZES(value) or _width(value),
    "paint-order": _paint_order,
    "marker": _reference,
    "marker-start": _reference,
    "marker-mid": _reference,
    "marker-end": _reference,
    "text-anchor": _one_of("start", "middle", "end"),
} | dict.fromkeys(
    ("letter-spacing", "word-spacing", "writing-mode", "direction", "text-transform",
     "font-variant", "font-feature-settings", "white-space", "text-orientation"), _any,
)  # fmt: skip
_OWN: dict[str, Check] = {
    "opacity": _opacity,
    "overflow": _one_of("visible", "hidden", "scroll", "auto", "clip"),
    "vector-effect": _any,
    "mask-type": _one_of("luminance", "alpha"),
    "transform-box": _one_of("content-box", "border-box", "fill-box", "stroke-box", "view-box"),
    "stop-color": lambda value: read_colour(value) is not None,
    "stop-opacity": _opacity,
} | dict.fromkeys(
    ("display", "clip-path", "mask", "filter", "transform", "transform-origin", "baseline-shift",
     "dominant-baseline", "alignment-baseline", "text-decoration", "text-decoration-line"), _any,
)  # fmt: skip
_GEOMETRY: dict[str, Check] = (
    dict.fromkeys(("x", "y", "cx", "cy"), _number)
    | dict.fromkeys(("width", "height", "rx", "ry"), lambda v: v.lower() == "auto" or _width(v))
    | {"r": _width, "d": lambda v: v.lower() == "none" or v.lower().startswith("path(")}
)
GEOMETRY = frozenset(_GEOMETRY)
INHERITED = frozenset(_INHERITED)
KNOWN = INHERITED | frozenset(_OWN)
_CHECKS = _INHERITED | _OWN | _GEOMETRY

UNDONE = frozenset(
    {"translate", "rotate", "scale", "offset", "offset-path", "clip", "zoom", "all",
     "animation", "animation-name", "mask-image", "mask-mode", "mask-composite", "mask-clip",
     "mask-origin", "mask-size", "mask-position", "mask-repeat", "mask-border", "perspective",
     "shape-inside", "inline-size", "shape-subtract", "stroke-dashadjust", "stroke-alignment",
     "content-visibility", "backface-visibility"}
)  # fmt: skip
"""Properties that may change what is painted, and are not taken on: they are noted."""


def valid(name: str, value: str) -> bool:
    """Tell whether a property of `KNOWN` or `GEOMETRY` may have a value."""
    return _CHECKS[name](value)
