"""Work drawn beyond an outline: how far it is cut, and what is told of it."""

import pytest
import shapely

from letterply.catalogue.loading import load_catalogue
from letterply.errors import InputError
from letterply.findings import Severity
from letterply.lettering.fonts.library import FontLibrary
from letterply.orders.pipeline.layer_file import layer_bytes, layer_from
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

PLATE = {"kind": "plate", "width": 100, "height": 60}
OSWALD = {"text": "Turnstone", "font": "oswald", "size": {"width": 120}}


def bar(length, wide=6.0):
    """Return a level bar as a drawing."""
    return {
        "svg": f'<svg width="{length}mm" height="{wide}mm" viewBox="0 0 {length} {wide}">'
        f'<rect width="{length}" height="{wide}"/></svg>'
    }


def build(*features, outline=PLATE, **more):
    layer = {
        "name": "board", "material": "birch-plywood", "thickness": 12, "outline": outline,
        "features": list(features), **more,
    }  # fmt: skip
    raw = {"title": "Race board", "layers": [layer]}
    return build_stack(parse_recipe(raw), load_catalogue(), FontLibrary())


def work(kind, length, **place):
    return {"kind": "artwork", "artwork": bar(length), "work": kind, "place": place}


def only(stack):
    (part,) = stack.layers[0].parts
    return part


def told(stack):
    return [f for f in stack.findings if f.code == "edge"]


@pytest.mark.parametrize(("kind", "where"), [("groove", "grooves"), ("recess", "pockets")])
def test_work_that_is_drawn_beyond_the_outline_runs_over_the_edge(kind, where):
    stack = build(work(kind, 140))
    (made,) = getattr(only(stack), where)
    assert made.region.bounds == pytest.approx((0, 27, 100, 33), abs=1e-3)
    # Half its width beyond the edge, so that what tapers or is round lies in the waste.
    left, _, right, _ = made.whole.bounds
    assert -4 < left <= -3
    assert 103 <= right < 104
    assert only(stack).overrun_mm == pytest.approx(-left, abs=1e-6)


@pytest.mark.parametrize("length", [90, 100, 100.06])
def test_work_that_is_drawn_up_to_the_outline_stays_inside(length):
    stack = build(work("groove", length))
    (groove,) = only(stack).grooves
    assert groove.over is None
    assert only(stack).overrun_mm == 0
    assert not told(stack)


def test_a_scribed_line_goes_a_little_over_the_edge():
    stack = build(work("scribe", 140))
    (scribe,) = only(stack).scribes
    assert shapely.total_bounds(list(scribe.lines)) == pytest.approx((0, 27, 100, 33), abs=1e-3)
    assert shapely.total_bounds(list(scribe.whole)) == pytest.approx((-1, 27, 101, 33), abs=1e-3)


def test_a_groove_runs_over_the_edge_of_a_hole_too():
    hole = {"kind": "holes", "diameter": 20, "at": "centre"}
    (groove,) = only(build(hole, work("groove", 60))).grooves
    assert groove.region.area == pytest.approx(60 * 6 - 20 * 6, rel=0.02)
    # The hole is wider than it goes from either side.
    assert groove.whole.area > groove.region.area + 2 * 3 * 5


def test_what_lies_beyond_is_told_with_how_much_and_where():
    (finding,) = told(build(work("groove", 140, x=5)))
    assert finding.severity is Severity.NOTE
    assert finding.measured == pytest.approx(25, abs=1e-3)
    assert finding.where.points[0][0] == pytest.approx(100, abs=1e-3)
    assert dict(finding.data)["beyond"] == pytest.approx(40 * 6, rel=0.01)
    assert (
        "25 mm beyond the outline of the board layer, at 2 places (239 mm², 29 % of it)"
        in finding.why
    )


def test_a_groove_drawn_less_far_than_its_depth_asks_is_told():
    (finding,) = told(build(work("groove", 102)))
    assert "drawn 3 mm beyond, it would have its full depth at the edge" in finding.why


@pytest.mark.parametrize(
    "feature",
    [
        {"kind": "groove_lettering", "lettering": OSWALD},
        {"kind": "scribe_lettering", "lettering": OSWALD},
        {"kind": "recess", "depth": 2, "lettering": OSWALD},
        {"kind": "through_lettering", "lettering": OSWALD},
        {"kind": "through_lettering", "lettering": OSWALD, "bridges": {}},
        {"kind": "artwork", "artwork": bar(140), "work": "through", "place": {"y": 30}},
        {"kind": "holes", "diameter": 10, "at": [[3, 30]]},
    ],
    ids=lambda f: f"{f['kind']} {f.get('work', '')}{'bridges' in f}",
)
def test_letters_and_cuts_that_the_edge_cuts_short_are_a_caution(feature):
    (finding,) = told(build(feature))
    assert finding.severity is Severity.CAUTION
    assert finding.measured > 1


def test_a_blank_keeps_refusing_what_leaves_its_safe_area():
    outline = {"kind": "blank", "width": 100, "height": 60, "safe_margin": 0}
    for kind in ("groove", "recess", "scribe"):
        with pytest.raises(InputError) as caught:
            build(work(kind, 140), outline=outline)
        assert caught.value.code == "outside-safe-area"


def test_what_runs_over_moves_with_its_part_and_is_kept_in_files():
    part = only(build(work("groove", 140), work("recess", 130, y=15), work("scribe", 120, y=-15)))
    moved = part.moved(angle_deg=90, x_mm=7, y_mm=3)
    for one, other in ((moved.grooves, part.grooves), (moved.pockets, part.pockets)):
        left, low, right, high = other[0].whole.bounds
        expected = (7 - high, 3 + left, 7 - low, 3 + right)
        assert one[0].whole.bounds == pytest.approx(expected, abs=1e-9)
    assert moved.overrun_mm == pytest.approx(part.overrun_mm, abs=1e-9)
    (layer,) = build(work("groove", 140), work("scribe", 120, y=-15)).layers
    (again,) = layer_from(layer_bytes(layer)).parts
    assert again.overrun_mm == layer.parts[0].overrun_mm > 0


@pytest.mark.parametrize(
    "feature",
    [
        {"kind": "holes", "diameter": 5, "depth": 12},
        {"kind": "recess", "depth": 12, "lettering": OSWALD},
        {"kind": "groove_lettering", "floor_at": 13, "lettering": OSWALD},
        {"kind": "scribe_lettering", "depth": 12, "lettering": OSWALD},
        {"kind": "border", "depth": 12},
        {"kind": "artwork", "artwork": bar(50), "work": "recess", "depth": 12},
    ],
    ids=lambda f: str(f["kind"]),
)
def test_work_with_a_floor_never_goes_through_unsaid(feature):
    with pytest.raises(InputError) as caught:
        build(feature)
    assert caught.value.code == "too-deep"
    assert caught.value.field.startswith("recipe.layers.0.features.0.")
    assert "less than 12 mm" in caught.value.expected


def test_two_recesses_for_one_layer_lower_it_once():
    board = {
        "name": "board", "material": "birch-plywood", "thickness": 12, "outline": PLATE,
        "features": [{"kind": "recess", "depth": 2}, {"kind": "recess", "depth": 3}],
    }  # fmt: skip
    tile = {
        "name": "tile", "material": "birch-plywood", "thickness": 6,
        "outline": {"kind": "plate", "width": 40, "height": 20},
    }  # fmt: skip
    stack = build_stack(
        parse_recipe({"title": "Tile", "layers": [board, tile]}), load_catalogue(), FontLibrary()
    )
    assert [layer.z_mm for layer in stack.layers] == [0, 9]


@pytest.mark.parametrize("diameter", [0.3, 0.5, 1.0, 3.0, 20.0])
def test_a_hole_knows_its_ring_however_small(diameter):
    part = only(build({"kind": "holes", "diameter": diameter, "at": "centre"}))
    (hole,), (ring,) = part.holes, part.outline.interiors
    assert hole.is_ring(ring)
    moved = part.moved(angle_deg=33, x_mm=1, y_mm=2)
    assert moved.holes[0].is_ring(moved.outline.interiors[0])
    other = build({"kind": "holes", "diameter": diameter + 0.05, "at": "centre"})
    assert not hole.is_ring(only(other).outline.interiors[0])


def plain(*layers, **more):
    return parse_recipe({"title": "Boathouse board", "layers": list(layers), **more})


def board(outline=PLATE, *features, name="board"):
    return {
        "name": name, "material": "birch-plywood", "thickness": 12, "outline": outline,
        "features": list(features),
    }  # fmt: skip


ROUND = {"kind": "plate", "margin": 8}
BLANK = {"kind": "blank", "width": 100, "height": 60, "fixture": {"thickness": 18}}


@pytest.mark.parametrize(
    "layers",
    [
        [board()],
        [board(PLATE, {"kind": "holes", "diameter": 5})],
        [board(PLATE, work("groove", 60))],
        [board({"kind": "artwork", "artwork": bar(60)})],
        [board(BLANK, work("scribe", 60))],
        [board(ROUND), board({"kind": "artwork", "artwork": bar(60)}, name="top")],
        [board(ROUND, {"kind": "recess", "depth": 3}), board(name="top")],
        [board({"kind": "lettering", "lettering": OSWALD})],
        [board(PLATE, {"kind": "scribe_lettering", "lettering": OSWALD})],
    ],
)
def test_layers_that_need_no_lettering_are_a_recipe(layers):
    stack = build_stack(plain(*layers), load_catalogue(), FontLibrary())
    assert stack.text == ""
    assert [layer.name for layer in stack.layers] == [layer["name"] for layer in layers]
    assert stack.bounds[:2] == pytest.approx((0, 0), abs=1e-3)


@pytest.mark.parametrize(
    ("layers", "place"),
    [
        ([board({"kind": "lettering"})], "layers.0.outline"),
        ([board(ROUND)], "layers.0.outline.margin"),
        ([board(), board(ROUND, name="top")], "layers.1.outline.margin"),
        ([board({"kind": "artwork", "artwork": bar(60), "around": 3})], "layers.0.outline.around"),
        ([board(PLATE, {"kind": "groove_lettering"})], "layers.0.features.0"),
        ([board(PLATE, {"kind": "recess", "depth": 2})], "layers.0.features.0"),
        ([board(PLATE, {"kind": "recess", "depth": 2, "of": "lettering"}), board(name="top")],
         "layers.0.features.0"),
        ([board(PLATE, work("groove", 60, anchor="lettering"))], "layers.0.features.0.place"),
    ],
)  # fmt: skip
def test_a_layer_that_needs_lettering_is_named(layers, place):
    with pytest.raises(InputError) as caught:
        plain(*layers)
    error = caught.value
    assert (error.code, error.field) == ("missing-lettering", "recipe.lettering")
    number = int(place.split(".")[1])
    assert repr(layers[number]["name"]) in error.message
    assert error.expected.endswith(place)


def test_all_layers_that_need_lettering_are_told_at_once():
    with pytest.raises(InputError) as caught:
        plain(board({"kind": "lettering"}), board(PLATE, {"kind": "groove_lettering"}, name="top"))
    assert "'board' for its outline" in caught.value.message
    assert "'top' for its groove_lettering" in caught.value.message
    assert caught.value.expected.endswith("layers.0.outline, layers.1.features.0")
