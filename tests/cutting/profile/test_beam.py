"""Beam cutting: kerf made up for, small features first, refused where unsafe."""

from dataclasses import replace

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
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.verdict import prove_sheet
from letterply.requests.recipe import parse_recipe
from letterply.requests.shop import HoldDown
from letterply.stacks.build import build_stack

POWER = [
    {"material": "acrylic-cast", "thickness": "3 mm", "cut": 62.5, "feed": "480 mm/min"},
    {"material": "birch-plywood", "thickness": "6.5 mm", "cut": 90, "passes": 2},
    {"material": "mdf", "thickness": "6 mm", "cut": 80},
]


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


def made(catalogue, recipe, **shop):
    stack = build_stack(parse_recipe(recipe), catalogue, FontLibrary())
    shop = resolve_shop({"machine": "bench-beam", "power": POWER, **shop}, catalogue)
    return make_plans(stack, shop, catalogue)


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
        paths = sum(len(o.paths) for o in plan.operations)
        assert lit == ["M5", *["M3", "M5"] * paths, "M5"]
        on = False
        for line in words:
            on = line[0] == "M3" or (on and line[0] != "M5")
            assert not (on and line[0] == "G0")


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


def test_work_in_the_face_asks_for_a_power_of_its_own(catalogue):
    recipe = changed(locker_tag(), layers__0__material="acrylic-cast", layers__0__thickness=3)
    plans = made(catalogue, recipe)
    assert not plans.ready
    (missing,) = (f for f in plans.findings if f.code == "power")
    assert "draw lines" in missing.why
    assert made(catalogue, recipe, power=[{**POWER[0], "scribe": 12}]).ready


def test_a_groove_is_no_work_of_a_beam(catalogue):
    groove = [{"kind": "groove_lettering", "floor_at": 1}]
    tag = {"material": "acrylic-cast", "thickness": 3, "features": groove}
    recipe = changed(locker_tag(), **{f"layers__0__{k}": v for k, v in tag.items()})
    plans = made(catalogue, recipe)
    assert not plans.ready
    assert [f.why for f in plans.findings if "a groove" in f.why]


def test_without_a_power_of_the_makers_own_there_is_no_program(catalogue):
    recipe = changed(rack_letters("A"), align={"kind": "none"})
    plans = made(catalogue, recipe, power=POWER[:1])
    assert not plans.ready
    bare = [p for p in plans.plans if p.sheet.stock.material != "acrylic-cast"]
    assert bare
    assert not any(p.programs for p in bare)
    told = [f for f in plans.findings if f.code == "power"]
    assert len(told) == len(bare) == len([f for f in plans.findings if f.severity == "blocker"])
    assert "shop.power" in told[0].remedies[0].text
    assert all(p.programs for p in plans.plans if p not in bare)


@pytest.mark.parametrize(("full", "word"), [(1000.0, "S625"), (255.0, "S159.375"), (1.0, "S0.625")])
def test_the_s_word_is_the_makers_share_of_the_machines_full_power(catalogue, full, word):
    shop = resolve_shop({"machine": "bench-beam", "power": POWER}, catalogue)
    shop = replace(shop, machine=replace(shop.machine, power_full=full))
    plans = make_plans(build_stack(bare_tag("acrylic-cast", 3), catalogue, FontLibrary()), shop,
                       catalogue)  # fmt: skip
    assert plans.ready, [f.why for f in plans.findings]
    lines = plans.plans[0].programs[0].text.splitlines()
    assert {w for line in lines if line.startswith("M3 ") for w in line.split()} == {"M3", word}
    assert any("62.5 percent of full power, feed 480 mm/min" in line for line in lines)


def bare_tag(material, thickness):
    return parse_recipe(
        changed(locker_tag(), layers__0__material=material, layers__0__thickness=thickness,
                layers__0__features=[])
    )  # fmt: skip


def test_passes_go_round_a_cut_again(catalogue):
    stack = build_stack(bare_tag("mdf", 6), catalogue, FontLibrary())

    def length(passes):
        power = [{"material": "mdf", "thickness": 6, "cut": 80, "passes": passes}]
        plans = make_plans(
            stack, resolve_shop({"machine": "bench-beam", "power": power}, catalogue), catalogue
        )
        assert plans.ready, [f.why for f in plans.findings]
        return sum(p.length_mm for o in plans.plans[0].operations for p in o.paths)

    once, thrice = length(1), length(3)
    outline = stack.layers[0].parts[0].outline
    assert thrice - once == pytest.approx(2 * outline.length, rel=0.02)


def test_lines_are_drawn_at_the_power_to_scribe_before_anything_is_cut(catalogue):
    recipe = changed(locker_tag(), layers__0__material="mdf", layers__0__thickness=6)
    power = [{"material": "mdf", "thickness": 6, "cut": 80, "scribe": 12.5}]
    plans = made(catalogue, recipe, power=power)
    assert plans.ready, [f.why for f in plans.findings]
    text = plans.plans[0].programs[0].text
    lit = [line for line in text.splitlines() if line.startswith("M3 ")]
    assert lit == sorted(lit)
    assert set(lit) == {"M3 S125", "M3 S800"}
    sheet = plans.plans[0].sheet

    def codes(program):
        source = ProgramSource("p.nc", ("beam-015",), program)
        shop = resolve_shop({"machine": "bench-beam", "power": power}, catalogue)
        proof = prove_sheet(
            sheet,
            [source],
            Setup(
                cutters={c.key: c for c in shop.cutters},
                machine=shop.machine,
                through_mm=0.2,
                hold_down=HoldDown.BED,
                tabs={},
                power=shop.power[0],
            ),
        )
        return {f.code for f in proof.faults if f.severity == "blocker"}

    assert codes(text) == set()
    assert "gouge" in codes(text.replace("S125", "S800"))
    assert "not-through" in codes(text.replace("S800", "S125"))
    assert "power" in codes(text.replace("S125", "S250"))
    head, _, rest = text.partition("M3 S125")
    assert "uncut" in codes(head + rest.partition("M3 S125")[1] + rest.partition("M3 S125")[2])


def test_parts_lie_a_sheet_thickness_and_a_kerf_apart(catalogue):
    shop = resolve_shop({"machine": "bench-beam"}, catalogue)
    assert part_spacing(shop, catalogue.material("mdf"), 6) == pytest.approx(6.15)


@pytest.mark.parametrize("mouth", [0.3, 0.5, 0.9, 1.4, 3.0])
def test_the_way_from_the_pierce_never_crosses_the_part(catalogue, mouth):
    """Comb: the straightest places of its outline lie in slots too narrow for a pierce."""
    slots = [box(5 + 6 * k, 2, 5 + 6 * k + mouth, 60) for k in range(6)]
    comb = box(0, 0, 42, 50).difference(shapely.union_all(slots))
    stock = [{"material": "mdf", "thickness_mm": 6, "width_mm": 90, "height_mm": 80}]
    shop = resolve_shop({"machine": "bench-beam", "stock": stock, "power": POWER}, catalogue)
    sheet = hand_made.sheet(hand_made.part(comb))
    plan = plan_sheet(sheet, shop, catalogue, 6.15)
    outline = plan.sheet.parts[0].part.outline
    for op in plan.operations:
        for path in op.paths:
            way = shapely.LineString([path.start[:2], path.ends[0, :2]])
            assert way.distance(outline) >= 0.07
