"""Parts in, stock sheets with placed parts out.

In: parts with their numbers and turns, stock sheets, spacing. Out: one rigid move for each part
that has a place, and the reason for each that has none.
"""

from letterply.sheets.fixture_loads import blank_sheets, blank_stock, pocket_places
from letterply.sheets.layouts.stock_choice import Rack, usable_mm
from letterply.sheets.model import Nesting, PlacedPart, Placement, Sheet, Unplaced
from letterply.sheets.nested.counters import containers_by_mark
from letterply.sheets.nesting import ToPlace, nest
from letterply.sheets.spacing import least_spacing, least_spacing_for_beam

__all__ = [
    "Nesting",
    "PlacedPart",
    "Placement",
    "Rack",
    "Sheet",
    "ToPlace",
    "Unplaced",
    "blank_sheets",
    "blank_stock",
    "containers_by_mark",
    "least_spacing",
    "least_spacing_for_beam",
    "nest",
    "pocket_places",
    "usable_mm",
]
