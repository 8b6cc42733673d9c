"""Nesting: what it promises of every sheet, measured here anew with shapely."""

import math
from dataclasses import replace

import pytest
import shapely
from shapely import Polygon, box

from letterply.catalogue.kept_clear import KeptClear
from letterply.sheets.model import Nesting
from letterply.sheets.nesting import FREE_TURNS_DEG, nest
from sheets.shapes import letter, letters, sheet, to_place

SPACING = 5.2
TWO_STEPS = 2e-5
"""Placements are written on a grid of 1e-5 mm."""


def assert_valid(found: Nesting, *, spacing: float = SPACING) -> None:
    for each in found.sheets:
        margin = each.stock.margin_mm
        usable = box(
            margin, margin, each.stock.width_mm - margin, each.stock.height_mm - margin
        ).buffer(TWO_STEPS)
        for number, one in enumerate(each.parts):
            assert usable.covers(one.part.outline)
            for other in each.parts[:number]:
                solid = Polygon(other.part.outline.exterior)
                assert one.part.outline.distance(solid) >= spacing - TWO_STEPS


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("spacing", [0.0, 1.0, 5.2, 9.0])
def test_parts_keep_their_distance_and_the_margin(seed, spacing):
    parts = to_place(letters(25, seed=seed))
    found = nest(parts, [sheet("small", 300, 200)], spacing_mm=spacing)
    assert not found.unplaced
    assert sorted(p.mark for s in found.sheets for p in s.parts) == [p.mark for p in parts]
    assert_valid(found, spacing=spacing)


def test_a_placed_part_is_its_source_moved_rigidly():
    parts = to_place(letters(12, seed=5))
    found = nest(parts, [sheet("small", 400, 300)], spacing_mm=SPACING)
    by_mark = {p.mark: p for p in parts}
    for placed in found.sheets[0].parts:
        source, move = by_mark[placed.mark].part.outline, placed.placement
        turned = shapely.affinity.rotate(source, move.angle_deg, origin=(0, 0))
        expected = shapely.affinity.translate(turned, move.x_mm, move.y_mm)
        assert placed.source.outline == source
        assert expected.symmetric_difference(placed.part.outline).area < 1e-6


@pytest.mark.parametrize(("grain", "allowed"), [(True, {0, 180}), (False, set(FREE_TURNS_DEG))])
def test_grain_allows_half_turns_only(grain, allowed):
    parts = to_place(letters(30, seed=4), grain=grain)
    found = nest(parts, [sheet("small", 300, 200)], spacing_mm=SPACING)
    turns = {p.placement.angle_deg for s in found.sheets for p in s.parts}
    assert turns <= allowed
    assert len(turns) > 1


def test_a_small_job_lies_square_where_other_turns_save_little():
    oblongs = [box(0, 0, 20 + k, 60 + 2 * k) for k in range(12)]
    found = nest(to_place(oblongs), [sheet("s", 600, 400)], spacing_mm=SPACING)
    (only,) = found.sheets
    assert {p.placement.angle_deg % 90 for p in only.parts} == {0.0}


def test_a_long_part_without_grain_is_turned_to_fit():
    upright = to_place([box(0, 0, 20, 250)])
    found = nest(upright, [sheet("small", 300, 200)], spacing_mm=SPACING)
    assert [p.placement.angle_deg for p in found.sheets[0].parts] == [90]
    assert_valid(found)


def test_a_part_longer_than_the_sheet_goes_on_the_diagonal():
    found = nest(to_place([box(0, 0, 300, 10)]), [sheet("s", 300, 200)], spacing_mm=SPACING)
    assert found.sheets[0].parts[0].placement.angle_deg % 90 != 0
    assert_valid(found)


@pytest.mark.parametrize("outline", [letter("T", 50), box(3, 3, 203, 60)])
def test_a_part_alone_lies_at_the_margin_unturned(outline):
    found = nest(to_place([outline]), [sheet("s", 300, 220)], spacing_mm=SPACING)
    placed = found.sheets[0].parts[0]
    assert placed.placement.angle_deg == 0
    assert placed.part.outline.bounds[:2] == pytest.approx((8, 8), abs=TWO_STEPS)


def test_a_part_of_exactly_the_usable_size_fits():
    found = nest(to_place([box(-1, -1, 283, 183)]), [sheet("s", 300, 200)], spacing_mm=SPACING)
    assert not found.unplaced
    assert_valid(found)


def test_nothing_to_place_takes_no_sheet():
    found = nest([], [sheet("s", 300, 200)], spacing_mm=SPACING)
    assert found.sheets == ()
    assert found.unplaced == ()


def test_parts_never_lie_in_each_others_counters():
    big = letter("O", 150)
    small = [letter("I", 20)] * 3
    found = nest(to_place([big, *small]), [sheet("s", 200, 170)], spacing_mm=2)
    assert_valid(found, spacing=2)
    for each in found.sheets:
        solids = [Polygon(p.part.outline.exterior) for p in each.parts]
        assert shapely.union_all(solids).area == pytest.approx(sum(s.area for s in solids))


def test_the_same_request_gives_the_same_sheets():
    parts = to_place(letters(30, seed=6))
    rack = [sheet("small", 300, 200), sheet("large", 600, 400)]
    assert nest(parts, rack, spacing_mm=SPACING) == nest(parts, rack, spacing_mm=SPACING)


def test_the_counts_on_the_rack_are_respected():
    parts = to_place(letters(60, seed=7))
    found = nest(parts, [sheet("small", 300, 200, count=2)], spacing_mm=SPACING)
    assert len(found.sheets) == 2
    placed = {p.mark for s in found.sheets for p in s.parts}
    missing = {u.mark for u in found.unplaced}
    assert missing
    assert placed | missing == {p.mark for p in parts}
    assert not placed & missing
    assert all("holds 2 sheets of 6 mm mdf" in u.why for u in found.unplaced)
    assert_valid(found)


def test_one_count_is_shared_between_fronts_and_backs():
    front = to_place([letter("L", 100)])
    back = to_place([letter("T", 100)], from_back=True)
    renamed = [type(p)("2" + p.mark[1:], 2, p.part, "mdf", 6.0, from_back=True) for p in back]
    found = nest(front + renamed, [sheet("s", 300, 200, count=1)], spacing_mm=SPACING)
    assert len(found.sheets) == 1
    assert [u.mark for u in found.unplaced] == [renamed[0].mark]


def test_faces_materials_and_thicknesses_never_share_a_sheet():
    rack = [
        sheet("mdf-6", 300, 200),
        sheet("mdf-3", 300, 200, thickness_mm=3.0),
        sheet("ply-6", 300, 200, material="birch-plywood"),
    ]
    parts = []
    for copy, more in enumerate(
        ({}, {"from_back": True}, {"thickness_mm": 3.0}, {"material": "birch-plywood"}), start=1
    ):
        for p in to_place(letters(3, seed=copy), **more):
            mark = f"{copy}.{p.part.name}"
            parts.append(
                type(p)(mark, copy, p.part, p.material, p.thickness_mm, p.grain, p.from_back)
            )
    found = nest(parts, rack, spacing_mm=SPACING)
    assert [s.number for s in found.sheets] == [1, 2, 3, 4]
    assert [(s.stock.key, s.from_back) for s in found.sheets] == [
        ("ply-6", False),
        ("mdf-3", False),
        ("mdf-6", False),
        ("mdf-6", True),
    ]
    assert all(len({p.copy for p in s.parts}) == 1 for s in found.sheets)


def test_a_thickness_a_little_off_is_the_same_sheet():
    parts = to_place([letter("L", 50)], thickness_mm=6.04)
    assert nest(parts, [sheet("s", 300, 200)], spacing_mm=SPACING).sheets
    parts = to_place([letter("L", 50)], thickness_mm=6.06)
    assert not nest(parts, [sheet("s", 300, 200)], spacing_mm=SPACING).sheets


def test_offcuts_go_first_and_the_rest_on_the_smallest_whole_sheet():
    rack = [
        sheet("large", 1200, 600),
        sheet("medium", 400, 300),
        sheet("left-over", 200, 150, count=1, offcut=True),
    ]
    found = nest(to_place([letter("O", 100)] * 4), rack, spacing_mm=SPACING)
    assert [s.stock.key for s in found.sheets] == ["left-over", "medium"]
    assert_valid(found)


def test_an_offcut_that_takes_nothing_is_left_on_the_rack():
    rack = [sheet("large", 600, 400), sheet("crumb", 60, 60, offcut=True)]
    found = nest(to_place([letter("L", 100)]), rack, spacing_mm=SPACING)
    assert [s.stock.key for s in found.sheets] == ["large"]


def test_large_sheets_are_filled_first_and_the_last_sheet_is_the_smallest_that_holds_the_rest():
    rack = [sheet("small", 200, 150), sheet("large", 400, 300)]
    found = nest(to_place([box(0, 0, 180, 130)] * 5), rack, spacing_mm=SPACING)
    assert [s.stock.key for s in found.sheets] == ["large", "small"]
    assert [len(s.parts) for s in found.sheets] == [4, 1]


def test_letters_interlock_better_than_their_boxes():
    """Two L of 100 × 60 side by side as boxes need 125.2 mm; turned into each other, less."""
    found = nest(to_place([letter("L", 100)] * 2), [sheet("s", 116, 136)], spacing_mm=SPACING)
    assert len(found.sheets) == 1
    assert_valid(found)


def test_density_of_the_quick_way_is_not_poor():
    """Bounding-box shelves reached a density of 0.24 on letters, a searched strip 0.34."""
    parts = to_place(letters(120, seed=8))
    found = nest(parts, [sheet("s", 600, 400)], spacing_mm=SPACING)
    full = found.sheets[:-1]
    assert full
    assert sum(s.used_share for s in full) / len(full) > 0.26


@pytest.mark.parametrize(
    ("outline", "facts", "words"),
    [
        (box(0, 0, 50, 50), {"material": "oak"}, ["no sheet of oak"]),
        (box(0, 0, 50, 50), {"thickness_mm": 4.0}, ["4 mm mdf", "3 mm and 6 mm"]),
        (box(0, 0, 500, 50), {}, ["500 mm × 50 mm", "284 mm × 184 mm", "does not help"]),
        (box(0, 0, 20, 250), {"grain": True}, ["20 mm × 250 mm", "grain"]),
        (box(0, 0, 50, 50), {"thickness_mm": 3.0}, ["No sheet of 3 mm mdf is left"]),
    ],
)
def test_a_part_without_room_is_told_why(outline, facts, words):
    rack = [sheet("s", 300, 200), sheet("none-left", 300, 200, count=0, thickness_mm=3.0)]
    found = nest(to_place([outline], **facts), rack, spacing_mm=SPACING)
    assert found.sheets == ()
    (unplaced,) = found.unplaced
    assert unplaced.mark == "1.face.000"
    for word in words:
        assert word in unplaced.why


def test_a_part_too_large_does_not_keep_the_others_from_their_place():
    parts = to_place([box(0, 0, 900, 900), letter("T", 40)])
    found = nest(parts, [sheet("s", 300, 200)], spacing_mm=SPACING)
    assert [p.mark for p in found.sheets[0].parts] == ["1.face.001"]
    assert [u.mark for u in found.unplaced] == ["1.face.000"]


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_a_senseless_spacing_is_refused(bad):
    with pytest.raises(ValueError, match="spacing"):
        nest([], [], spacing_mm=bad)


def test_a_mark_that_occurs_twice_is_refused():
    parts = to_place([letter("T", 40)]) * 2
    with pytest.raises(ValueError, match="mark"):
        nest(parts, [sheet("s", 300, 200)], spacing_mm=SPACING)


def test_a_search_leaves_as_much_of_the_last_sheet_whole_or_more():
    parts = to_place(letters(8, seed=9))
    rack = [sheet("s", 600, 400)]
    quick, searched = (
        nest(parts, rack, spacing_mm=SPACING, search_seconds=seconds) for seconds in (0, 1)
    )
    assert_valid(searched)
    reaches = [
        max(p.part.outline.bounds[2] for p in found.sheets[0].parts) for found in (quick, searched)
    ]
    assert reaches[1] <= reaches[0] + TWO_STEPS


def test_a_search_never_makes_a_layout_worse_and_is_measured_like_any():
    parts = to_place(letters(24, seed=11, low_mm=40))
    rack = [sheet("s", 300, 200)]
    quick = nest(parts, rack, spacing_mm=SPACING)
    searched = nest(parts, rack, spacing_mm=SPACING, search_seconds=3)
    assert_valid(searched)
    assert not searched.unplaced
    assert len(searched.sheets) <= len(quick.sheets)


@pytest.mark.parametrize("answer", ["nothing", "on top of each other", "off the sheet"])
def test_a_search_that_answers_nonsense_is_not_believed(monkeypatch, answer):
    from letterply.sheets.layouts.bottom_left import Filled

    def nonsense(pieces, *_args, **_more):
        if answer == "nothing":
            return None
        shift = 0.0 if answer == "on top of each other" else -40.0
        return [Filled(p.index, 0.0, shift * n, shift) for n, p in enumerate(pieces)]

    monkeypatch.setattr("letterply.sheets.layouts.layouts.search_strip", nonsense)
    parts = to_place(letters(30, seed=12, low_mm=40))
    rack = [sheet("s", 300, 200)]
    found = nest(parts, rack, spacing_mm=SPACING, search_seconds=2)
    assert found == nest(parts, rack, spacing_mm=SPACING)


@pytest.mark.parametrize("search_seconds", [0, 2])
def test_parts_keep_what_a_cutter_takes_from_margin_clamps_and_screws(search_seconds):
    places = (
        KeptClear("clamp", 0, 60, 45, 20),
        KeptClear("screw", 110, 70, diameter_mm=9),
        KeptClear("cut", 200, 0, 60, 50),
    )
    stock = replace(sheet("small", 300, 200), beside_mm=4.7, keep_clear=places)
    parts = to_place(letters(14 if not search_seconds else 60, seed=4))
    found = nest(parts, [stock], spacing_mm=SPACING, search_seconds=search_seconds)
    assert not found.unplaced
    usable = box(0, 0, 300, 200).buffer(-stock.margin_mm - 4.7 + TWO_STEPS, join_style="mitre")
    for part in (p for one in found.sheets for p in one.parts):
        assert usable.covers(part.part.outline)
        assert min(k.area.distance(part.part.outline) for k in places) >= 4.7 - TWO_STEPS


BITTEN = (
    ((0.0, 0.0), (300.0, 0.0), (300.0, 120.0), (180.0, 120.0), (180.0, 200.0), (0.0, 200.0)),
    ((60.0, 60.0), (120.0, 60.0), (110.0, 130.0), (70.0, 110.0)),
)
"""A left-over with a bite out of its corner and a hole."""


@pytest.mark.parametrize("turned", [False, True])
def test_parts_keep_the_margin_from_the_edge_of_an_irregular_left_over_and_its_holes(turned):
    stock = replace(
        sheet("left-1", 300, 200), beside_mm=4.7, outline_mm=BITTEN, offcut=True, turned=turned
    )
    found = nest(to_place(letters(14, seed=4)), [stock], spacing_mm=SPACING)
    (one,) = found.sheets
    assert len(one.parts) > 5
    material = Polygon(BITTEN[0], BITTEN[1:])
    if turned:  # a quarter, counter-clockwise about the origin, then back on to the bed
        material = shapely.affinity.rotate(material, 90, origin=(0, 0))
        material = shapely.affinity.translate(material, 200)
    assert material.symmetric_difference(one.stock.material_area).area < 1e-6
    away = stock.margin_mm + 4.7 - TWO_STEPS
    for part in one.parts:
        solid = Polygon(part.part.outline.exterior)
        assert material.contains(solid)
        assert material.boundary.distance(solid) >= away
    parts = sum(p.part.outline.area for p in one.parts)
    assert one.used_share == pytest.approx(parts / material.area)


def test_what_does_not_fit_on_a_left_over_goes_on_a_whole_sheet():
    ring = (
        BITTEN[0],
        (
            (20.0, 20.0),
            (280.0, 20.0),
            (280.0, 100.0),
            (170.0, 100.0),
            (170.0, 190.0),
            (20.0, 190.0),
        ),
    )
    stock = [
        replace(sheet("left-1", 300, 200), beside_mm=4.7, outline_mm=ring, offcut=True),
        sheet("whole", 300, 200),
    ]
    found = nest(to_place(letters(4, seed=4)), stock, spacing_mm=SPACING)
    assert not found.unplaced
    assert {s.stock.key for s in found.sheets} == {"whole"}
