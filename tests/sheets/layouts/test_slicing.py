"""A strip cut into sheets: nothing lost, nothing nearer than allowed, nothing over the edge."""

from shapely.affinity import affine_transform, translate

from letterply.catalogue.kept_clear import KeptClear
from letterply.sheets.layouts.bottom_left import Piece
from letterply.sheets.layouts.footprints import FootprintMaker
from letterply.sheets.layouts.slicing import lay_by_slices
from letterply.sheets.nesting import QUARTER_TURNS_DEG, nest
from letterply.sheets.verifying import least_gap
from letterply.stacks.model import rigid
from sheets.shapes import letters, sheet, to_place

SIZE, SPACING = (300.0, 200.0), 5.0


def pieces(count, **more):
    return [Piece(n, o, QUARTER_TURNS_DEG) for n, o in enumerate(letters(count, seed=3, **more))]


def sliced(queue, stock=None, **more):
    facts = {"sheets": 9, "seconds": 1, "seed": 1} | more
    stock = stock or sheet("s", *SIZE, margin_mm=0)
    return lay_by_slices(queue, stock, SPACING, FootprintMaker(1.0, SPACING), **facts)


def test_every_piece_lies_on_one_sheet_apart_from_the_others():
    queue = pieces(60)
    found = sliced(queue)
    assert len(found) > 1
    assert sorted(f.index for there in found for f in there) == list(range(60))
    for there in found:
        outlines = [
            affine_transform(queue[f.index].outline, rigid(f.turn_deg, f.x_mm, f.y_mm))
            for f in there
        ]
        assert least_gap(outlines, up_to_mm=SPACING) >= SPACING - 1e-4
        for outline in outlines:
            left, low, right, high = outline.bounds
            assert min(left, low) >= -1e-6
            assert right <= SIZE[0] + 1e-6
            assert high <= SIZE[1] + 1e-6


def test_what_comes_over_a_clamp_goes_into_a_gap_or_onto_another_sheet():
    places = (KeptClear("clamp", 90, 60, 50, 50), KeptClear("screw", 220, 120, diameter_mm=12))
    stock = sheet("s", *SIZE, margin_mm=0, beside_mm=4.0, keep_clear=places)
    queue = pieces(40)
    found = sliced(queue, stock)
    assert sorted(f.index for there in found for f in there) == list(range(40))
    for there in found:
        outlines = [
            affine_transform(queue[f.index].outline, rigid(f.turn_deg, f.x_mm, f.y_mm))
            for f in there
        ]
        assert least_gap(outlines, up_to_mm=SPACING) >= SPACING - 1e-4
        on_sheet = [translate(o, stock.edge_mm, stock.edge_mm) for o in outlines]
        assert min(k.area.distance(o) for k in places for o in on_sheet) >= 4.0 - 1e-4


def test_too_few_sheets_or_a_piece_too_long_are_no_answer():
    assert sliced(pieces(60), sheets=1) is None
    assert sliced(pieces(3, low_mm=190, high_mm=199) + [long_piece()]) is None


def long_piece():
    (outline,) = letters(1, seed=1, low_mm=400, high_mm=400.1)
    return Piece(9, outline, (90.0,))


def test_a_search_over_many_sheets_is_never_worse_than_the_quick_way():
    parts = to_place(letters(80, seed=5))
    stock = [sheet("a", 316, 216, 20)]
    quick = nest(parts, stock, spacing_mm=SPACING)
    searched = nest(parts, stock, spacing_mm=SPACING, search_seconds=3)
    assert len(searched.sheets) <= len(quick.sheets)
    assert sum(len(s.parts) for s in searched.sheets) == 80
