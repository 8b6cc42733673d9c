"""The checks on shapes whose faults are known by hand, and on real lettering."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Polygon, box
from shapely.affinity import translate

from boathouse import changed, rack_letters, rack_sign
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.checks.run import check_stack
from letterply.findings import Severity
from letterply.jobs.packing import pack
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.requests.shop import HoldDown
from letterply.shapes.flatten import circle
from letterply.shapes.regions import normalise
from letterply.stacks.build import build_stack
from letterply.stacks.model import Layer, Part, Stack
from letterply.stacks.work import Groove, Pocket


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


@pytest.fixture(scope="module")
def shop(catalogue):
    return resolve_shop(None, catalogue)


def one_part(outline, thickness=3.0, material="acrylic-cast", **work):
    part = Part("face.X", "face", Polygon(outline), "X", **work)
    return Stack("X", (Layer("face", material, thickness, 0.0, (part,)),))


def codes(findings, code):
    return [f for f in findings if f.code == code]


def test_a_sturdy_disc_has_no_findings(catalogue, shop):
    assert check_stack(one_part(Polygon(circle(50, 50, 30, 0.005))), catalogue, shop) == ()


def test_a_neck_is_measured_placed_and_loaded(catalogue, shop):
    """Two blocks joined by a bridge 2 mm wide and 4 mm long in 3 mm acrylic (rule: 3 mm)."""
    shape = shapely.union_all([box(0, 0, 20, 20), box(20, 9, 24, 11), box(24, 0, 44, 20)])
    (neck,) = codes(check_stack(one_part(shape), catalogue, shop), "neck")
    assert neck.measured == pytest.approx(2.0, abs=0.01)
    assert neck.limit == 3.0
    x, y = neck.where.anchor
    assert 19.5 <= x <= 24.5
    assert y == pytest.approx(10, abs=0.01)
    data = dict(neck.data)
    # The lever is the far corner of the freed block: at least its 20 mm, at most the diagonal.
    lever = data["lever_mm"]
    assert 20 <= lever <= 27
    assert data["snap_in_plane_n"] == pytest.approx(97 * 3 * 4 / 6 / lever, rel=0.01)
    grow = next(r for r in neck.remedies if r.action == "grow_by")
    assert grow.value == pytest.approx(0.5)


def test_a_long_bridge_is_a_stroke_and_a_ring_needs_no_lever(catalogue, shop):
    shape = shapely.union_all([box(0, 0, 20, 20), box(20, 9, 50, 11), box(50, 0, 70, 20)])
    found = check_stack(one_part(shape), catalogue, shop)
    assert not codes(found, "neck")
    (stroke,) = codes(found, "stroke")
    assert stroke.measured == pytest.approx(2.0, abs=0.01)
    ring = Polygon(circle(50, 50, 20, 0.005), [circle(50, 50, 18, 0.005)])
    (around,) = codes(check_stack(one_part(ring), catalogue, shop), "stroke")
    assert "lever_mm" not in dict(around.data)


def test_corners_of_a_box_are_no_tips_and_a_needle_is_one(catalogue, shop):
    assert not codes(check_stack(one_part(box(0, 0, 40, 30)), catalogue, shop), "stroke")
    needle = Polygon([(0, 0), (60, 5), (0, 10)])
    (tip,) = codes(check_stack(one_part(needle), catalogue, shop), "stroke")
    assert "tip" in tip.why
    assert tip.where.anchor[0] == pytest.approx(60, abs=1)


def test_a_counter_that_no_cutter_enters_is_a_blocker(catalogue, shop):
    """Smallest cutter through 3 mm: 1 mm. A round counter of 0.8 mm stays closed."""
    shape = Polygon(box(0, 0, 30, 30).exterior, [circle(15, 15, 0.4, 0.001)])
    (slot,) = codes(check_stack(one_part(shape), catalogue, shop), "slot")
    assert slot.severity is Severity.BLOCKER
    assert slot.measured == pytest.approx(0.8, abs=0.2)
    assert slot.where.anchor == pytest.approx((15, 15), abs=0.05)


def test_a_gap_wider_than_the_cutter_is_fine_and_a_narrower_one_fills_up(catalogue, shop):
    for gap, count in ((1.1, 0), (0.7, 1)):
        shape = box(0, 0, 30, 30).difference(box(15 - gap / 2, 10, 15 + gap / 2, 31))
        assert len(codes(check_stack(one_part(shape), catalogue, shop), "slot")) == count


def test_a_gap_just_as_wide_as_the_cutter_is_a_gap_and_no_corner(catalogue, shop):
    """The smallest cutter through 3 mm is 1 mm wide, and needs a hair more than that."""
    for gap, deep, severity in ((1.0, 20, "caution"), (1.0, 10, "blocker"), (1.1, 20, None)):
        slit = box(15 - gap / 2, 10, 15 + gap / 2, 11 + deep)
        found = check_stack(one_part(box(0, 0, 30, 30).difference(slit)), catalogue, shop)
        assert [f.severity.value for f in codes(found, "slot")] == ([severity] if severity else [])
        assert all(f.measured < 0.5 for f in codes(found, "corner"))


def test_walls_that_pass_each_other_leave_a_gap_as_long_as_the_cutter_is_wide(catalogue, shop):
    """Two posts 0.86 mm apart, with round ends that leave a spot, with straight sides a gap."""
    yoke = box(-40, -40, 40, -20)
    for high, gaps in ((0.0, 0), (2.0, 1)):
        posts = []
        for side in (-1, 1):
            far, near = side * 20, side * 1.43
            face = box(min(near, side * 0.43), -high / 2, max(near, side * 0.43), high / 2)
            head = shapely.Point(near, 0).buffer(1, quad_segs=64)
            arm = box(min(near, far), -1, max(near, far), 1)
            leg = box(min(side * 14, far), -25, max(side * 14, far), 3)
            posts.append(shapely.union_all([face, head, arm, leg]))
        found = codes(
            check_stack(one_part(shapely.union_all([yoke, *posts])), catalogue, shop), "slot"
        )
        assert len(found) == gaps


def test_no_lever_longer_than_a_hand_makes_a_place_the_weakest(catalogue, shop):
    """A wide joint with a long tail bears less at its end, a narrow one with a short less in hand.

    In 3 mm acrylic: 2.4 mm at 250 mm, and 2 mm at 110 mm from the far end.
    """
    bar = shapely.union_all(
        [box(0, 0, 110, 20), box(110, 9, 114, 11), box(114, 0, 400, 20),
         box(400, 8.8, 404, 11.2), box(404, 0, 640, 20)]
    )  # fmt: skip
    (neck,) = codes(check_stack(one_part(bar), catalogue, shop), "neck")
    assert neck.measured == pytest.approx(2.0, abs=0.01)
    assert dict(neck.data)["count"] == 2


def test_a_free_end_bears_what_its_weakest_place_bears(catalogue, shop):
    """A tongue 30 mm long from 1.5 mm to 2.4 mm wide breaks at its root, not at its narrow tip."""
    tongue = Polygon([(0, 8.8), (30, 9.25), (30, 10.75), (0, 11.2)])
    shape = shapely.union_all([box(-30, 0, 0, 20), tongue])
    (stroke,) = codes(check_stack(one_part(shape), catalogue, shop), "stroke")
    assert stroke.measured == pytest.approx(1.5, abs=0.05)
    # At a share s of its length the load is 97 * 3 * (1.5 + 0.9 s)² / 6 / 30 s: least at the root.
    assert dict(stroke.data)["snap_in_plane_n"] == pytest.approx(97 * 3 * 2.4**2 / 6 / 30, rel=0.1)


def test_a_corner_lists_every_cutter_and_a_larger_one_never_leaves_less(catalogue, shop):
    """Square corner, radius r: (1 - pi/4) r² stays, r (sqrt 2 - 1) deep."""
    shape = box(0, 0, 40, 40).difference(box(20, 20, 41, 41))
    (corner,) = codes(check_stack(one_part(shape), catalogue, shop), "corner")
    rows = dict(corner.data)["cutters"]
    areas = [r["left_mm2"] for r in rows]
    assert areas == sorted(areas)
    for row in rows:
        r = row["diameter_mm"] / 2
        assert row["left_mm2"] == pytest.approx(0.2146 * r * r, rel=0.06, abs=0.02)
        assert row["depth_mm"] == pytest.approx(0.41421 * r, abs=0.02)


def test_crumbs_depend_on_how_parts_are_held(catalogue, shop):
    crumb = one_part(box(0, 0, 9, 12))
    assert codes(check_stack(crumb, catalogue, shop), "crumb")
    taped = replace(shop, hold_down=HoldDown.TAPE)
    assert not codes(check_stack(crumb, catalogue, taped), "crumb")


def test_pockets_and_grooves_that_come_near_the_underside_are_blockers(catalogue, shop):
    area = shapely.MultiPolygon([box(10, 10, 30, 20)])
    deep = one_part(box(0, 0, 40, 40), 6.0, "mdf", pockets=(Pocket(area, 5.5),))
    (pocket,) = codes(check_stack(deep, catalogue, shop), "depth")
    assert pocket.severity is Severity.BLOCKER
    assert pocket.limit == pytest.approx(5.2)
    # A 60 degree bit in a groove 10 mm wide goes (5 - 0.05) / tan 30 = 8.6 mm deep.
    carved = one_part(box(0, 0, 40, 40), 6.0, "mdf", grooves=(Groove(area, None, 60.0),))
    (groove,) = codes(check_stack(carved, catalogue, shop), "depth")
    assert groove.measured == pytest.approx((5 - 0.05) / 0.57735, abs=0.01)
    held = one_part(box(0, 0, 40, 40), 6.0, "mdf", grooves=(Groove(area, 2.0, 60.0),))
    assert not codes(check_stack(held, catalogue, shop), "depth")


def test_what_is_too_large_or_of_no_stock_is_a_blocker(catalogue, shop):
    (large,) = codes(check_stack(one_part(box(0, 0, 900, 500)), catalogue, shop), "room")
    assert large.severity is Severity.BLOCKER
    (none,) = codes(check_stack(one_part(box(0, 0, 40, 40), 4.0), catalogue, shop), "room")
    assert "3 mm" in none.why
    assert "5 mm" in none.why


def test_no_cutter_long_enough_is_a_blocker(catalogue):
    shop = resolve_shop({"cutters": ["flat-1"]}, catalogue)
    (depth,) = codes(check_stack(one_part(box(0, 0, 40, 40), 9.0, "birch-plywood"), catalogue,
                                 shop), "depth")  # fmt: skip
    assert depth.severity is Severity.BLOCKER
    assert depth.limit == 4


def test_the_dot_of_an_i_is_a_loose_piece_to_be_placed(catalogue, shop):
    recipe = changed(rack_letters("i"), lettering__font="atkinson-hyperlegible-bold")
    library = FontLibrary()
    whole = check_stack(build_stack(parse_recipe(recipe), catalogue, library), catalogue, shop)
    islands = {f.part: f.severity for f in codes(whole, "island")}
    assert islands["backer.i-2"] is Severity.CAUTION
    assert islands["face.i-2"] is Severity.NOTE
    recipe["layers"][0]["outline"]["join"] = True
    joined = check_stack(build_stack(parse_recipe(recipe), catalogue, library), catalogue, shop)
    assert not [f for f in codes(joined, "island") if f.layer == "backer"]


def test_a_piece_a_hair_away_is_told_at_the_gap(catalogue, shop):
    """Two bars of one letter 0.6 mm apart look broken; 3 mm apart they are two pieces."""
    for gap, x in ((0.6, 20.3), (3.0, 33.0)):
        shapes = {"face.X": box(0, 0, 20, 40), "face.X-2": box(20 + gap, 0, 40 + gap, 30)}
        parts = [Part(name, "face", o, "X", letter_indices=(0,)) for name, o in shapes.items()]
        stack = Stack("X", (Layer("face", "acrylic-cast", 3.0, 0.0, tuple(parts)),))
        (found,) = codes(check_stack(stack, catalogue, shop), "island")
        assert found.where.anchor[0] == pytest.approx(x, abs=0.01)
        assert found.measured == pytest.approx(gap)


def test_a_face_that_stands_out_over_its_backer_is_told(catalogue, shop):
    recipe = changed(rack_letters("H"), layers__0__outline={"kind": "lettering", "grow": -2})
    stack = build_stack(parse_recipe(recipe), catalogue, FontLibrary())
    over = [f for f in codes(check_stack(stack, catalogue, shop), "room") if f.part == "face.H"]
    assert over[0].measured == pytest.approx(2 * 2**0.5, abs=0.05)


def test_findings_come_worst_first_and_repeat_exactly(catalogue, shop):
    stack = build_stack(parse_recipe(rack_sign()), catalogue, FontLibrary())
    first, again = (check_stack(stack, catalogue, shop) for _ in range(2))
    assert first == again
    ranks = [list(Severity).index(f.severity) for f in first]
    assert ranks == sorted(ranks)
    assert all(f.why for f in first)


def test_turning_and_moving_a_part_changes_no_measure(catalogue, shop):
    shape = shapely.union_all([box(0, 0, 20, 20), box(20, 9, 24, 11), box(24, 0, 44, 20)])
    here = check_stack(one_part(shape), catalogue, shop)
    turned = shapely.affinity.translate(shapely.affinity.rotate(shape, 37, (0, 0)), 80, 40)
    there = check_stack(one_part(turned), catalogue, shop)
    assert [f.code for f in here] == [f.code for f in there]
    for a, b in zip(here, there, strict=True):
        assert a.measured == pytest.approx(b.measured, abs=1e-3)


class _Remembering:
    """Finds each answer out once, and tells how often it had to."""

    def __init__(self):
        self.known, self.fresh = {}, 0

    def once(self, question, find_out):
        key = pack(question)
        if key not in self.known:
            self.known[key] = find_out()
            self.fresh += question[0] == "part"
        return self.known[key]


def _check_of(recipe, catalogue, shop, once):
    stack = build_stack(parse_recipe(recipe), catalogue, FontLibrary())
    return stack, check_stack(stack, catalogue, shop, once=once)


def test_a_part_that_lies_elsewhere_is_not_checked_again(catalogue, shop):
    told = _Remembering()
    outline = normalise(Polygon(circle(50, 50, 30, 0.005)).difference(box(50, 0, 50.9, 60)))
    layer = one_part(outline.geoms[0]).layers[0]
    places = []
    for x, y in ((0.0, 0.0), (1237.77777, -0.12345)):
        outline_there = normalise(translate(layer.parts[0].outline, x, y)).geoms[0]
        part = replace(layer.parts[0], outline=outline_there)
        stack = Stack("X", (replace(layer, parts=(part,)),))
        found = check_stack(stack, catalogue, shop, once=told.once)
        assert found == check_stack(stack, catalogue, shop)
        places.append([p for f in found for p in f.where.points])
    assert told.fresh == 1
    away = np.subtract(*places[::-1])
    assert len(away)
    assert np.abs(away - (1237.77777, -0.12345)).max() < 1e-9


def test_another_letter_is_all_that_is_checked_when_it_is_typed(catalogue, shop):
    told = _Remembering()
    recipe = rack_letters()
    recipe["lettering"]["text"] = "KNO"
    recipe["layers"] = recipe["layers"][-1:]
    recipe["align"] = {"kind": "none"}
    _check_of(recipe, catalogue, shop, told.once)
    before = told.fresh
    recipe["lettering"]["text"] = "KNOT"
    stack, found = _check_of(recipe, catalogue, shop, told.once)
    assert len(stack.layers[0].parts) == 4
    assert (before, told.fresh) == (3, 4)
    assert found == check_stack(stack, catalogue, shop)
