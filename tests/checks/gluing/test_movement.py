"""Movement of glued layers, worked by hand from the figures of the catalogue."""

from dataclasses import replace

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from boathouse import changed, rack_letters, rack_sign
from letterply.catalogue.loading import load_catalogue
from letterply.checks.gluing.movement import find_movement, strains
from letterply.errors import UnknownName
from letterply.findings import RemedyAction, Severity
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.limits import MovementRules
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack
from letterply.stacks.model import Layer, Part, Stack
from letterply.stacks.work import Hole

CATALOGUE = load_catalogue()


def glued(lower, upper, outline=box(0, 0, 200, 50), base=box(-10, -10, 210, 60)):  # noqa: B008
    """Return a piece of one material on a larger one of another."""
    parts = (Part("board", "board", base), Part("face.W", "face", outline, "W"))
    return Stack(
        "Whimbrel",
        (
            Layer("board", lower, 9.0, 0.0, parts[:1]),
            Layer("face", upper, 3.0, 9.0, parts[1:]),
        ),
    )


def only(stack, rules=None):
    (found,) = find_movement(stack, CATALOGUE, rules or MovementRules())
    return found, dict(found.data)


def test_acrylic_on_mdf():
    """0.33 % of MDF by humidity, 77.4e-6 · 15 K of acrylic by heat, over 200 mm along x.

    0.66 mm + 0.2322 mm = 0.8922 mm; each edge slips half of it.
    """
    found, data = only(glued("mdf", "acrylic-cast"))
    assert found.measured == pytest.approx(0.8922, abs=1e-4)
    assert data["humidity_mm"] == pytest.approx(0.66, abs=1e-4)
    assert data["heat_mm"] == pytest.approx(0.2322, abs=1e-4)
    assert data["edge_slip_mm"] == pytest.approx(0.4461, abs=1e-4)
    assert found.limit == 0.25
    assert found.severity is Severity.NOTE
    assert found.where.points == ((0.0, 25.0), (200.0, 25.0))


def test_solid_maple_moves_across_its_grain_which_runs_along_x():
    """1.412 % across over 6 to 10 %, 0.1 % · 4 / 30 along; the acrylic only by heat, 0.1161 %.

    Over 50 mm across: 0.706 + 0.05805. Over 200 mm along: 0.02667 + 0.2322.
    """
    rules = MovementRules(rigid_slip_mm=0.2)
    found, data = only(glued("sugar-maple", "acrylic-cast"), rules)
    assert found.where.points == ((100.0, 0.0), (100.0, 50.0))
    assert found.measured == pytest.approx(0.76405, abs=1e-4)
    along, across = strains(CATALOGUE.material("sugar-maple"), rules)[0]
    assert across == pytest.approx(0.01412, abs=1e-9)
    assert along == pytest.approx(0.001 * 4 / 30, abs=1e-12)
    long_only = glued("sugar-maple", "acrylic-cast", box(0, 0, 200, 5))
    found, data = only(long_only, rules)
    assert data["length_mm"] == 200
    assert found.measured == pytest.approx(0.02667 + 0.2322, abs=1e-4)


def test_plywood_moves_less_along_its_face_grain():
    """0.27 % across and 0.18 % along (FPRL, 22 species): on MDF 0.06 % and 0.15 % remain."""
    rules = MovementRules(rigid_slip_mm=0.01)
    square = glued("birch-plywood", "mdf", box(0, 0, 50, 50))
    found, data = only(square, rules)
    assert found.measured == pytest.approx(50 * 0.0015, abs=1e-4)
    assert data["heat_mm"] == 0
    tall = glued("birch-plywood", "mdf", box(0, 0, 10, 50))
    found, _ = only(tall, rules)
    assert found.measured == pytest.approx(50 * 0.0006, abs=1e-4)


def test_metals_and_plastics_move_apart_by_heat_alone():
    """Brass 20e-6 and acrylic 77.4e-6 a kelvin, 15 K, 400 mm: 0.3444 mm."""
    long = glued("acrylic-cast", "brass", box(0, 0, 400, 20), box(0, 0, 400, 20))
    found, data = only(long)
    assert found.measured == pytest.approx(400 * 57.4e-6 * 15, abs=1e-4)
    assert data["humidity_mm"] == 0
    assert find_movement(long, CATALOGUE, MovementRules(temperature_swing_k=0)) == ()


@pytest.mark.parametrize("material", ["mdf", "birch-plywood", "sugar-maple", "acrylic-cast"])
def test_one_material_does_not_move_against_itself(material):
    assert find_movement(glued(material, material), CATALOGUE, MovementRules()) == ()


def test_only_what_is_glued_counts():
    """The face stands out over a board 60 mm wide: 60 mm of it are glued, from 20 to 80."""
    stack = glued("mdf", "acrylic-cast", box(0, 0, 200, 10), box(20, 0, 80, 60))
    found, data = only(stack)
    assert data["length_mm"] == 60
    assert found.where.points == ((20.0, 5.0), (80.0, 5.0))
    apart = glued("mdf", "acrylic-cast", box(0, 0, 200, 10), box(0, 100, 200, 160))
    assert find_movement(apart, CATALOGUE, MovementRules()) == ()


def test_an_elastic_adhesive_bears_more_and_the_longest_pieces_more_than_any():
    stack = glued("mdf", "acrylic-cast")
    assert find_movement(stack, CATALOGUE, MovementRules(elastic=True)) == ()
    long = glued("mdf", "acrylic-cast", box(0, 0, 300, 50), box(0, 0, 300, 50))
    found, _ = only(long)
    assert found.severity is Severity.CAUTION
    assert found.limit == 0.25
    found, _ = only(long, MovementRules(elastic=True))
    assert found.severity is Severity.CAUTION
    assert found.limit == 1.0
    assert RemedyAction.USE_ELASTIC_ADHESIVE not in [r.action for r in found.remedies]


def test_pieces_of_the_length_that_the_remedy_names_are_fine():
    found, _ = only(glued("mdf", "acrylic-cast"))
    longest = next(r.value for r in found.remedies if r.action is RemedyAction.SPLIT)
    assert longest == pytest.approx(56.0, abs=0.1)
    short = glued("mdf", "acrylic-cast", box(0, 0, longest - 0.05, 20))
    assert find_movement(short, CATALOGUE, MovementRules()) == ()
    longer = glued("mdf", "acrylic-cast", box(0, 0, longest + 0.1, 20))
    assert find_movement(longer, CATALOGUE, MovementRules())


def test_holes_are_slotted_only_where_two_dowels_hold_against_each_other():
    def slots(holes):
        stack = glued("mdf", "acrylic-cast")
        face = replace(stack.layers[1].parts[0], holes=holes)
        stack = replace(stack, layers=(stack.layers[0], replace(stack.layers[1], parts=(face,))))
        found, _ = only(stack)
        return [r for r in found.remedies if r.action is RemedyAction.SLOT_HOLES]

    one, two = Hole(20, 25, 3, 1.8, "dowel"), Hole(180, 25, 3, 1.8, "dowel")
    assert slots((one,)) == []
    (slot,) = slots((one, two))
    assert slot.value == pytest.approx(0.89, abs=0.01)


def test_a_shop_with_a_wider_climate_sees_more_movement():
    """21 °C, 30 % to 65 % relative humidity (Wood Handbook ch. 4): 5.8 % instead of 4 %."""
    dry, damp = 6.2, 12.0
    rules = MovementRules(driest_percent=dry, dampest_percent=damp, temperature_swing_k=0)
    found, _ = only(glued("sugar-maple", "acrylic-cast"), rules)
    assert found.measured == pytest.approx(50 * 0.00353 * (damp - dry), abs=1e-4)


@given(st.floats(30, 900), st.floats(1.0, 4.0))
def test_movement_grows_with_the_size_and_in_no_other_way(length, times):
    rules = MovementRules(rigid_slip_mm=0.01)
    small, large = (
        only(glued("mdf", "acrylic-cast", box(0, 0, s, 10), box(-1, -1, s + 1, 11)), rules)[0]
        for s in (length, length * times)
    )
    assert large.measured == pytest.approx(times * small.measured, rel=1e-3, abs=1e-3)


def test_parts_of_a_layer_are_told_once_and_counted():
    recipe = changed(rack_letters("WMW"), layers__0__material="sugar-maple",
                     layers__0__thickness="6 mm")  # fmt: skip
    stack = build_stack(parse_recipe(recipe), CATALOGUE, FontLibrary())
    found, data = only(stack)
    assert data["parts"] == 3
    assert "3 parts" in found.why
    assert found.part in {p.name for p in stack.layers[1].parts}


def test_the_rack_sign_tells_of_its_long_joined_letters():
    stack = build_stack(parse_recipe(rack_sign()), CATALOGUE, FontLibrary())
    found = find_movement(stack, CATALOGUE)
    assert [f.layer for f in found] == ["backer", "face"]
    by_hand = max(
        (0.0033 + 77.4e-6 * 15) * (b[k + 2] - b[k])
        for part in stack.layer("face").parts
        for b in (shapely.intersection(part.outline, stack.layer("backer").region).bounds,)
        for k in (0, 1)
    )
    assert found[1].measured == pytest.approx(by_hand, abs=1e-4)


def test_rules_and_materials_that_make_no_sense_are_refused():
    for wrong in (
        {"driest_percent": 5.0},
        {"driest_percent": 11.0},
        {"rigid_slip_mm": 0.0},
        {"rigid_slip_mm": 2.0},
        {"temperature_swing_k": -1.0},
    ):
        with pytest.raises(ValueError, match=r"\w"):
            MovementRules(**wrong)
    with pytest.raises(UnknownName):
        find_movement(glued("mdf", "slate"), CATALOGUE)
