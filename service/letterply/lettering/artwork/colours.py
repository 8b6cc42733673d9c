"""Colours and paints of CSS: what a property's text says, as `#rrggbb` and how opaque it is."""

from __future__ import annotations

import re
from dataclasses import dataclass

from tinycss2 import color4

__all__ = ["Colour", "colour_of", "is_paint", "luminance", "read_colour"]

_OLD_SPACE = re.compile(r"\s+(?:icc-color|device-[a-z]+)\(.*\)$", re.DOTALL)
_SYSTEM = frozenset(
    {"accentcolor", "accentcolortext", "activetext", "buttonborder", "buttonface", "buttontext",
     "canvas", "canvastext", "field", "fieldtext", "graytext", "highlight", "highlighttext",
     "linktext", "mark", "marktext", "selecteditem", "selecteditemtext", "visitedtext",
     "activeborder", "activecaption", "appworkspace", "background", "buttonhighlight",
     "buttonshadow", "captiontext", "inactiveborder", "inactivecaption", "inactivecaptiontext",
     "infobackground", "infotext", "menu", "menutext", "scrollbar", "threeddarkshadow",
     "threedface", "threedhighlight", "threedlightshadow", "threedshadow", "window",
     "windowframe", "windowtext"}
)  # fmt: skip
"""Colours that the reader's system decides (CSS Color 4, 6.2 and appendix A)."""

_MOST_LETTERS = 200


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour; `text` is `#rrggbb`, empty where the reader's system decides, alpha 0 to 1."""

    text: str
    alpha: float


def read_colour(value: str) -> Colour | str | None:
    """Return the colour that a text means, the word `currentcolor`, or None for no colour.

    CSS Color 4; the profile behind a colour (SVG 1.1, 11.2) is passed over.

    >>> read_colour("rgb(255 0 0 / 50%)"), read_colour("CurrentColor"), read_colour("knot")
    (Colour(text='#ff0000', alpha=0.5), 'currentcolor', None)

    """
    value = value.strip()
    if len(value) > _MOST_LETTERS:
        return None
    value = _OLD_SPACE.sub("", value)
    if value.lower() in _SYSTEM:
        return Colour("", 1.0)
    try:
        found = color4.parse_color(value)
    except (ArithmeticError, ValueError):  # figures without end
        return None
    if found is None or isinstance(found, str):
        return None if found is None else "currentcolor"
    try:
        levels = [float(v or 0.0) for v in found.to("srgb").coordinates]
    except NotImplementedError:
        return Colour("", float(found.alpha))
    shades = [round(255 * min(max(v, 0.0), 1.0)) for v in levels]
    return Colour("#{:02x}{:02x}{:02x}".format(*shades), float(found.alpha))


def colour_of(value: str, current: str) -> Colour:
    """Return a colour, `currentcolor` looked up; black for none."""
    found = read_colour(value)
    if found == "currentcolor":
        found = read_colour(current)
    return found if isinstance(found, Colour) else Colour("#000000", 1.0)


def is_paint(value: str) -> bool:
    """Tell whether a text is a paint (SVG 2, 13.2)."""
    lower = value.lower()
    if lower in ("none", "context-fill", "context-stroke"):
        return True
    if lower.startswith("url("):
        rest = lower.partition(")")[2].strip()
        return rest in ("", "none") or read_colour(rest) is not None
    return read_colour(value) is not None


def luminance(colour: str) -> float:
    """Return how bright `#rrggbb` is in a mask, 0 to 1 (CSS Masking 1, 7.10.1)."""
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
