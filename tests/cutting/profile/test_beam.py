"""Beam cutting: kerf made up for, small features first, refused where unsafe."""

import numpy as np
import pytest
import shapely
from shapely import box

from boathouse import changed, locker_tag, rack_letters
from cutting import hand_made
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.errors import InputError
from letterply.jobs.plans import make_plans
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


def made(catalogue, recipe, **shop):
    stack = build_stack(parse_recipe(recipe), catalogue, FontLibrary())
    return make_plans(stack, resolve_shop({"machine": "bench-beam", **shop}, catalogue), catalogue)


@pytest.fixture(scope="module")
def letters(catalogue):
    return made(catalogue, changed(rack_letters("ABO"), align={"kind": "none"}))


def test_plans_of_a_beam_machine_pass_their_proof(letters):
    assert letters.plans
    assert all(proof.passed for proof in letters.proofs)


def test_paths_lie_half_the_kerf_off_the_outline(letters):
    half = 0.15 / 2
    for plan in letters.plans:
        outlines = {p.mark: p.part.outline for p in plan.sheet.parts}
        for op in plan.operations:
            rim = outlines[op.mark].boundary
            for path in op.paths:
                on_path = shapely.points(path.ends[1:, :2])
                away = shapely.distance(on_path, rim)
                assert away.min() >= half - 1e-6
                assert away.max() <= half + 0.03
                assert not path.ends[:, 2].any()


def test_the_beam_pierces_in_the_waste_and_never_on_the_part(letters):
    for plan in letters.plans:
        outlines = {p.mark: p.part.outline for p in plan.sheet.parts}
        for op in plan.operations:
            for path in op.paths:
                pierce = shapely.Point(path.start[:2])
                part = outlines[op.mark]
                holes = [shapely.Polygon(r) for r in part.interiors]
                room = [
                    shapely.maximum_inscribed_circle(h).length for h in holes if h.contains(pierce)
                ]
                assert part.distance(pierce) >= min([0.4, *(0.9 * r for r in room)])


def test_small_holes_go_before_large_ones_and_the_outline_last(letters):
    for plan in letters.plans:
        for mark in {o.mark for o in plan.operations}:
            mine = [o for o in plan.operations if o.mark == mark]
            assert [o.inside for o in mine] == sorted((o.inside for o in mine), reverse=True)
            for op in mine:
                sizes = [np.ptp(p.ends[1:, :2], axis=0).prod() for p in op.paths]
                assert sizes == sorted(sizes)


def test_the_program_lights_the_beam_for_each_path_and_moves_no_height(letters):
    for plan in letters.plans:
        (program,) = plan.programs
        words = [line.split() for line in program.text.splitlines() if not line.startswith("(")]
        assert not any(w.startswith("Z") for line in words for w in line)
        lit = [line[0] for line in words if line[0] in ("M3", "M5")]
        assert lit == ["M3", "M5"] * (len(lit) // 2)
        assert len(lit) == 2 * sum(len(o.paths) for o in plan.operations)


@pytest.mark.parametrize(("material", "why"), [("pvc-sheet", "hydrogen chloride"),
                                               ("brass", "metal")])  # fmt: skip
def test_what_must_not_be_burnt_is_refused_with_the_reason(catalogue, material, why):
    """PVC: International Laser Safety Conference 1990 (Laser Institute of America)."""
    recipe = changed(locker_tag(), layers__0__material=material, layers__0__features=[])
    stock = [{"material": material, "thickness_mm": 1, "width_mm": 200, "height_mm": 100}]
    with pytest.raises(InputError) as caught:
        made(catalogue, recipe, stock=stock)
    assert caught.value.code == "beam-refused"
    assert why in caught.value.message


def test_work_in_the_face_is_told_to_be_left_out(catalogue):
    recipe = changed(locker_tag(), layers__0__material="acrylic-cast", layers__0__thickness=3)
    found = made(catalogue, recipe).findings
    assert any(f.code == "uncut" and "scribed lines" in f.why for f in found)


def test_parts_lie_a_sheet_thickness_and_a_kerf_apart(catalogue):
    shop = resolve_shop({"machine": "bench-beam"}, catalogue)
    assert part_spacing(shop, catalogue.material("mdf"), 6) == pytest.approx(6.15)


@pytest.mark.parametrize("mouth", [0.3, 0.5, 0.9, 1.4, 3.0])
def test_the_way_from_the_pierce_never_crosses_the_part(catalogue, mouth):
    """Comb: the straightest places of its outline lie in slots too narrow for a pierce."""
    slots = [box(5 + 6 * k, 2, 5 + 6 * k + mouth, 60) for k in range(6)]
    comb = box(0, 0, 42, 50).difference(shapely.union_all(slots))
    stock = [{"material": "mdf", "thickness_mm": 6, "width_mm": 90, "height_mm": 80}]
    shop = resolve_shop({"machine": "bench-beam", "stock": stock}, catalogue)
    sheet = hand_made.sheet(hand_made.part(comb))
    plan = plan_sheet(sheet, shop, catalogue, 6.15)
    outline = plan.sheet.parts[0].part.outline
    for op in plan.operations:
        for path in op.paths:
            way = shapely.LineString([path.start[:2], path.ends[0, :2]])
            assert way.distance(outline) >= 0.07
