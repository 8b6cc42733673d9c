"""Numbers as files want them: fixed point, shortest, never a negative nought."""

from __future__ import annotations

import math

__all__ = ["LEAST_ROUND_MM", "number", "rounded"]

LEAST_ROUND_MM = 0.013
"""Corners that stay round by less, half a thousandth of an inch, are told as sharp."""


def number(value: float, decimals: int = 4) -> str:
    """Return a number with at most `decimals` digits after the point, without exponent.

    Raises:
        ValueError: for a value that is not finite: no file has a use for it.

    >>> number(12.5), number(3.0), number(-0.00001), number(1e-3)
    ('12.5', '3', '0', '0.001')

    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written")
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def rounded(value: float, decimals: int = 4) -> float:
    """Return a number rounded for a document, never a negative nought.

    >>> rounded(-0.00001), rounded(2.34567)
    (0.0, 2.3457)

    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written")
    return round(float(value), decimals) + 0.0
