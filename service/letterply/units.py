"""Lengths, angles and speeds as people write them, in; millimetres and degrees, out.

The only place that converts, and the one that writes figures in sentences: `format_mm` for what a
maker has given, `about_mm` and its like for what was measured. Inside the engine lengths are mm,
feeds mm/min, spindle speeds rev/min, angles degrees. A bare number is already in those units.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from letterply.errors import InputError, shown
from letterply.names import sentence

__all__ = [
    "INCH",
    "MM_PER_INCH",
    "about_mm",
    "about_newtons",
    "counted",
    "decimal_text",
    "format_mm",
    "listed",
    "parse_feed",
    "parse_length",
    "read_whole",
    "times_as_large",
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


def about_mm(value: float, beside: float | None = None) -> str:
    """Return a measured length with the digits that a maker can use, never `0 mm`.

    Args:
        value: the length, mm.
        beside: a limit that is told with it: a length that misses it never reads like it.

    >>> about_mm(0.487), about_mm(4.399), about_mm(12.04), about_mm(318.7), about_mm(0.0004)
    ('0.49 mm', '4.4 mm', '12 mm', '319 mm', 'less than 0.01 mm')
    >>> about_mm(2.96, beside=3.0), about_mm(2.9999999, beside=3.0)
    ('2.96 mm', '3 mm')

    """
    size = abs(value)
    if size < 0.005:
        return "less than 0.01 mm"
    places = 2 if size < 1 else 1 if size < 100 else 0
    text = decimal_text(value, places)
    while beside is not None and places < 3 and text == decimal_text(beside, places):
        places += 1
        text = decimal_text(value, places)
    return f"{text} mm"


_WHOLE = 1e-6
"""A count of hundredths that is off by less than this part of one is whole."""

_STANDARD_GRAVITY = 9.80665
"""m/s²: what a kilogram weighs in newtons, by the third CGPM, 1901."""


def about_newtons(force_n: float) -> str:
    """Return a force as a maker knows it: newtons to two figures, and the weight that pulls so.

    >>> about_newtons(6.97), about_newtons(1234), about_newtons(0.62)
    ('about 7 N (0.7 kg)', 'about 1200 N (130 kg)', 'about 0.6 N (63 g)')

    """
    if force_n < 0.05:
        return "less than 0.1 N (10 g)"
    kilograms = force_n / _STANDARD_GRAVITY
    weight = f"{_figures(kilograms)} kg"
    if kilograms < 0.1:
        weight = f"{_figures(1000 * kilograms)} g"
    return f"about {_figures(force_n)} N ({weight})"


def _figures(value: float) -> str:
    """Return a number with two figures, one below one."""
    places = 1 - math.floor(math.log10(value)) if value >= 1 else -math.floor(math.log10(value))
    return decimal_text(round(value, places), max(places, 0))


def times_as_large(factor: float) -> str:
    """Return a factor of growth in words, rounded up: less would not do.

    >>> times_as_large(2.0), times_as_large(1.2341), times_as_large(0.805)
    ('twice as large', '1.24 times as large', '0.8 times as large')

    """
    up = factor > 1
    hundredths = math.ceil(100 * factor - _WHOLE) if up else math.floor(100 * factor + _WHOLE)
    return "twice as large" if hundredths == 200 else f"{hundredths / 100:g} times as large"


def counted(count: int, noun: str, plural: str = "") -> str:
    """Return a count with its noun.

    >>> counted(1, "part"), counted(3, "part"), counted(2, "axis", "axes")
    ('1 part', '3 parts', '2 axes')

    """
    return f"{count} {noun if count == 1 else plural or noun + 's'}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Return words as a list in a sentence.

    >>> listed(["oak"]), listed(["oak", "pine", "MDF"]), listed(["tabs", "tape"], "or")
    ('oak', 'oak, pine and MDF', 'tabs or tape')

    """
    *most, end = words
    return f"{', '.join(most)} {last} {end}" if most else end
