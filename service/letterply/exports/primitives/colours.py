"""Colours mixed for pictures, as `#RRGGBB`."""

from __future__ import annotations

from letterply.exports.primitives.palette import rgb

__all__ = ["darker", "lighter", "mixed"]


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
