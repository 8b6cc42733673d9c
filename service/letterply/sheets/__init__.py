"""Parts in, stock sheets with placed parts out.

In: parts with their numbers and turns, stock sheets, spacing. Out: one rigid move for each part
that has a place, and the reason for each that has none.
"""

from letterply.sheets.fixture_loads import blank_sheets, blank_stock, first_middle, pocket_places
from letterply.sheets.layouts.stock_choice import Rack, why_no_room
from letterply.sheets.model import Nesting, PlacedPart, Placement, Sheet, Unplaced
from letterply.sheets.nested.counters import containers_by_mark
from letterply.sheets.nesting import ToPlace, nest
from letterply.sheets.spacing import least_spacing, least_spacing_for_beam, spaced_for_overruns
from letterply.sheets.zero import WorkZero, work_zero

__all__ = [
    "Nesting",
    "PlacedPart",
    "Placement",
    "Rack",
    "Sheet",
    "ToPlace",
    "Unplaced",
    "WorkZero",
    "blank_sheets",
    "blank_stock",
    "containers_by_mark",
    "first_middle",
    "least_spacing",
    "least_spacing_for_beam",
    "nest",
    "pocket_places",
    "spaced_for_overruns",
    "why_no_room",
    "work_zero",
]
