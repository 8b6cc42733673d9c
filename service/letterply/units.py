"""Lengths, angles and speeds as people write them, in; millimetres and degrees, out.

The only place that converts. Inside the engine lengths are mm, feeds mm/min, spindle speeds
rev/min, angles degrees. A bare number is already in those units.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction

from letterply.errors import InputError

__all__ = ["MM_PER_INCH", "format_mm", "parse_angle", "parse_feed", "parse_length"]

MM_PER_INCH = 25.4
"""Exact by the international yard and pound agreement of 1959."""

_MM_PER_UNIT: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "um": 0.001,
    "µm": 0.001,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "thou": MM_PER_INCH / 1000,
    "mil": MM_PER_INCH / 1000,
    "pt": MM_PER_INCH / 72,
    "px": MM_PER_INCH / 96,
}

_NUMBER = re.compile(
    r"""^\s*(?P<sign>[-+]?)\s*
    (?:(?P<whole>\d+)[ -]+(?P<num>\d+)/(?P<den>\d+)   # 1 1/8, 1-1/8
      |(?P<num2>\d+)/(?P<den2>\d+)                    # 1/8
      |(?P<decimal>\d+(?:\.\d*)?|\.\d+))              # 3, 3.2, .125
    \s*(?P<unit>[^\d\s].*?)?\s*$""",
    re.VERBOSE,
)

_MAX_TEXT = 64
_MAX_DIGITS = 12


def _read(value: object, what: str, units: dict[str, float], field: str | None) -> float:
    expected = f"a number or text like '3.2 {next(iter(units))}'; units: {', '.join(units)}"
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise InputError(
            f"{value!r} is no {what}.", code=f"bad-{what}", field=field, expected=expected
        )
    if isinstance(value, (int, float)):
        number = float(value) if abs(value) < 1e12 else math.inf
        factor = 1.0
    else:
        match = _NUMBER.match(value) if len(value) <= _MAX_TEXT else None
        if match is None:
            raise InputError(
                f"{value[:_MAX_TEXT]!r} is no {what}.",
                code=f"bad-{what}",
                field=field,
                expected=expected,
            )
        unit = (match["unit"] or next(iter(units))).strip().lower()
        if unit not in units:
            raise InputError(
                f"{unit!r} is no unit of {what}.",
                code="unknown-unit",
                field=field,
                expected=f"one of: {', '.join(units)}",
            )
        factor = units[unit]
        if any(len(part or "") > _MAX_DIGITS for part in match.groups()):
            raise InputError(
                f"{value!r} is no sensible {what}.",
                code=f"bad-{what}",
                field=field,
                expected=expected,
            )
        if match["decimal"]:
            number = float(match["decimal"])
        else:
            num = int(match["num"] or match["num2"])
            den = int(match["den"] or match["den2"])
            if den == 0:
                raise InputError(
                    f"{value!r} divides by nothing.",
                    code=f"bad-{what}",
                    field=field,
                    expected=expected,
                )
            number = float(Fraction(num, den) + int(match["whole"] or 0))
        if match["sign"] == "-":
            number = -number
    if not math.isfinite(number):
        raise InputError(
            f"{value!r} is no finite {what}.", code=f"bad-{what}", field=field, expected=expected
        )
    return number * factor


def parse_length(value: object, *, field: str | None = None) -> float:
    """Return a length in mm from a number (mm) or text with a unit, fractions included.

    Raises:
        InputError: `bad-length` or `unknown-unit`, naming `field`.

    >>> parse_length("1/8 in")
    3.175
    >>> parse_length("1 1/2 in"), parse_length(3), parse_length("-.5cm")
    (38.1, 3.0, -5.0)

    """
    return _read(value, "length", _MM_PER_UNIT, field)


def parse_angle(value: object, *, field: str | None = None) -> float:
    """Return an angle in degrees from a number (degrees) or text in deg, rad or turn.

    >>> parse_angle("1/4 turn")
    90.0

    """
    units = {"deg": 1.0, "°": 1.0, "degrees": 1.0, "rad": 180 / math.pi, "turn": 360.0}
    return _read(value, "angle", units, field)


def parse_feed(value: object, *, field: str | None = None) -> float:
    """Return a feed in mm/min from a number (mm/min) or text in mm/min, m/min, in/min or mm/s.

    >>> parse_feed("80 in/min")
    2032.0

    """
    units = {"mm/min": 1.0, "m/min": 1000.0, "in/min": MM_PER_INCH, "mm/s": 60.0}
    return _read(value, "feed", units, field)


def format_mm(value: float) -> str:
    """Return a length for people: up to two decimals, no trailing noughts.

    >>> format_mm(3.175), format_mm(12.0)
    ('3.18 mm', '12 mm')

    """
    return f"{value:.2f}".rstrip("0").rstrip(".").replace("-0", "0", value == 0) + " mm"
