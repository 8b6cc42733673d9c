"""Lengths, angles and speeds as people write them, in; millimetres and degrees, out.

The only place that converts. Inside the engine lengths are mm, feeds mm/min, spindle speeds
rev/min, angles degrees. A bare number is already in those units.
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from letterply.errors import InputError, shown

__all__ = [
    "INCH",
    "MM_PER_INCH",
    "counted",
    "decimal_text",
    "format_mm",
    "parse_feed",
    "parse_length",
    "read_whole",
]

INCH = Fraction(127, 5)
"""An inch in mm: exact by the international yard and pound agreement of 1959."""

MM_PER_INCH = float(INCH)
"""The same as a float, for what is computed in floats anyway."""

_MM_PER_UNIT: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "um": Fraction(1, 1000),
    "µm": Fraction(1, 1000),
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    '"': INCH,
    "ft": 12 * INCH,
    "thou": INCH / 1000,
    "mil": INCH / 1000,
    "pt": INCH / 72,
    "px": INCH / 96,
}

_NUMBER = re.compile(
    r"""^\s*(?P<sign>[-+]?)\s*
    (?:(?P<whole>[0-9]+)[ -]+(?P<num>[0-9]+)/(?P<den>[0-9]+)   # 1 1/8, 1-1/8
      |(?P<num2>[0-9]+)/(?P<den2>[0-9]+)                       # 1/8
      |(?P<decimal>[0-9]+(?:\.[0-9]*)?|\.[0-9]+))             # 3, 3.2, .125
    \s*(?P<unit>[^\d\s].*?)?\s*$""",
    re.VERBOSE,
)

_MAX_TEXT = 64
_MAX_DIGITS = 12
_MAX_BARE = 1e12


def _read(value: object, what: str, units: dict[str, Fraction], field: str | None) -> float:
    """Return a quantity, computed exactly and rounded to a float once: equal ones are equal."""
    usual = next(iter(units))

    def refused(message: str, code: str = f"bad-{what}", expected: str | None = None) -> InputError:
        usually = f"a number or text like '3.2 {usual}'; units: {', '.join(units)}"
        return InputError(message, code=code, field=field, expected=expected or usually)

    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise refused(f"{shown(value, _MAX_TEXT)} is no {what}.")
    if isinstance(value, (int, float)):
        if not abs(value) < _MAX_BARE:  # NaN is not below it either
            raise refused(f"{shown(value, _MAX_TEXT)} is no sensible {what}.")
        return float(value) + 0.0
    match = _NUMBER.match(value) if len(value) <= _MAX_TEXT else None
    if match is None:
        raise refused(f"{shown(value, _MAX_TEXT)} is no {what}.")
    unit = (match["unit"] or usual).strip().lower()
    if unit not in units:
        known = f"one of: {', '.join(units)}"
        raise refused(f"{unit!r} is no unit of {what}.", "unknown-unit", known)
    if any(len(part or "") > _MAX_DIGITS for part in match.groups()):
        raise refused(f"{value!r} is no sensible {what}.")
    if match["decimal"]:
        number = Fraction(match["decimal"])
    else:
        denominator = int(match["den"] or match["den2"])
        if denominator == 0:
            raise refused(f"{value!r} divides by nothing.")
        number = Fraction(int(match["num"] or match["num2"]), denominator)
        number += int(match["whole"] or 0)
    return float(-number * units[unit] if match["sign"] == "-" else number * units[unit])


def parse_length(value: object, *, field: str | None = None) -> float:
    """Return a length in mm from a number (mm) or text with a unit, fractions included.

    Raises:
        InputError: `bad-length` or `unknown-unit`, naming `field`.

    >>> parse_length("1/8 in")
    3.175
    >>> parse_length("1 1/2 in"), parse_length(3), parse_length("-.5cm")
    (38.1, 3.0, -5.0)
    >>> parse_length("1.5 in") == parse_length("38.1 mm") == parse_length(38.1)
    True

    """
    return _read(value, "length", _MM_PER_UNIT, field)


def parse_feed(value: object, *, field: str | None = None) -> float:
    """Return a feed in mm/min from a number (mm/min) or text in mm/min, m/min, in/min or mm/s.

    >>> parse_feed("80 in/min")
    2032.0

    """
    units = {
        "mm/min": Fraction(1), "m/min": Fraction(1000), "in/min": INCH, "mm/s": Fraction(60),
    }  # fmt: skip
    return _read(value, "feed", units, field)


_DIGITS = re.compile("[0-9]+")


def read_whole(text: str) -> int | None:
    """Return the whole number that a text of plain digits is, or None when it is none.

    What has more than 15 digits is larger than anything that is counted here: it counts as 10^15.

    >>> read_whole("20"), read_whole("²"), read_whole("-1"), read_whole("9" * 5000) == 10**15
    (20, None, None, True)

    """
    if not _DIGITS.fullmatch(text):
        return None
    digits = text.lstrip("0") or "0"
    return int(digits) if len(digits) <= 15 else 10**15


def counted(count: int, noun: str) -> str:
    """Return a count with its noun.

    >>> counted(1, "part"), counted(3, "part")
    ('1 part', '3 parts')

    """
    return f"{count} {noun}{'s' * (count != 1)}"


def decimal_text(value: float, places: int) -> str:
    """Return a number for people: rounded as it is written, half away from nought, never -0.

    Raises:
        ValueError: for a value that is not finite.

    >>> decimal_text(3.175, 2), decimal_text(-0.001, 2), decimal_text(1220, 2)
    ('3.18', '0', '1220')

    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written")
    # The shortest decimals that mean this float are what the maker wrote: 3.175, not 3.17499...
    rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    text = f"{rounded:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def format_mm(value: float) -> str:
    """Return a length for people: up to two decimals, three where that would leave nothing.

    >>> format_mm(3.175), format_mm(12.0), format_mm(-0.0001), format_mm(0.004)
    ('3.18 mm', '12 mm', '0 mm', '0.004 mm')

    """
    return f"{decimal_text(value, 2 if abs(value) >= 0.005 else 3)} mm"
