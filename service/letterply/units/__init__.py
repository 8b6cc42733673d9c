"""Lengths, angles and speeds as people write them, in; millimetres and degrees, out; and back.

The only place that converts, and the one that writes figures in sentences. Inside the engine
lengths are mm, feeds mm/min, spindle speeds rev/min, angles degrees.
"""

from letterply.units.reading import INCH, MM_PER_INCH, parse_feed, parse_length, read_whole
from letterply.units.speaking import (
    about_mm,
    about_newtons,
    column_in_units,
    counted,
    decimal_text,
    format_area,
    format_exact,
    format_feed,
    format_figure,
    format_mm,
    format_sheet_area,
    format_sides,
    format_speed,
    listed,
    sheet_area_unit,
    times_as_large,
)
from letterply.units.spoken import UNITS, speaking, spoken

__all__ = [
    "INCH",
    "MM_PER_INCH",
    "UNITS",
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
    "parse_feed",
    "parse_length",
    "read_whole",
    "sheet_area_unit",
    "speaking",
    "spoken",
    "times_as_large",
]
