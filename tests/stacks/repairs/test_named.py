"""Repairs named in a recipe: applied, reported with their places, told in words."""

import math

import pytest
import shapely

from boathouse import changed, locker_tag, rack_letters
from letterply.catalogue.loading import load_catalogue
from letterply.errors import InputError
from letterply.exports.documents.documents import stack_document, to_json
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.shapes.hausdorff import hausdorff_mm
from letterply.shapes.offsets import offset
from letterply.shapes.regions import as_region, normalise
from letterply.stacks.build import build_stack
from letterply.stacks.repairs.named import _softened, moves_mm


@pytest.fixture(scope="module")
def build():
    catalogue, library = load_catalogue(), FontLibrary()
    return lambda raw: build_stack(parse_recipe(raw), catalogue, library)


def stencil(bridges=True, text="80"):
    recipe = locker_tag(text)
    recipe["layers"][0]["features"] = [{"kind": "through_lettering", "bridges": bridges}]
    return recipe


def thin_letters(**outline):
    recipe = rack_letters("Knoi")
    recipe["lettering"] |= {"font": "playfair-display", "size": {"cap_height": 25}, "tracking": 3}
    recipe["layers"] = [recipe["layers"][1]]
    recipe["layers"][0]["outline"] = {"kind": "lettering", **outline}
    recipe["align"] = {"kind": "none"}
    return recipe


def test_a_bridged_stencil_drops_nothing_and_reports_its_bridges(build):
    stack = build(stencil())
    assert stack.findings == ()
    (layer,) = stack.layers
    assert len(layer.parts) == 1
    report = layer.repair
    assert report.bridges == len(report.places) == 5
    assert report.pieces_joined == 3
    added = layer.footprint.area - report.before.area
    assert report.area_added_mm2 == pytest.approx(added, abs=0.1)
    for place in report.places:
        assert place.kind == "bridge"
        assert place.now_mm >= 1.0
        assert layer.region.buffer(1e-4).contains(place.region)
        assert place.region.buffer(0.01).contains(shapely.Point(place.where.anchor))
    assert any("5 bridges 1 mm wide" in words for words in layer.parts[0].history)


def test_bridges_take_a_width_a_direction_and_a_number(build):
    wish = {"width": "2 mm", "angle": 0, "count": 1}
    (layer,) = build(stencil(wish, "0")).layers
    (place,) = layer.repair.places
    assert place.now_mm == pytest.approx(2.0, abs=0.01)
    (_, y0), (_, y1) = place.where.points
    assert y0 == pytest.approx(y1)


def test_bridges_turn_with_letters_on_a_bent_baseline(build):
    recipe = stencil({"count": 1, "angle": 90}, "OOO")
    recipe["lettering"]["baseline"] = {"kind": "arc", "radius": "15 mm"}
    recipe["layers"][0]["outline"]["diameter"] = "90 mm"
    stack = build(recipe)
    headings = []
    for place in stack.layers[0].repair.places:
        (x0, y0), (x1, y1) = place.where.points
        headings.append(math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180)
    first, middle, last = headings
    assert middle == pytest.approx(90, abs=0.5)
    assert first - 90 == pytest.approx(90 - last, abs=0.5)
    assert first > 120


def test_only_the_cut_that_asks_gets_bridges(build):
    recipe = stencil(text="0")
    small = {"text": "8", "font": "archivo-black", "size": {"cap_height": 6}}
    recipe["layers"][0]["features"].append(
        {"kind": "through_lettering", "lettering": small, "place": {"anchor": "bottom", "inset": 4}}
    )
    stack = build(recipe)
    assert len([f for f in stack.findings if f.code == "island"]) == 2
    assert stack.layers[0].repair.bridges == 2


def test_the_largest_move_is_that_of_the_outlines(build):
    (layer,) = build(thin_letters(strengthen=True)).layers
    report = layer.repair
    measured = hausdorff_mm(report.before, normalise(layer.region))
    assert report.largest_move_mm == pytest.approx(measured, abs=2e-3)
    assert max(p.move_mm for p in report.places) == pytest.approx(measured, abs=2e-3)
    added = sum(p.region.area for p in report.places)
    assert report.area_added_mm2 == pytest.approx(added, abs=0.05)


def test_growth_along_strokes_is_told_apart_from_what_a_crotch_loses():
    """An angle grown by 1 mm: its inside corner is buried by the diagonal."""
    angle = as_region(shapely.union_all([shapely.box(0, 0, 40, 2), shapely.box(0, 0, 2, 40)]))
    along, buried = moves_mm(angle, offset(angle, 1.0, 0.001))
    assert along == pytest.approx(1.0, abs=0.01)
    assert buried == pytest.approx(2**0.5, abs=0.01)


def test_the_report_tells_both_moves(build):
    (layer,) = build(thin_letters(strengthen=True)).layers
    report = layer.repair
    assert 0 < report.along_mm < report.crotches_mm == report.largest_move_mm
    assert max(p.along_mm for p in report.places) == pytest.approx(report.along_mm, abs=2e-3)
    said = layer.parts[0].history[-1]
    assert "along strokes" in said
    assert "where strokes meet" in said


def test_strengthening_goes_either_way(build):
    fading, even = (
        build(thin_letters(strengthen={"way": way})).layers[0] for way in ("taper", "even")
    )
    assert build(thin_letters(strengthen=True)).layers[0].region == fading.region
    assert even.repair.area_added_mm2 > fading.repair.area_added_mm2
    assert {p.now_mm for p in even.repair.places} == {3.0}


def test_strengthening_takes_the_limit_of_the_material_or_ones_own(build):
    plain = build(thin_letters()).layers[0]
    assert plain.repair is None
    for wish, limit in ((True, 3.0), ("2 mm", 2.0), ({"limit": 2.5, "gap": "1/16 in"}, 2.5)):
        (layer,) = build(thin_letters(strengthen=wish)).layers
        assert {p.now_mm for p in layer.repair.places} == {limit}
        assert all(p.was_mm < limit for p in layer.repair.places)
    assert build(thin_letters(strengthen=False)).layers[0].repair is None


def test_joined_letters_are_one_part_each(build):
    assert len(build(thin_letters()).layers[0].parts) == 5
    layer = build(thin_letters(strengthen=True, join="letters")).layers[0]
    assert [p.letters for p in layer.parts] == ["K", "i", "n", "o"]
    assert layer.repair.pieces_joined == 1
    assert {p.kind for p in layer.repair.places} == {"strengthen", "join"}
    assert len(build(thin_letters(join=True)).layers[0].parts) == 1


def test_parts_know_which_letters_they_belong_to(build):
    layer = build(thin_letters()).layers[0]
    indices = {p.name: p.letter_indices for p in layer.parts}
    assert indices["face.K"] == (0,)
    assert indices["face.i"] == indices["face.i-2"] == (3,)


def test_the_document_numbers_the_places(build):
    stack = build(stencil())
    document = stack_document(stack, load_catalogue())
    repair = document["layers"][0]["repair"]
    assert [p["number"] for p in repair["places"]] == [1, 2, 3, 4, 5]
    assert repair["bridges"] == 5
    assert repair["largest_move_mm"] > 0
    assert to_json(document) == to_json(stack_document(build(stencil()), load_catalogue()))
    plain = stack_document(build(locker_tag()), load_catalogue())
    assert plain["layers"][0]["repair"] is None


@pytest.mark.parametrize(
    ("bridges", "code", "field"),
    [
        ({"count": 9}, "out-of-range", "bridges.count"),
        ({"width": "-2 mm"}, "out-of-range", "bridges.width"),
        ({"width": "2 mmm"}, "unknown-unit", "bridges.width"),
        ({"angle": 900}, "out-of-range", "bridges.angle"),
        ({"colour": "red"}, "unknown-field", "bridges.colour"),
    ],
)
def test_mistakes_in_bridges_name_their_field(bridges, code, field):
    with pytest.raises(InputError) as caught:
        parse_recipe(stencil(bridges))
    assert caught.value.code == code
    assert caught.value.field == f"recipe.layers.0.features.0.{field}"


@pytest.mark.parametrize(
    ("outline", "code", "field"),
    [
        ({"strengthen": "-3 mm"}, "out-of-range", "strengthen.limit"),
        ({"strengthen": {"gap": "x"}}, "bad-length", "strengthen.gap"),
        ({"strengthen": {"way": "thick"}}, "unknown-choice", "strengthen.way"),
        ({"join": "words"}, "unknown-choice", "join"),
    ],
)
def test_mistakes_in_an_outline_name_their_field(outline, code, field):
    with pytest.raises(InputError) as caught:
        parse_recipe(thin_letters(**outline))
    assert caught.value.code == code
    assert caught.value.field == f"recipe.layers.0.outline.{field}"


def test_recipes_with_repairs_parse_again_to_themselves():
    for raw in (stencil({"count": 2}), thin_letters(strengthen="2 mm", join="letters")):
        once = parse_recipe(raw)
        assert parse_recipe(once.model_dump(mode="json")) == once
    assert changed(stencil(), copies=2)["copies"] == 2


@pytest.mark.parametrize("radius", [0.5, 2.0])
def test_softening_takes_nothing_away_and_is_the_closing_within_its_tolerance(radius):
    cross = shapely.union(shapely.box(0, 10, 30, 16), shapely.box(12, 0, 18, 30))
    region = as_region(
        cross.union(shapely.Point(15, 30).buffer(8)).difference(shapely.box(14, 25, 15, 40))
    )
    softened = _softened(region, radius, 0.005)
    assert shapely.difference(region, softened).area < 1e-4
    exact = region.buffer(radius, quad_segs=400).buffer(-radius, quad_segs=400).union(region)
    assert hausdorff_mm(softened, as_region(exact)) < 2 * 0.005
    assert shapely.get_num_coordinates(softened) < shapely.get_num_coordinates(exact)
