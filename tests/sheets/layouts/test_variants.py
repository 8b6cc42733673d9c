"""Sheets filled in several ways: never worse than one of them, and the same each time."""

import pytest
from shapely import Polygon, box

from bench.packings import (
    length_used,
    remeasure,
    script_letters,
    sheet_stock,
    shelf_length,
    to_place,
)
from letterply.sheets.layouts.bottom_left import Piece, fill
from letterply.sheets.layouts.footprints import FootprintMaker
from letterply.sheets.layouts.variants import Care, by_area, fill_well
from letterply.sheets.nesting import FREE_TURNS_DEG, nest
from sheets.shapes import letter, letters, sheet

SPACING = 5.2


def pieces_of(outlines):
    return [Piece(n, outline, FREE_TURNS_DEG) for n, outline in enumerate(outlines)]


def area_of(pieces, laid):
    return sum(Polygon(pieces[f.index].outline.exterior).area for f in laid)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_less_lies_on_a_sheet_than_by_one_way_alone(seed):
    pieces = pieces_of(letters(40, seed=seed))
    stock, maker = sheet("s", 300, 200), FootprintMaker(0.5, SPACING)
    laid, rest = fill_well(pieces, stock, maker, Care(24, 4), square=False)
    alone, _ = fill(sorted(pieces, key=by_area), (284, 184), maker)
    assert rest
    assert area_of(pieces, laid) >= area_of(pieces, alone) - 1e-3
    assert {f.index for f in laid} | {p.index for p in rest} == set(range(40))
    again = fill_well(pieces, stock, FootprintMaker(0.5, SPACING), Care(24, 4), square=False)
    assert again == (laid, rest)


def test_other_than_quarter_turns_are_used_where_they_save_much():
    """A bar of 240 mm by 4 mm lies on a sheet 200 mm wide and high only aslant."""
    bars = pieces_of([box(0, 0, 240, 4)] * 4)
    laid, rest = fill_well(
        bars, sheet("s", 216, 216), FootprintMaker(0.5, 2.0), Care(24, 4), square=True
    )
    assert not rest
    assert all(f.turn_deg % 90 for f in laid)


def test_blocks_lie_in_rows():
    blocks = pieces_of([box(0, 0, 58, 28)] * 12)
    laid, rest = fill_well(
        blocks,
        sheet("s", 262, 140, margin_mm=0.0),
        FootprintMaker(0.5, 4.0),
        Care(24, 4),
        square=True,
    )
    assert not rest
    assert {f.turn_deg % 90 for f in laid} == {0.0}


def test_script_letters_take_three_quarters_of_what_shelves_take():
    """Boxes on shelves (first fit, widest first) are the second opinion; 0.71 was measured."""
    parts = script_letters(80.0)
    stock = sheet_stock(600, 400, 9)
    found = nest(to_place(parts), [stock], spacing_mm=SPACING)
    assert not found.unplaced
    remeasure(found.sheets, SPACING, grain=False)
    shelves = shelf_length([p.outline for p in parts], 584, 384, SPACING)
    assert length_used(found) < 0.74 * shelves


def test_a_part_alone_lies_as_it_is_drawn():
    (piece,) = pieces_of([letter("T", 60)])
    (laid,), _ = fill_well(
        [piece], sheet("s", 300, 200), FootprintMaker(0.25, SPACING), Care(24, 4), square=True
    )
    assert laid.turn_deg == 0.0
