"""Artwork in a recipe: outline, feature and ornament, and what is said when it cannot be."""

import pytest
import shapely

from letterply.catalogue.loading import load_catalogue
from letterply.errors import InputError
from letterply.lettering.artwork.library import ArtworkLibrary
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

DISC = '<svg width="96" height="96"><circle cx="48" cy="48" r="48"/></svg>'
FRAME = (
    '<svg width="200" height="120"><path fill-rule="evenodd" '
    'd="M0 0H200V120H0zM20 20H180V100H20z"/><rect id="letters" x="30" y="30" width="140" '
    'height="60" fill="none"/></svg>'
)
NOTED = '<svg width="96" height="96"><circle cx="48" cy="48" r="48"/><text>Knot</text></svg>'


def build(layers, files=None, **lettering):
    words = {"text": "Knot", "font": "oswald", "size": {"cap_height": 20}, **lettering}
    raw = {"title": "Knot", "lettering": words, "layers": layers}
    library = ArtworkLibrary(files)
    return build_stack(parse_recipe(raw), load_catalogue(), FontLibrary(), artworks=library)


def layer(outline, *features, name="board", thickness=9):
    return {
        "name": name,
        "material": "birch-plywood",
        "thickness": thickness,
        "outline": outline,
        "features": list(features),
    }


def drawing(svg=DISC, **more):
    return {"svg": svg, **more}


PLATE = {"kind": "plate", "margin": 20}
WORDS = {"kind": "lettering"}


def test_an_outline_is_the_drawing_at_its_size():
    outline = {"kind": "artwork", "artwork": drawing(size={"width": 120})}
    (part,) = build([layer(outline)]).layers[0].parts
    assert part.outline.bounds == pytest.approx((0, 0, 120, 120), abs=1e-3)
    assert part.outline.area == pytest.approx(3.14159 * 3600, rel=2e-4)


def test_an_outline_lies_in_the_middle_of_the_words_and_moves_from_there():
    outline = {"kind": "artwork", "artwork": drawing(size={"width": 120}), "x": 7, "y": -3}
    board, face = build([layer(outline), layer(WORDS, name="face", thickness=3)]).layers
    words = face.region.bounds
    x, y = board.parts[0].outline.centroid.coords[0]
    assert x == pytest.approx((words[0] + words[2]) / 2 + 7, abs=1e-3)
    assert y == pytest.approx((words[1] + words[3]) / 2 - 3, abs=1e-3)


def test_a_frame_is_fitted_round_the_words():
    outline = {"kind": "artwork", "artwork": drawing(FRAME), "around": 4}
    frame, face = build([layer(outline), layer(WORDS, name="face", thickness=3)]).layers
    (hole,) = frame.parts[0].outline.interiors
    left, low, right, high = face.region.bounds
    # The room is 140 by 60: the words with their margin fill it one way or the other.
    scale = max((right - left + 8) / 140, (high - low + 8) / 60)
    assert hole.bounds[2] - hole.bounds[0] == pytest.approx(scale * 160, abs=1e-2)
    assert shapely.Polygon(hole).buffer(-4).contains(face.region)


def test_words_too_large_for_the_room_are_refused():
    outline = {"kind": "artwork", "artwork": drawing(FRAME, size={"width": 40})}
    with pytest.raises(InputError) as caught:
        build([layer(outline)])
    assert (caught.value.code, caught.value.field) == ("room-too-small", "recipe.layers.0.outline")
    assert caught.value.data["room_width_mm"] == pytest.approx(28)


@pytest.mark.parametrize(
    ("work", "check"),
    [
        ("through", lambda part: len(part.outline.interiors) == 1),
        ("groove", lambda part: part.grooves[0].region.area == pytest.approx(314.16, rel=1e-3)),
        ("scribe", lambda part: part.scribes[0].lines[0].length == pytest.approx(62.83, rel=1e-3)),
        ("recess", lambda part: part.pockets[0].depth_mm == 2),
    ],
)
def test_a_drawing_is_worked_into_a_layer(work, check):
    feature = {"kind": "artwork", "artwork": drawing(size={"width": 20}), "work": work}
    feature |= {"place": {"anchor": "left", "inset": 5}}
    if work == "recess":
        feature["depth"] = 2
    if work == "through":
        # A ring would drop its disc: the disc itself is what is cut out.
        assert build([layer(PLATE, feature)]).findings == ()
    (part,) = build([layer(PLATE, feature)]).layers[0].parts
    assert check(part)


def test_a_scribed_drawing_can_be_hatched():
    feature = {"kind": "artwork", "artwork": drawing(size={"width": 20}), "style": "hatch"}
    (part,) = build([layer(PLATE, feature)]).layers[0].parts
    # Its lines are joined at their ends; an outline alone is as long as its edge and no longer.
    outlined = {**feature, "style": "outline"}
    (edged,) = build([layer(PLATE, outlined)]).layers[0].parts
    hatched, edge = (sum(x.length for x in p.scribes[0].lines) for p in (part, edged))
    assert hatched > 5 * edge


@pytest.mark.parametrize("side", ["left", "right", "above", "below"])
def test_an_ornament_stands_beside_the_words(side):
    ornament = {"artwork": drawing(size={"width": 10}), "side": side, "gap": 5}
    plain = build([layer(WORDS)]).layers[0].region.bounds
    region = build([layer(WORDS)], ornaments=[ornament]).layers[0].region
    width, height = plain[2] - plain[0], plain[3] - plain[1]
    wider = 15 if side in ("left", "right") else 0
    taller = 15 if side in ("above", "below") else 0
    left, low, right, high = region.bounds
    assert (right - left, high - low) == pytest.approx((width + wider, height + taller), abs=1e-3)


def test_an_ornament_without_a_size_is_as_high_as_the_words():
    ornament = {"artwork": drawing(), "side": "left"}
    parts = build([layer(WORDS)], ornaments=[ornament]).layers[0].parts
    (disc,) = [p for p in parts if not p.letters]
    words = shapely.union_all([p.outline for p in parts if p.letters])
    _, low, right, high = disc.outline.bounds
    assert (low, high) == pytest.approx((words.bounds[1], words.bounds[3]), abs=1e-3)
    assert words.bounds[0] - right == pytest.approx(6, abs=1e-3)


def test_a_plate_goes_round_words_and_ornaments():
    ornament = {"artwork": drawing(size={"width": 30}), "side": "right", "gap": 5}
    board, face = build(
        [layer(PLATE), layer(WORDS, name="face", thickness=3)], ornaments=[ornament]
    ).layers
    plate, ink = board.region.bounds, face.region.bounds
    assert ink[0] - plate[0] == pytest.approx(20)
    assert plate[2] - ink[2] == pytest.approx(20)


def test_what_a_drawing_leaves_out_is_a_finding():
    outline = {"kind": "artwork", "artwork": drawing(NOTED, size={"width": 120})}
    stack = build([layer(outline)])
    (finding,) = [f for f in stack.findings if f.code == "artwork"]
    assert finding.severity == "caution"
    assert "text left out" in finding.why


def test_an_uploaded_drawing_is_used_by_its_id(tmp_path):
    path = tmp_path / "disc.svg"
    path.write_text(DISC)
    outline = {"kind": "artwork", "artwork": {"id": "art-1", "size": {"width": 120}}}
    named = build([layer(outline)], {"art-1": str(path)})
    brought = build([layer({**outline, "artwork": drawing(size={"width": 120})})])
    assert named.layers == brought.layers


@pytest.mark.parametrize(
    ("outline", "code", "field"),
    [
        ({"artwork": {"id": "art-none"}}, "unknown-artwork", "artwork.id"),
        ({"artwork": {"svg": "Knot"}}, "not-svg", "artwork.svg"),
        ({"artwork": {"svg": "<svg/>"}}, "artwork-empty", "artwork.svg"),
        ({"artwork": {}}, "bad-artwork", "artwork"),
        ({"artwork": {"id": "a", "svg": DISC}}, "bad-artwork", "artwork"),
        ({"artwork": drawing(size={})}, "bad-size", "artwork.size"),
        ({"artwork": drawing(size={"width": 9, "scale": 2})}, "bad-size", "artwork.size"),
        ({"artwork": drawing(size={"width": "9 hands"})}, "unknown-unit", "artwork.size.width"),
        ({"artwork": drawing(only=["beak"])}, "unknown-element", "artwork.only"),
        ({"artwork": drawing(), "around": 5}, "artwork-without-room", "around"),
        ({"artwork": drawing(), "grow": -50}, "outline-vanishes", "grow"),
        ({"artwork": drawing(), "margin": 5}, "unknown-field", "margin"),
    ],
)
def test_a_mistake_names_its_field(outline, code, field):
    with pytest.raises(InputError) as caught:
        build([layer({"kind": "artwork", **outline})])
    assert (caught.value.code, caught.value.field) == (code, f"recipe.layers.0.outline.{field}")


@pytest.mark.parametrize(
    ("feature", "code", "field"),
    [
        ({"artwork": drawing(), "depth": 9}, "too-deep", ".depth"),
        ({"artwork": drawing(), "place": {"x": 900}}, "artwork-outside-layer", ""),
        ({"artwork": {"id": "art-none"}}, "unknown-artwork", ".artwork.id"),
        ({"artwork": drawing(size={"width": 0})}, "out-of-range", ".artwork.size.width"),
    ],
)
def test_a_mistake_of_a_feature_names_its_field(feature, code, field):
    with pytest.raises(InputError) as caught:
        build([layer(PLATE, {"kind": "artwork", **feature})])
    expected = f"recipe.layers.0.features.0{field}"
    assert (caught.value.code, caught.value.field) == (code, expected)


def test_a_mistake_of_an_ornament_names_its_field():
    with pytest.raises(InputError) as caught:
        build([layer(WORDS)], ornaments=[{"artwork": {"id": "art-none"}}])
    assert caught.value.field == "recipe.lettering.ornaments.0.artwork.id"


WAVE = (
    '<svg width="4in" height="2in"><path id="wave" d="M0 96C96 0 192 192 384 96" fill="none" '
    'stroke="#000"/><rect id="box" width="96" height="96" fill="none"/><g id="group"/></svg>'
)


def test_words_run_along_a_line_of_a_drawing():
    line = {"svg": WAVE, "element": "wave", "scale": 2}
    baseline = {"kind": "path", "artwork": line}
    drawn = build([layer(WORDS)], text="Knot", baseline=baseline)
    data = {"kind": "path", "data": f"M0 {96 * MM}C{96 * MM} 0 {192 * MM} {192 * MM} "
            f"{384 * MM} {96 * MM}"}  # fmt: skip
    written = build([layer(WORDS)], text="Knot", baseline=data)
    apart = drawn.layers[0].region.symmetric_difference(written.layers[0].region)
    assert apart.area < 0.002 * written.layers[0].region.area
    back = build([layer(WORDS)], baseline={**baseline, "artwork": {**line, "reverse": True}})
    assert back.layers[0].region.centroid.distance(drawn.layers[0].region.centroid) > 1


MM = 2 * 25.4 / 96


@pytest.mark.parametrize(
    ("line", "code", "field"),
    [
        ({"svg": WAVE, "element": "beak"}, "unknown-element", "baseline.artwork.element"),
        ({"svg": WAVE, "element": "group"}, "unknown-element", "baseline.artwork.element"),
        ({"id": "art-none", "element": "wave"}, "unknown-artwork", "baseline.artwork.id"),
        ({"element": "wave"}, "bad-artwork", "baseline.artwork"),
        ({"svg": WAVE, "element": "wave", "scale": 0.01}, "baseline-too-short", "baseline"),
    ],
)
def test_a_line_that_cannot_be_used_names_its_field(line, code, field):
    with pytest.raises(InputError) as caught:
        build([layer(WORDS)], baseline={"kind": "path", "artwork": line})
    assert (caught.value.code, caught.value.field) == (code, f"recipe.lettering.{field}")


EYE = (
    '<svg width="40mm" height="20mm" viewBox="0 0 40 20"><rect width="40" height="20"/>'
    '<rect x="10" y="5" width="10" height="4" fill="#fff"/></svg>'
)


@pytest.mark.parametrize(("more", "area"), [({}, 800 - 40), ({"ground": "none"}, 800)])
def test_white_over_black_is_a_hole_and_is_told(more, area):
    stack = build([layer({"kind": "artwork", "artwork": drawing(EYE, **more)})])
    assert stack.layers[0].region.area == pytest.approx(area, abs=1e-2)
    told = [f for f in stack.findings if f.code == "artwork"]
    assert [f.measured for f in told] == ([pytest.approx(40, abs=1e-2)] if not more else [])
    assert all("#ffffff" in f.why and "'ground'" in f.why for f in told)


def test_a_ground_that_is_no_colour_is_refused():
    with pytest.raises(InputError) as caught:
        build([layer({"kind": "artwork", "artwork": drawing(EYE, ground="whitish")})])
    assert caught.value.code == "bad-value"
    assert caught.value.field == "recipe.layers.0.outline.artwork.ground"
