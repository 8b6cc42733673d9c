"""From recipe to stack: outlines, features, alignment, parts and their names."""

import pytest
import shapely

from boathouse import changed, locker_tag, rack_letters, rack_sign
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.measured import Measured
from letterply.errors import InputError
from letterply.exports.documents.stack import stack_document
from letterply.findings import Severity
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.measured import TrueThickness
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack


@pytest.fixture(scope="module")
def build():
    catalogue, library = load_catalogue(), FontLibrary()
    return lambda raw: build_stack(parse_recipe(raw), catalogue, library)


@pytest.fixture(scope="module")
def sign(build):
    return build(rack_sign())


def test_a_script_word_in_one_piece_is_one_part_named_after_it(sign):
    assert [p.name for p in sign.layer("face").parts] == ["face.Avocet"]
    assert [p.name for p in sign.layer("board").parts] == ["board"]


def test_capitals_are_a_part_a_letter(build):
    stack = build(rack_letters("ABA"))
    assert [p.name for p in stack.layer("face").parts] == ["face.A", "face.A-2", "face.B"]
    assert stack.copies == 2


def test_layers_stand_on_each_other(sign):
    assert [la.z_mm for la in sign.layers] == [0, 9, 15]
    assert sign.height_mm == 18


def test_layers_stand_as_high_as_their_sheets_were_measured_to_be(sign):
    """By hand: 9 of plywood that is 8.6, 6 of MDF that is 6.2, 3 of acrylic as it is called."""
    true = [
        TrueThickness(material="birch-plywood", thickness=9, measured=8.6),
        TrueThickness(material="mdf", thickness=6, measured=6.2),
    ]
    measured = Measured.of((), true, ())
    stack = build_stack(parse_recipe(rack_sign()), load_catalogue(), FontLibrary(),
                        measured=measured)  # fmt: skip
    assert [la.z_mm for la in stack.layers] == pytest.approx([0, 8.6, 14.8])
    assert stack.height_mm == pytest.approx(17.8)
    assert [la.thickness_mm for la in stack.layers] == [9, 6, 3]  # by which the rack knows them
    told = stack_document(stack, load_catalogue())
    assert "9 mm, measured 8.6 mm" in told["summary"]
    assert told["total_thickness_mm"] == pytest.approx(17.8)
    board, plain = told["layers"][0]["parts"][0], stack_document(sign, load_catalogue())
    share = board["mass_g"] / plain["layers"][0]["parts"][0]["mass_g"]
    assert share == pytest.approx(8.6 / 9, abs=1e-3)


def test_origin_is_the_lower_left_of_the_widest_layer(sign):
    assert sign.layer("board").region.bounds[:2] == (0, 0)


def test_every_outline_lies_on_the_grid_and_is_valid(sign):
    for layer in sign.layers:
        for part in layer.parts:
            xy = shapely.get_coordinates(part.outline) * 1e5
            assert abs(xy - xy.round()).max() < 1e-4
            assert part.outline.is_valid


def test_margins_are_kept_round_the_backer(sign):
    left, low, right, high = sign.layer("backer").region.bounds
    board = sign.layer("board").region.bounds
    assert left - board[0] == pytest.approx(18, abs=0.02)
    assert low - board[1] == pytest.approx(30, abs=0.02)
    assert board[2] - right == pytest.approx(18, abs=0.02)
    assert board[3] - high == pytest.approx(18, abs=0.02)


def test_a_grown_outline_stands_out_by_what_it_was_grown(build):
    stack = build(rack_letters("H"))
    face, backer = stack.layer("face").region, stack.layer("backer").region
    assert backer.contains(face)
    assert face.bounds[0] - backer.bounds[0] == pytest.approx(3, abs=0.01)
    rim = shapely.points(shapely.get_coordinates(backer))
    assert shapely.distance(rim, face).max() == pytest.approx(3, abs=0.01)


def test_joined_layers_are_one_piece_and_say_what_was_added(build):
    stack = build(changed(rack_letters("Knot"), layers__0__outline__join=True,
                          lettering__font="lobster"))  # fmt: skip
    backer = stack.layer("backer").parts
    assert len(backer) == 1
    assert "joined with" in backer[0].history[0]


def test_dowels_go_through_every_layer_but_the_top_and_leave_a_web(sign):
    top = [h for h in sign.layer("face").parts[0].holes if h.purpose == "dowel"]
    assert len(top) == 2
    assert all(h.depth_mm == pytest.approx(1.8) for h in top)
    assert sign.layer("face").from_back
    for layer in sign.layers[:2]:
        through = [h for p in layer.parts for h in p.holes if h.purpose == "dowel"]
        assert {(h.x_mm, h.y_mm) for h in through} == {(h.x_mm, h.y_mm) for h in top}
        for hole in through:
            assert hole.depth_mm is None
            assert not layer.region.contains(shapely.Point(hole.x_mm, hole.y_mm))
    for hole in top:
        web = sign.layer("face").region.boundary.distance(shapely.Point(hole.x_mm, hole.y_mm))
        assert web - 1.5 >= 1.49


def test_dowels_that_find_no_place_are_a_finding(build):
    stack = build(changed(rack_sign(), lettering__size={"cap_height": "20 mm"}))
    found = [f for f in stack.findings if f.code == "align"]
    assert found
    assert found[0].severity is Severity.CAUTION
    assert found[0].remedies


def test_placement_lines_lie_inside_the_layer_above(build):
    stack = build(rack_letters("AB"))
    face = stack.layer("face").region
    for part in stack.layer("backer").parts:
        (scribe,) = part.scribes
        assert scribe.purpose == "placement"
        for line in scribe.lines:
            assert face.contains(line)
            assert face.boundary.distance(line) == pytest.approx(0.6, abs=0.01)


def test_a_recess_lowers_what_lies_in_it_and_leaves_the_clearance(build):
    recipe = rack_sign()
    recipe["align"] = {"kind": "none"}
    recipe["layers"][0]["features"].append(
        {"kind": "recess", "depth": "2 mm", "clearance": "0.2 mm", "of": "backer"}
    )
    stack = build(recipe)
    assert [la.z_mm for la in stack.layers] == [0, 7, 13]
    (pocket,) = stack.layer("board").parts[0].pockets
    backer = stack.layer("backer").region
    assert pocket.region.contains(backer)
    assert pocket.region.boundary.distance(backer) == pytest.approx(0.2, abs=0.01)


def test_a_stencil_reports_the_counters_that_drop_out(build):
    recipe = locker_tag("80")
    recipe["layers"][0]["features"] = [{"kind": "through_lettering"}]
    stack = build(recipe)
    islands = [f for f in stack.findings if f.code == "island"]
    assert len(islands) == 3  # two counters in the 8, one in the 0
    assert all(f.severity is Severity.BLOCKER for f in islands)
    assert len(stack.layer("tag").parts) == 1


def test_a_stencil_font_drops_nothing(build):
    recipe = locker_tag("80")
    recipe["lettering"]["font"] = "black-ops-one"
    recipe["layers"][0]["features"] = [{"kind": "through_lettering"}]
    assert not [f for f in build(recipe).findings if f.code == "island"]


def test_hatching_fills_the_letters_and_stays_inside(build):
    stack = build(locker_tag("1"))
    (scribe,) = stack.layer("tag").parts[0].scribes
    outline = [line for line in scribe.lines if line.is_closed]
    hatch = [line for line in scribe.lines if not line.is_closed]
    shape = shapely.Polygon(outline[0])
    assert all(shape.contains(line) for line in hatch)
    drawn = shapely.union_all([line.buffer(0.21) for line in (*hatch, *outline)])
    assert shape.difference(drawn).area < 0.02 * shape.area


@pytest.mark.parametrize("shape", ["rectangle", "rounded", "oval", "tag"])
def test_plates_of_every_shape_hold_their_lettering_with_the_margin(build, shape):
    recipe = changed(locker_tag(), layers__0__outline={"kind": "plate", "shape": shape,
                                                       "margin": "6 mm"})  # fmt: skip
    recipe["layers"][0]["features"] = [{"kind": "scribe_lettering"}]
    part = build(recipe).layer("tag").parts[0]
    (scribe,) = part.scribes
    ink = shapely.union_all(scribe.lines)
    assert part.outline.contains(ink)
    if shape != "oval":
        assert part.outline.exterior.distance(ink) == pytest.approx(6, abs=0.75)


def test_a_layer_cut_from_its_back_is_mirrored_for_the_cutter_only(sign):
    part = sign.layer("face").parts[0]
    seen = part.cut_view(from_back=True)
    assert seen.outline.area == pytest.approx(part.outline.area)
    assert seen.outline.bounds == pytest.approx(part.outline.bounds)
    assert not seen.outline.equals(part.outline)
    twice = seen.cut_view(from_back=True)
    assert shapely.hausdorff_distance(twice.outline, part.outline) < 1e-9


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"layers__0__material": "granite"}, "unknown-material", "recipe.layers.0.material"),
        ({"lettering__font": "comic"}, "unknown-font", "recipe.lettering.font"),
        ({"lettering__text": "Avocet☃"}, "glyph-missing", "recipe.lettering.text"),
        ({"lettering__text": " "}, "empty-text", "recipe.lettering.text"),
        ({"lettering__features": {"zzzz": 1}}, "unknown-feature",
         "recipe.lettering.features.zzzz"),
        ({"lettering__features": {"wght": 9000}}, "axis-out-of-range",
         "recipe.lettering.axes.wght"),
        ({"layers__2__outline__grow": "-30 mm"}, "outline-vanishes", "recipe.layers.2.outline"),
        ({"layers__0__outline": {"kind": "plate", "width": 50, "height": 50}},
         "plate-too-small", "recipe.layers.0.outline"),
        ({"layers__0__outline": {"kind": "plate", "shape": "circle", "diameter": 20}},
         "plate-too-small", "recipe.layers.0.outline"),
        ({"layers__0__features__0__at": [[-5, 3]]}, "hole-outside-layer",
         "recipe.layers.0.features.0"),
        ({"layers__0__features__1__place": {"x": 9000 / 2}}, "lettering-outside-layer",
         "recipe.layers.0.features.1"),
    ],
)  # fmt: skip
def test_what_the_geometry_cannot_meet_names_its_field(build, changes, code, field):
    with pytest.raises(InputError) as caught:
        build(changed(rack_sign(), **changes))
    assert caught.value.code == code
    assert caught.value.field == field


def test_recess_deeper_than_its_layer_and_unknown_layers_are_refused(build):
    recipe = rack_sign()
    recipe["layers"][0]["features"] = [{"kind": "recess", "depth": 9}]
    with pytest.raises(InputError) as caught:
        build(recipe)
    assert caught.value.code == "too-deep"
    recipe["layers"][0]["features"] = [{"kind": "recess", "depth": 2, "of": "lid"}]
    with pytest.raises(InputError) as caught:
        build(recipe)
    assert caught.value.code == "unknown-layer"
