"""Lengths and feeds as people write them, in; millimetres and mm/min out.

A bare number is already in those units. Quantities are computed exactly and rounded once.
"""

from __future__ import annotations

import re
from fractions import Fraction

from letterply.errors import InputError, shown
from letterply.names import sentence
from letterply.units.spoken import spoken

__all__ = ["INCH", "MM_PER_INCH", "parse_feed", "parse_length", "read_whole"]

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

_LIKE_INCHES = {"mm": "1 1/8 in", "mm/min": "80 in/min"}

_MAX_TEXT = 64
_MAX_DIGITS = 12
_MAX_BARE = 1e12


def _read(value: object, what: str, units: dict[str, Fraction], field: str | None) -> float:
    """Return a quantity, computed exactly and rounded to a float once: equal ones are equal."""
    usual = next(iter(units))

    def refused(message: str, code: str = f"bad-{what}", expected: str | None = None) -> InputError:
        usually = f"a number or text like '3.2 {usual}'; units: {', '.join(units)}"
        if spoken() == "inch":  # a bare number would be mm
            usually = f"text like {_LIKE_INCHES[usual]!r}; units: {', '.join(units)}"
        return InputError(message, code=code, field=field, expected=expected or usually)

    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise refused(sentence(f"{shown(value, _MAX_TEXT)} cannot be read as {_a(what)}"))
    if isinstance(value, (int, float)):
        if not abs(value) < _MAX_BARE:  # NaN is not below it either
            raise refused(f"{shown(value, _MAX_TEXT)} is too large for {_a(what)}.")
        return float(value) + 0.0
    match = _NUMBER.match(value) if len(value) <= _MAX_TEXT else None
    if match is None:
        raise refused(f"{shown(value, _MAX_TEXT)} cannot be read as {_a(what)}.")
    unit = (match["unit"] or usual).strip().lower()
    if unit not in units:
        known = f"one of: {', '.join(units)}"
        raise refused(
            f"{_a(what).capitalize()} cannot be given in {unit!r}.", "unknown-unit", known
        )
    if any(len(part or "") > _MAX_DIGITS for part in match.groups()):
        raise refused(f"{value!r} has too many digits for {_a(what)}.")
    if match["decimal"]:
        number = Fraction(match["decimal"])
    else:
        denominator = int(match["den"] or match["den2"])
        if denominator == 0:
            raise refused(f"{value!r} divides by zero.")
        number = Fraction(int(match["num"] or match["num2"]), denominator)
        number += int(match["whole"] or 0)
    return float(-number * units[unit] if match["sign"] == "-" else number * units[unit])


def _a(what: str) -> str:
    return f"{'an' if what[0] in 'aeiou' else 'a'} {what}"


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
