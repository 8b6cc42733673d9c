"""Small parts in counters: distance, turns and what may be used, measured anew with shapely."""

import itertools

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import affine_transform

from letterply.sheets.layouts.bottom_left import Filled, Piece
from letterply.sheets.nested.counters import containers_by_mark
from letterply.sheets.nested.placing import place_nested, with_nested
from letterply.sheets.nesting import FREE_TURNS_DEG, ToPlace, nest
from letterply.stacks.model import Part, rigid
from letterply.stacks.work import Pocket
from sheets.shapes import letter, letters, sheet, to_place

SPACING = 5.2
TWO_STEPS = 2e-5
QUARTERS = (0.0, 90.0, 180.0, 270.0)


def counters_of(pieces):
    return {p.index: [Polygon(r) for r in p.outline.interiors] for p in pieces}


def pieces_of(outlines, turns=QUARTERS):
    return [Piece(n, outline, turns) for n, outline in enumerate(outlines)]


def gaps(outlines):
    """Return the true distances of all pairs, counters open."""
    return [a.distance(b) for a, b in itertools.combinations(outlines, 2)]


@pytest.mark.parametrize("spacing", [0.0, 1.0, 5.2, 9.35])
def test_nested_parts_keep_the_spacing_from_the_counter_and_from_each_other(spacing):
    pieces = pieces_of([letter("O", 150), *[letter("I", 20), letter("C", 30)] * 6])
    rest, nested = place_nested(pieces, counters_of(pieces), spacing)
    assert nested.keys() == {0}
    assert {p.index for p in rest} | {f.index for f in nested[0]} == set(range(len(pieces)))
    laid = [affine_transform(pieces[f.index].outline, rigid(f.turn_deg, f.x_mm, f.y_mm))
            for f in nested[0]]  # fmt: skip
    assert len(laid) > 2
    assert min(gaps([pieces[0].outline, *laid])) >= spacing - TWO_STEPS
    counter = counters_of(pieces)[0][0]
    assert all(counter.covers(outline) for outline in laid)


def test_a_square_counter_is_filled_up_to_its_corners():
    """Four squares of 10 mm, 5 mm apart, need a counter of 35 mm; 3 mm more allow for the grid."""
    frame = box(0, 0, 100, 100).difference(box(30, 30, 68, 68))
    pieces = pieces_of([frame, *[box(0, 0, 10, 10)] * 5])
    rest, nested = place_nested(pieces, counters_of(pieces), 5.0)
    assert len(nested[0]) == 4
    assert len(rest) == 2


def test_a_counter_a_little_too_small_takes_nothing():
    frame = box(0, 0, 100, 100).difference(box(30, 30, 49.9, 49.9))
    pieces = pieces_of([frame, box(0, 0, 10, 10)])
    assert place_nested(pieces, counters_of(pieces), 5.0) == (pieces, {})


def test_the_smallest_counter_that_takes_a_part_is_used():
    pieces = pieces_of([letter("O", 200), letter("O", 90), box(0, 0, 12, 12)])
    _, nested = place_nested(pieces, counters_of(pieces), SPACING)
    assert [f.index for f in nested[1]] == [2]
    assert [f.index for f in nested[0]] == [1]


def test_nested_parts_go_where_their_container_goes():
    nested = {0: (Filled(1, 90.0, 10.0, 0.0),), 1: (Filled(2, 180.0, 0.0, 2.0),)}
    found = with_nested([Filled(0, 90.0, 100.0, 50.0), Filled(3, 0.0, 0.0, 0.0)], nested)
    assert {f.index: (f.turn_deg, f.x_mm, f.y_mm) for f in found} == {
        0: (90.0, 100.0, 50.0),
        1: (180.0, 100.0, 60.0),  # (10, 0) turned by 90° is (0, 10)
        2: (0.0, 100.0, 58.0),  # (0, 2) turned by 180° is (0, -2)
        3: (0.0, 0.0, 0.0),
    }


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.booleans(), st.sampled_from([1.0, 5.2, 9.35]))
def test_sheets_with_nested_parts_hold_what_all_sheets_hold(seed, grain, spacing):
    big = letters(5, seed=seed, low_mm=100, high_mm=170)
    parts = to_place([*big, *letters(25, seed=seed + 1, low_mm=8, high_mm=30)], grain=grain)
    found = nest(parts, [sheet("s", 400, 300)], spacing_mm=spacing, use_counters=True)
    assert not found.unplaced
    assert sorted(p.mark for s in found.sheets for p in s.parts) == [p.mark for p in parts]
    for each in found.sheets:
        outlines = [p.part.outline for p in each.parts]
        assert min(gaps(outlines), default=spacing) >= spacing - TWO_STEPS
        usable = box(8, 8, 392, 292).buffer(TWO_STEPS)
        assert all(usable.covers(outline) for outline in outlines)
        for placed in each.parts:
            assert not grain or placed.placement.angle_deg in (0, 180)
            assert placed.placement.angle_deg in FREE_TURNS_DEG
            assert placed.part.outline.area == pytest.approx(placed.source.outline.area)


def test_counters_save_a_sheet_and_only_on_request():
    parts = to_place([*[letter("O", 170)] * 2, *[letter("L", 40)] * 8])
    rack = [sheet("s", 370, 187)]
    plain = nest(parts, rack, spacing_mm=SPACING)
    used = nest(parts, rack, spacing_mm=SPACING, use_counters=True)
    assert not any(containers_by_mark(s.parts) for s in plain.sheets)
    assert sum(len(containers_by_mark(s.parts)) for s in used.sheets) >= 6
    assert len(used.sheets) < len(plain.sheets)
    assert used == nest(parts, rack, spacing_mm=SPACING, use_counters=True)


def test_a_counter_that_is_worked_over_stays_empty():
    ring = letter("O", 150)
    over = Pocket(shapely.MultiPolygon([ring.convex_hull]), 2.0)
    parts = [
        ToPlace("1.a", 1, Part("a", "a", ring, pockets=(over,)), "mdf", 6.0),
        ToPlace("1.b", 1, Part("b", "a", box(0, 0, 20, 20)), "mdf", 6.0),
    ]
    found = nest(parts, [sheet("s", 300, 200)], spacing_mm=SPACING, use_counters=True)
    assert not containers_by_mark(found.sheets[0].parts)


def test_nested_parts_of_a_container_without_room_still_find_their_own():
    """One sheet takes one ring: the other ring is told, and what lay in it goes elsewhere."""
    parts = to_place([letter("O", 170), letter("O", 170), *[letter("L", 60)] * 3])
    rack = [sheet("large", 190, 200, count=1), sheet("small", 90, 160, count=2)]
    found = nest(parts, rack, spacing_mm=SPACING, use_counters=True)
    assert [u.mark for u in found.unplaced] == ["1.face.001"]
    assert sum(len(s.parts) for s in found.sheets) == 4


def test_the_search_lays_containers_with_their_nested_parts():
    parts = to_place([*[letter("O", 100)] * 7, *letters(30, seed=3, low_mm=12, high_mm=60)])
    rack = [sheet("s", 300, 200)]
    found = nest(parts, rack, spacing_mm=SPACING, search_seconds=2, use_counters=True)
    assert not found.unplaced
    assert sum(len(containers_by_mark(s.parts)) for s in found.sheets) > 3
    for each in found.sheets:
        assert min(gaps([p.part.outline for p in each.parts])) >= SPACING - TWO_STEPS
