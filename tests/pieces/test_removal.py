"""Test pieces cut with cutters that are not what they were sold as, and plans that know it then.

What is removed is swept by the proof from the text of the programs; the expected values are the
sizes of the cutters that the sweep was given.
"""

from __future__ import annotations

from typing import Any

import pytest

from letterply.cutting.plan import DEFAULT_TOLERANCES
from letterply.errors import InputError
from letterply.pieces import shop_for
from letterply.pieces.shapes import rectangle
from pieces.bench import Bench, measured, piece_of, shop_of, told, with_cutter

STRAY_MM = 2 * DEFAULT_TOLERANCES.path_clearance_mm + 0.012
"""By so much the size of a part may differ that is cut as it was drawn: what paths keep off on both
sides, and what the sweep leaves at its edges."""

BEAM = {
    "machine": "bench-beam",
    "hold_down": "bed",
    "power": [{"material": "birch-plywood", "thickness": 6.5, "cut": 60}],
}


def plate(side: float) -> dict[str, Any]:
    outline = {"kind": "plate", "shape": "rectangle", "width": side, "height": side}
    layer = {"name": "rest", "material": "birch-plywood", "thickness": 6.5, "outline": outline}
    return {"title": "Rest for the Dunlin's plug", "layers": [layer]}


@pytest.mark.parametrize(("key", "true_mm"), [("flat-3175", 3.05), ("flat-6", 6.16)])
def test_a_cutter_is_measured_and_the_next_part_comes_out_as_drawn(key: str, true_mm: float):
    shop, catalogue = shop_of(cutters=[key])
    true = with_cutter(key, {"diameter_mm": true_mm}, cutters=[key])
    asked = {"kind": "diameter", "cutter": key}
    _, lengths = measured(asked, shop, true, catalogue, 0.01)
    found = told(asked, shop, catalogue, lengths, 0.01)
    (change,) = found.changes
    assert abs(change.new - true_mm) <= change.uncertainty + 0.006
    across = ((-20.0, 3.0), (20.0, 3.0))
    before = Bench(plate(40), shop, true, catalogue).between("rest", across, -0.5, inside=False)
    assert abs(before - 40) > 0.09
    better = with_cutter(key, found.cutter, cutters=[key])
    after = Bench(plate(40), better, true, catalogue).between("rest", across, -0.5, inside=False)
    assert abs(after - 40) <= STRAY_MM + change.uncertainty


def test_the_kerf_of_a_beam_is_measured_like_a_diameter():
    shop, catalogue = shop_of(**BEAM)
    (key,) = [c.key for c in shop.cutters if c.kind == "beam"][:1]
    true = with_cutter(key, {"diameter_mm": 0.31}, **BEAM)
    asked = {"kind": "diameter", "cutter": key}
    _, lengths = measured(asked, shop, true, catalogue, 0.01)
    found = told(asked, shop, catalogue, lengths, 0.01)
    (change,) = found.changes
    assert abs(change.new - 0.31) <= change.uncertainty + 0.006
    better = with_cutter(key, found.cutter, **BEAM)
    across = ((-20.0, 3.0), (20.0, 3.0))
    after = Bench(plate(40), better, true, catalogue).between("rest", across, -0.5, inside=False)
    assert abs(after - 40) <= STRAY_MM + change.uncertainty


def test_a_v_bit_is_measured_and_grooves_come_out_as_wide_as_drawn():
    shop, catalogue = shop_of(cutters=["vbit-60"])
    really = {"included_angle_deg": 63.4, "tip_diameter_mm": 0.22}
    true = with_cutter("vbit-60", really, cutters=["vbit-60"])
    asked = {"kind": "angle", "cutter": "vbit-60"}
    piece, lengths = measured(asked, shop, true, catalogue, 0.01)
    found = told(asked, shop, catalogue, lengths, 0.01)
    angle, tip = found.changes
    assert abs(angle.new - 63.4) <= angle.uncertainty
    assert abs(tip.new - 0.22) <= tip.uncertainty
    drawn = [r.ends[1][0] - r.ends[0][0] for r in piece.reads]
    before = [abs(w - lengths[r.name]) for w, r in zip(drawn, piece.reads, strict=True)]
    assert max(before) > 0.3
    better = with_cutter("vbit-60", found.cutter, cutters=["vbit-60"])
    _, again = piece_of(asked, better, catalogue)
    bench = Bench(again.recipe, shop_for(again, better), true, catalogue)
    for read in again.reads:
        wide = bench.between(read.layer, read.ends, 0.0, inside=True)
        assert abs(wide - (read.ends[1][0] - read.ends[0][0])) <= 0.03


def test_the_step_that_fits_is_the_gap_that_later_inlays_have():
    shop, catalogue = shop_of(cutters=["flat-3175"])
    true = with_cutter("flat-3175", {"diameter_mm": 3.12}, cutters=["flat-3175"])
    need_mm = 0.07  # all round, for these hands
    asked = {"kind": "fit", "cutter": "flat-3175"}
    _, piece = piece_of(asked, shop, catalogue)
    bench = Bench(piece.recipe, shop_for(piece, shop), true, catalogue)

    def gap(bench: Bench, board: str, plug: str, at: tuple[float, float]) -> float:
        x, y = at
        ends = ((x - 10, y), (x + 10, y))
        hole = bench.between(board, ends, -0.5, inside=True)
        stands = bench.between(plug, ((-10.0, 0.0), (10.0, 0.0)), -0.5, inside=False)
        return (hole - stands) / 2

    gaps = {r.letter: gap(bench, "ladder", "plug", r.at) for r in piece.rungs}
    assert sorted(gaps.values()) == list(gaps.values())
    letter = next(k for k, wide in gaps.items() if wide >= need_mm)
    found = told(asked, shop, catalogue, {}, 0.01, {"fits": letter})
    assert found.fit is not None
    fits = [found.fit.model_dump(mode="json", by_alias=True, exclude_none=True)]
    better, _ = shop_of(cutters=["flat-3175"], fits=fits)
    board = {"kind": "plate", "shape": "rectangle", "width": 60, "height": 60}
    round_plate = {**board, "shape": "rounded", "width": 20, "height": 20, "corner": 4}
    stuff = {"material": "birch-plywood", "thickness": 6.5}
    recess = {"kind": "recess", "depth": 2, "of": "bird"}
    recipe = {
        "title": "Board with the mark of the Sanderling",
        "layers": [
            {"name": "board", **stuff, "outline": board, "features": [recess]},
            {"name": "bird", **stuff, "outline": round_plate},
        ],
    }
    cut = Bench(recipe, better, true, catalogue)
    assert not [f for f in cut.stack.findings if f.code == "fit"]
    made_gap = gap(cut, "board", "bird", (0.0, 0.0))
    assert need_mm - 0.01 <= made_gap <= need_mm + piece.nominal["step_mm"] + 0.02
    assert any("clearance of birch plywood" in t for p in cut.made.plans for t in p.measured)


def test_a_dowel_hole_is_as_wide_as_the_step_that_fits():
    fit = {"kind": "dowel", "into": "birch-plywood", "diameter": 6, "clearance": 0.075}
    shop, catalogue = shop_of(cutters=["flat-3175"], fits=[fit])
    stuff = {"material": "birch-plywood", "thickness": 6.5}
    board = {"kind": "plate", "shape": "rectangle", "width": 80, "height": 50}
    recipe = {
        "title": "Two boards",
        "layers": [
            {"name": "low", **stuff, "outline": board},
            {"name": "top", **stuff, "outline": {**board, "width": 60, "height": 40}},
        ],
        "align": {"kind": "dowels", "diameter": 6},
    }
    bench = Bench(recipe, shop, shop, catalogue)
    part = bench.stack.layers[0].parts[0]
    assert {h.diameter_mm for h in part.holes} == {6.15}
    hole = part.holes[0]
    at = hole.x_mm - 40, hole.y_mm - 25
    ends = ((at[0] - 3, at[1]), (at[0] + 3, at[1]))
    assert bench.between("low", ends, -0.5, inside=True) == pytest.approx(6.15, abs=STRAY_MM)
    plain, _ = shop_of(cutters=["flat-3175"])
    without = Bench(recipe, plain, plain, catalogue)
    notes = [f for f in without.stack.findings if f.code == "fit"]
    assert [str(f.severity) for f in notes] == ["note", "note"]
    assert {h.diameter_mm for h in without.stack.layers[0].parts[0].holes} == {6.0}


def test_a_sheet_is_cut_as_thick_as_it_was_measured():
    true = {"material": "birch-plywood", "thickness": 6.5, "measured": 6.21, "flatness": 0.5}
    shop, catalogue = shop_of(cutters=["flat-3175"], thicknesses=[true])
    made = Bench(plate(40), shop, shop, catalogue).made
    (plan,) = made.plans
    lowest = min(r.lowest_z_mm for p in made.proofs for r in p.readings)
    assert lowest == pytest.approx(-(6.21 + plan.through_mm), abs=0.002)
    assert any("6.21 mm" in text for text in plan.measured)
    assert any(f"measured: {text[:20]}" in plan.programs[0].text for text in plan.measured)
    assert [f.code for f in plan.findings] == ["flat"]


def test_a_floor_that_the_measured_sheet_has_not_is_refused():
    true = {"material": "birch-plywood", "thickness": 6.5, "measured": 6.0}
    board = {"kind": "plate", "shape": "rectangle", "width": 60, "height": 60}
    recess = {"kind": "artwork", "work": "recess", "depth": 6.2, "artwork": rectangle(20, 20)}
    layer = {"name": "board", "material": "birch-plywood", "thickness": 6.5, "outline": board}
    recipe = {"title": "Floor", "layers": [{**layer, "features": [recess]}]}
    shop, catalogue = shop_of(cutters=["flat-3175"], thicknesses=[true])
    with pytest.raises(InputError, match="through a layer of 6 mm"):
        Bench(recipe, shop, shop, catalogue)
