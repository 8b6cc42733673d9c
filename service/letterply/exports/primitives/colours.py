"""Colours mixed for pictures, as `#RRGGBB`."""

from __future__ import annotations

from letterply.exports.primitives.palette import rgb

__all__ = ["darker", "ink_on", "lighter", "mixed"]


def mixed(one: str, other: str, share: float) -> str:
    """Return `share` of `other` mixed into `one`.

    >>> mixed("#000000", "#FFFFFF", 0.2)
    '#333333'

    """
    pairs = zip(rgb(one), rgb(other), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * share):02X}" for a, b in pairs)


def darker(colour: str, share: float) -> str:
    """Return the colour with `share` of black."""
    return mixed(colour, "#000000", share)


def lighter(colour: str, share: float) -> str:
    """Return the colour with `share` of white."""
    return mixed(colour, "#FFFFFF", share)


def ink_on(colour: str) -> str:
    """Return black or white, whichever is read better on a colour.

    Relative luminance as WCAG 2.1 defines it; black wins where its contrast is the greater.
    """
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (v / 255 for v in rgb(colour))
    ]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return "#000000" if (luminance + 0.05) / 0.05 >= 1.05 / (luminance + 0.05) else "#FFFFFF"
