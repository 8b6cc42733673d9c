"""Figures in sentences: mm and newtons in, what a maker reads out, in the units of their shop.

`format_mm` is for what a maker has given, `about_mm` and its like for what was measured. What is
written speaks in mm, or in inches within `letterply.units.spoken.speaking`. In inches, a length
that lies on a 64th, or is read from a rule, is a fraction; what a caliper measures or a machine is
told is decimal.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from letterply.said import Said, as_it_is, say
from letterply.units.reading import MM_PER_INCH
from letterply.units.spoken import speaking, spoken

__all__ = [
    "about_mm",
    "about_newtons",
    "column_in_units",
    "counted",
    "decimal_text",
    "format_area",
    "format_exact",
    "format_feed",
    "format_figure",
    "format_mm",
    "format_sheet_area",
    "format_sides",
    "format_speed",
    "listed",
    "sheet_area_unit",
    "speaking",
    "times_as_large",
]


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


def _inches() -> bool:
    return spoken() == "inch"


_RULE = 64
"""Parts of an inch on a maker's rule."""

_ON_RULE_IN = 0.0002
"""A length this near to a part of a rule lies on it: a hundredth of what the parts are apart."""


def _fraction(parts: int) -> str:
    """Return a whole number of 64ths of an inch as a maker reads it.

    >>> _fraction(8), _fraction(96), _fraction(-128), _fraction(0)
    ('1/8', '1 1/2', '-2', '0')

    """
    sign, parts = ("-" if parts < 0 else ""), abs(parts)
    whole, rest = divmod(parts, _RULE)
    if not rest:
        return f"{sign}{whole}"
    part = Fraction(rest, _RULE)
    return f"{sign}{f'{whole} ' if whole else ''}{part.numerator}/{part.denominator}"


def _on_rule(inches: float) -> str | None:
    parts = round(inches * _RULE)
    return _fraction(parts) if abs(parts / _RULE - inches) < _ON_RULE_IN else None


def _in_inches(value_mm: float) -> str:
    inches = value_mm / MM_PER_INCH
    places = 3 if abs(inches) >= 1 else 4 if abs(inches) >= 0.0005 else 5
    return _on_rule(inches) or decimal_text(inches, places)


def format_mm(value: float) -> str:
    """Return a length in mm for people: up to two decimals, three where that would leave nothing.

    >>> format_mm(3.175), format_mm(12.0), format_mm(-0.0001), format_mm(0.004)
    ('3.18 mm', '12 mm', '0 mm', '0.004 mm')
    >>> with speaking("inch"):
    ...     format_mm(38.1), format_mm(12.0), format_mm(-0.0001), format_mm(0.05)
    ('1 1/2 in', '0.4724 in', '0 in', '0.002 in')

    """
    if _inches():
        return f"{_in_inches(value)} in"
    return f"{decimal_text(value, 2 if abs(value) >= 0.005 else 3)} mm"


def format_sides(*sides: float, places: int = 1, times: str = "x") -> str:
    """Return a size, or the sides of a place, mm, with the unit at its end.

    >>> format_sides(600, 400.04), format_sides(1.25, 2, places=2, times=",")
    ('600 x 400 mm', '1.25, 2 mm')
    >>> with speaking("inch"):
    ...     format_sides(609.6, 400)
    '24 x 15.748 in'

    """
    between = f" {times} " if times != "," else ", "
    if _inches():
        return between.join(_in_inches(side) for side in sides) + " in"
    return between.join(decimal_text(side, places) for side in sides) + " mm"


def format_exact(value: float, places: int = 3) -> str:
    """Return a length as a machine or a caliper has it: decimals, of an inch one more.

    >>> format_exact(3.175), format_exact(0.0508)
    ('3.175 mm', '0.051 mm')
    >>> with speaking("inch"):
    ...     format_exact(3.175), format_exact(0.0508)
    ('0.125 in', '0.002 in')

    """
    if _inches():
        return f"{decimal_text(value / MM_PER_INCH, places + 1)} in"
    return f"{decimal_text(value, places)} mm"


def format_feed(value: float) -> str:
    """Return a feed in mm/min, or in inches a minute.

    >>> format_feed(1200.4)
    '1200 mm/min'

    """
    if _inches():
        inches = value / MM_PER_INCH
        return f"{decimal_text(inches, 0 if inches >= 100 else 1)} in/min"
    return f"{value:.0f} mm/min"


def format_speed(value: float) -> str:
    """Return the speed of a cutter's edge, given in m/min; in feet a minute beside inches.

    >>> format_speed(600)
    '600 m/min'
    >>> with speaking("inch"):
    ...     format_speed(600)
    '1969 ft/min'

    """
    if _inches():
        return f"{1000 * value / (12 * MM_PER_INCH):.0f} ft/min"
    return f"{value:.0f} m/min"


def format_area(value: float, places: int | None = None) -> str:
    """Return an area in mm², or in square inches.

    It has three figures, or whole units, where no number of decimals is asked for.

    >>> format_area(12345.6), format_area(0.1234), format_area(12.34, 1), format_area(0)
    ('12346 mm²', '0.123 mm²', '12.3 mm²', '0 mm²')

    """
    if _inches():
        return f"{_three_figures(value / MM_PER_INCH**2)} in²"
    return f"{_three_figures(value) if places is None else decimal_text(value, places)} mm²"


def _three_figures(value: float) -> str:
    if value == 0 or abs(value) >= 100:
        return decimal_text(value, 0)
    places = 2 - math.floor(math.log10(abs(value)))
    return decimal_text(value, places)


def format_figure(value: float, unit: str) -> str:
    """Return what a finding measured in its unit, as `mm`, `mm2`, `N` or none.

    >>> format_figure(1.234, "mm"), format_figure(3, "mm2"), format_figure(2.5, "")
    ('1.23 mm', '3 mm²', '2.5')

    """
    if unit == "mm":
        return format_mm(value)
    if unit in ("mm2", "mm²"):
        return format_area(value, 2)
    if unit == "mm/min":
        return format_feed(value)
    return f"{decimal_text(value, 2)}{f' {unit}' if unit else ''}"


def format_sheet_area(value: float) -> str:
    """Return the area of sheets, given in mm², without its unit (`sheet_area_unit`)."""
    if _inches():
        return decimal_text(value / MM_PER_INCH**2, 0 if value > 100 * MM_PER_INCH**2 else 1)
    return f"{value / 100:.0f}"


def column_in_units(name: str) -> tuple[str, Callable[[Any], Any]]:
    """Return what a column of a table is called in these units, and what its values become.

    >>> with speaking("inch"):
    ...     name, told = column_in_units("area_mm2")
    >>> name, told(645.16), told(None), column_in_units("width_mm")[0]
    ('area_in2', 1.0, None, 'width_mm')

    """
    stem, _, unit = name.rpartition("_")
    power = {"mm": 1, "mm2": 2}.get(unit, 0)
    if not power or not _inches():
        return name, lambda value: value
    scale = MM_PER_INCH**power
    return (
        f"{stem}_{unit.replace('mm', 'in')}",
        lambda value: round(value / scale, 4) if isinstance(value, int | float) else value,
    )


def sheet_area_unit() -> str:
    """Return the unit in which areas of sheets are told."""
    return "in²" if _inches() else "cm²"


def about_mm(value: float, beside: float | None = None) -> str:
    """Return a measured length with the digits that a maker can use, never `0 mm`.

    In inches, what is longer than one is read from a rule.

    Args:
        value: the length, mm.
        beside: a limit that is told with it: a length that misses it never reads like it.

    >>> about_mm(0.487), about_mm(4.399), about_mm(12.04), about_mm(318.7), about_mm(0.0004)
    ('0.49 mm', '4.4 mm', '12 mm', '319 mm', 'less than 0.01 mm')
    >>> about_mm(2.96, beside=3.0), about_mm(2.9999999, beside=3.0)
    ('2.96 mm', '3 mm')
    >>> with speaking("inch"):
    ...     about_mm(0.487), about_mm(318.7), about_mm(0.01), about_mm(25.41, beside=25.5)
    ('0.019 in', '12 35/64 in', 'less than 0.001 in', '1 in')

    """
    size = abs(value)
    if _inches():
        inches = _about_inches(value, beside)
        return f"{inches} in" if inches else say("less than {figure}", figure="0.001 in")
    if size < 0.005:
        return say("less than {figure}", figure="0.01 mm")
    places = 2 if size < 1 else 1 if size < 100 else 0
    text = decimal_text(value, places)
    while beside is not None and places < 3 and text == decimal_text(beside, places):
        places += 1
        text = decimal_text(value, places)
    return f"{text} mm"


def _about_inches(value: float, beside: float | None) -> str:
    inches = value / MM_PER_INCH
    limit = None if beside is None else beside / MM_PER_INCH
    if abs(inches) < 0.0005:
        return ""
    if abs(inches) >= 1:
        parts = round(inches * _RULE)
        if limit is None or parts != round(limit * _RULE):
            return _fraction(parts)
    places = 3
    while limit is not None and places < 5:
        if decimal_text(inches, places) != decimal_text(limit, places):
            break
        places += 1
    return decimal_text(inches, places)


_WHOLE = 1e-6
"""A count of hundredths that is off by less than this part of one is whole."""

_STANDARD_GRAVITY = 9.80665
"""m/s²: what a kilogram weighs in newtons, by the third CGPM, 1901."""


_KG_PER_POUND = 0.45359237
"""Exact by the international yard and pound agreement of 1959; an ounce is a 16th of it."""


def about_newtons(force_n: float) -> Said:
    """Return a force as a maker knows it: newtons to two figures, and the weight that pulls so.

    In inches, the weight alone, in pounds or ounces.

    >>> about_newtons(6.97), about_newtons(1234), about_newtons(0.62)
    ('about 7 N (0.7 kg)', 'about 1200 N (130 kg)', 'about 0.6 N (63 g)')
    >>> with speaking("inch"):
    ...     about_newtons(6.97), about_newtons(0.62)
    ('about 1.6 lb', 'about 2.2 oz')

    """
    if _inches():
        pounds = force_n / _STANDARD_GRAVITY / _KG_PER_POUND
        if pounds < 0.02:
            return say("less than {figure}", figure="1/4 oz")
        light = f"{_figures(16 * pounds)} oz"
        return say("about {figure}", figure=f"{_figures(pounds)} lb" if pounds >= 1 else light)
    if force_n < 0.05:
        return say("less than {figure}", figure="0.1 N (10 g)")
    kilograms = force_n / _STANDARD_GRAVITY
    weight = f"{_figures(kilograms)} kg"
    if kilograms < 0.1:
        weight = f"{_figures(1000 * kilograms)} g"
    return say("about {figure}", figure=f"{_figures(force_n)} N ({weight})")


def _figures(value: float) -> str:
    """Return a number with two figures, one below one."""
    places = 1 - math.floor(math.log10(value)) if value >= 1 else -math.floor(math.log10(value))
    return decimal_text(round(value, places), max(places, 0))


def times_as_large(factor: float) -> Said:
    """Return a factor of growth in words, rounded up: less would not do.

    >>> times_as_large(2.0), times_as_large(1.2341), times_as_large(0.805)
    ('twice as large', '1.24 times as large', '0.8 times as large')

    """
    up = factor > 1
    hundredths = math.ceil(100 * factor - _WHOLE) if up else math.floor(100 * factor + _WHOLE)
    if hundredths == 200:
        return say("twice as large")
    return say("{factor} times as large", factor=f"{hundredths / 100:g}")


def counted(count: int, noun: str, plural: str = "") -> Said:
    """Return a count with its noun.

    >>> counted(1, "part"), counted(3, "part"), counted(2, "axis", "axes")
    ('1 part', '3 parts', '2 axes')

    """
    form = noun if count == 1 else plural or noun + "s"
    return Said(f"{count} {form}", "{count} " + form, {"count": count})


def listed(words: Sequence[str], last: str = "and") -> Said:
    """Return words as a list in a sentence.

    >>> listed(["oak"]), listed(["oak", "pine", "MDF"]), listed(["tabs", "tape"], "or")
    ('oak', 'oak, pine and MDF', 'tabs or tape')

    """
    *most, end = words
    if most and last != "and":
        return as_it_is(f"{', '.join(most)} {last} {end}")
    return say("{words}", words=tuple(words))
