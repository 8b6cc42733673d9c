"""Colours and dashes of operations: told apart by both, so never by colour alone.

The colours are those of Okabe and Ito, Color Universal Design (2002, revised 2008), which people
with any of the common colour vision deficiencies can tell apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = ["FINDING_COLOUR", "REFERENCE", "STYLES", "Style", "rgb"]

FINDING_COLOUR = "#D55E00"
"""Vermillion."""

REFERENCE = "reference"
"""Key of what is drawn for orientation and never cut."""


@dataclass(frozen=True, slots=True)
class Style:
    """How an operation is drawn.

    Attributes:
        key: name of the operation.
        colour: sRGB, `#RRGGBB`.
        dash_mm: lengths of dash and gap in turn; empty for a full line.
        label: for legends.
        layer: name of its layer in a DXF file.

    """

    key: str
    colour: str
    dash_mm: tuple[float, ...]
    label: str
    layer: str


STYLES: Mapping[str, Style] = MappingProxyType(
    {
        style.key: style
        for style in (
            Style(REFERENCE, "#999999", (1.0, 1.0), "not cut, for orientation", "REFERENCE"),
            Style("scribe", "#CC79A7", (0.6, 0.6), "scribed line", "SCRIBE"),
            Style("groove", "#009E73", (4.0, 0.8, 0.8, 0.8), "V groove", "GROOVE"),
            Style("pocket", "#E69F00", (3.0, 1.0), "pocket", "POCKET"),
            Style("drill", "#56B4E9", (1.5, 0.5), "drilled hole", "DRILL"),
            Style("profile", "#0072B2", (), "cut through", "PROFILE"),
        )
    }
)
"""Operation -> style, in the order in which they are drawn and, reference apart, cut."""


def rgb(colour: str) -> tuple[int, int, int]:
    """Return red, green and blue, 0 to 255, of `#RRGGBB`.

    >>> rgb("#0072B2")
    (0, 114, 178)

    """
    if len(colour) != 7 or colour[0] != "#":
        raise ValueError(f"{colour!r} is no colour of the form #RRGGBB")
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
