"""Plates of every shape, fittings and borders: measured, and refused where they cannot be."""

import math

import pytest
import shapely

from letterply.catalogue.loading import load_catalogue
from letterply.errors import InputError
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack


def build(outline, *features, text="Dunlin", face="front"):
    layers = [
        {"name": "board", "face": face, "material": "birch-plywood", "thickness": 9,
         "outline": outline, "features": list(features)},
        {"name": "face", "material": "mdf", "thickness": 3, "outline": {"kind": "lettering"}},
    ]  # fmt: skip
    words = {"text": text, "font": "oswald", "size": {"cap_height": 20}}
    raw = {"title": "Dunlin", "lettering": words, "layers": layers}
    return build_stack(parse_recipe(raw), load_catalogue(), FontLibrary())


def board(outline, *features, **more):
    (part,) = build({"kind": "plate", **outline}, *features, **more).layers[0].parts
    return part


def face_of(outline, **more):
    return build({"kind": "plate", **outline}, **more).layers[1].region


SHAPES = [
    {"shape": "rectangle"},
    {"shape": "circle"},
    {"shape": "tag"},
    {"shape": "arch"},
    {"shape": "arch", "rise": 15},
    {"shape": "stadium"},
    {"shape": "notched", "corner": 8},
    {"shape": "polygon", "sides": 3},
    {"shape": "polygon", "sides": 8},
    {"shape": "follow"},
    {"shape": "follow", "corner": 3},
]


@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: "-".join(str(v) for v in s.values()))
def test_every_shape_keeps_its_margin(shape):
    outline = {**shape, "margin": 10}
    plate, ink = board(outline).outline, face_of(outline)
    assert not plate.interiors
    assert plate.exterior.distance(ink) >= 10 - 0.011


def test_an_arch_rises_as_far_as_it_says():
    plate = board({"shape": "arch", "width": 200, "height": 120, "rise": 40}).outline
    left, low, right, high = plate.bounds
    assert (right - left, high - low) == pytest.approx((200, 120), abs=1e-3)
    # Segment of a circle: r = (100² + 40²) / 80 = 145, half angle asin(100 / 145).
    half = math.asin(100 / 145)
    segment = 145 * 145 * (half - math.sin(half) * math.cos(half))
    assert plate.area == pytest.approx(200 * 80 + segment, rel=1e-4)


def test_a_half_round_arch_is_half_a_disc_on_a_box():
    plate = board({"shape": "arch", "width": 120, "height": 160, "rise": 60}).outline
    assert plate.area == pytest.approx(120 * 100 + math.pi * 3600 / 2, rel=1e-4)


def test_a_stadium_is_a_box_and_a_disc():
    plate = board({"shape": "stadium", "width": 200, "height": 80}).outline
    assert plate.area == pytest.approx(120 * 80 + math.pi * 1600, rel=1e-4)


def test_a_notched_plate_lacks_four_quarter_discs():
    plate = board({"shape": "notched", "width": 200, "height": 80, "corner": 15}).outline
    assert plate.area == pytest.approx(200 * 80 - math.pi * 225, rel=1e-4)


def test_a_polygon_has_its_sides_round_a_circle():
    plate = board({"shape": "polygon", "diameter": 200, "sides": 6}).outline
    assert len(plate.exterior.coords) - 1 == 6
    assert plate.area == pytest.approx(6 * 100 * 100 * math.tan(math.pi / 6), rel=1e-6)


def test_a_plate_that_follows_has_no_sharp_corner():
    plate = board({"shape": "follow", "margin": 8, "corner": 6}).outline
    # What a disc of that radius can reach from inside and from outside is all of it.
    opened = plate.buffer(-5.9, quad_segs=64).buffer(5.9, quad_segs=64)
    closed = plate.buffer(5.9, quad_segs=64).buffer(-5.9, quad_segs=64)
    assert plate.difference(opened).area < 0.002 * plate.area
    assert closed.difference(plate).area < 0.002 * plate.area


def test_words_too_far_apart_for_one_plate_are_refused():
    with pytest.raises(InputError) as caught:
        board({"shape": "follow", "margin": 2, "corner": 1}, text="Dunlin      Knot")
    assert (caught.value.code, caught.value.field) == ("plate-in-pieces", "recipe.layers.0.outline")


@pytest.mark.parametrize(
    "outline",
    [
        {"shape": "follow"},
        {"shape": "follow", "width": 90, "height": 50},
        {"shape": "polygon", "width": 50, "height": 50},
        {"shape": "polygon", "margin": 5, "sides": 2},
    ],
)
def test_a_plate_that_makes_no_sense_is_refused(outline):
    with pytest.raises(InputError) as caught:
        board(outline)
    assert caught.value.code in ("bad-plate", "out-of-range")


RECTANGLE = {"shape": "rectangle", "margin": 30}


def test_slots_are_cut_through_with_round_ends():
    slots = {"kind": "slots", "length": 20, "width": 4, "at": "sides", "inset": 12, "angle": 90}
    part = board(RECTANGLE, slots)
    assert len(part.outline.interiors) == 2
    for ring in part.outline.interiors:
        left, low, right, high = ring.bounds
        assert (right - left, high - low) == pytest.approx((4, 20), abs=1e-3)
        assert shapely.Polygon(ring).area == pytest.approx(16 * 4 + math.pi * 4, rel=1e-3)


def test_standoffs_are_holes_with_room_for_their_caps():
    part = board(RECTANGLE, {"kind": "standoffs", "bolt": 6, "cap": 20, "inset": 12})
    assert sorted(h.diameter_mm for h in part.holes) == [6] * 4
    assert {h.purpose for h in part.holes} == {"standoff"}


def test_keyholes_go_through_or_are_sunk():
    keyhole = {"kind": "keyholes", "head": 8, "shank": 4, "travel": 10, "at": "top-corners"}
    part = board(RECTANGLE, keyhole)
    # A disc, and a slot 10 long with a round end, less what they share.
    disc, slot = shapely.Point(0, 0).buffer(4, quad_segs=99), shapely.box(-2, 0, 2, 10)
    cap = shapely.Point(0, 10).buffer(2, quad_segs=99)
    expected = shapely.union_all([disc, slot, cap]).area
    for ring in part.outline.interiors:
        assert shapely.Polygon(ring).area == pytest.approx(expected, rel=2e-3)
    sunk = board(RECTANGLE, {**keyhole, "depth": 5}, face="back")
    assert not sunk.outline.interiors
    assert [p.depth_mm for p in sunk.pockets] == [5, 5]
    assert sunk.pockets[0].region.area == pytest.approx(expected, rel=2e-3)


def test_a_keyhole_hangs_by_its_upper_end():
    part = board(RECTANGLE, {"kind": "keyholes", "inset": 15, "at": "top"})
    (ring,) = part.outline.interiors
    assert part.outline.bounds[3] - ring.bounds[3] == pytest.approx(15 - 2, abs=1e-3)
    wide = max(ring.coords, key=lambda p: p[0])[1]
    assert wide < shapely.Polygon(ring).centroid.y + 2


@pytest.mark.parametrize("work", ["groove", "recess"])
def test_a_border_has_its_width_all_round(work):
    border = {"kind": "border", "work": work, "inset": 6, "width": 3, "depth": 1}
    part = board(RECTANGLE, border)
    made = (part.grooves or part.pockets)[0].region
    left, low, right, high = part.outline.bounds
    wide, tall = right - left, high - low
    expected = (wide - 9) * (tall - 9) - (wide - 15) * (tall - 15)
    assert made.area == pytest.approx(expected, rel=1e-4)


def test_a_border_of_several_lines_is_scribed():
    border = {"kind": "border", "inset": 5, "lines": 3, "gap": 2, "corner": 4}
    part = board(RECTANGLE, border)
    left, low, right, high = part.outline.bounds
    lines = [s.lines[0] for s in part.scribes]
    assert [line.bounds[0] - left for line in lines] == pytest.approx([5, 7, 9], abs=1e-3)
    assert lines[0].length == pytest.approx(
        2 * (right - left + high - low - 20) - 32 + 8 * math.pi, rel=1e-3
    )


@pytest.mark.parametrize(
    ("feature", "code", "field"),
    [
        ({"kind": "slots", "length": 4, "width": 9}, "bad-value", ".width"),
        ({"kind": "slots", "length": 20, "width": 4, "inset": 3}, "hole-outside-layer", ""),
        ({"kind": "standoffs", "bolt": 9, "cap": 8}, "bad-value", ".cap"),
        ({"kind": "standoffs", "inset": 5}, "hole-outside-layer", ""),
        ({"kind": "standoffs", "at": "centre"}, "fitting-on-lettering", ""),
        ({"kind": "keyholes", "shank": 9}, "bad-value", ".shank"),
        ({"kind": "keyholes", "depth": 9}, "too-deep", ".depth"),
        ({"kind": "keyholes", "depth": 5}, "wrong-face", ".depth"),
        ({"kind": "keyholes", "inset": 1}, "hole-outside-layer", ""),
        ({"kind": "border", "inset": 300}, "outline-vanishes", ""),
        ({"kind": "border", "inset": 1, "width": 3, "work": "groove"}, "bad-value", ".inset"),
        ({"kind": "border", "depth": 9, "work": "recess"}, "too-deep", ".depth"),
        ({"kind": "border", "lines": 9}, "out-of-range", ".lines"),
        ({"kind": "keyholes", "at": "left"}, None, ".at"),
    ],
)
def test_a_fitting_that_cannot_be_names_its_field(feature, code, field):
    with pytest.raises(InputError) as caught:
        board(RECTANGLE, feature)
    assert caught.value.field == f"recipe.layers.0.features.0{field}"
    assert code is None or caught.value.code == code
