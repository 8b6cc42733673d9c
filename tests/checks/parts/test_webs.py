"""Webs by hand: distances between holes, pockets, grooves and edges, and the rule for each."""

import pytest
import shapely
from shapely import Polygon, box

from boathouse import changed, locker_tag, rack_sign
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.rack import CutterRack
from letterply.catalogue.shop import resolve_shop
from letterply.checks.parts.webs import find_webs
from letterply.findings import RemedyAction, Severity
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.limits import WebRules
from letterply.requests.recipe import parse_recipe
from letterply.shapes.flatten import circle
from letterply.shapes.regions import as_region
from letterply.stacks.build import build_stack
from letterply.stacks.model import Layer, Part
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

CATALOGUE = load_catalogue()
PLATE = box(0, 0, 80, 60)


def webs(outline=PLATE, material="mdf", thickness=6.0, rules=None, **work):
    through = [h for h in work.get("holes", ()) if h.depth_mm is None]
    discs = [Polygon(circle(h.x_mm, h.y_mm, h.diameter_mm / 2, 0.005)) for h in through]
    cut = shapely.difference(outline, shapely.union_all(discs))
    part = Part("board", "board", cut, **work)
    layer = Layer("board", material, thickness, 0.0, (part,))
    return find_webs(part, layer, CATALOGUE.material(material), rules or WebRules())


def pocket(*bounds, depth=4.0):
    return Pocket(as_region(box(*bounds)), depth)


def test_a_pocket_near_an_edge_is_held_against_its_own_depth():
    """A wall 3.2 mm wide beside a pocket 4 mm deep in MDF: the rule is the depth, 4 mm."""
    (found,) = webs(pockets=(pocket(3.2, 20, 40, 40),))
    assert found.measured == pytest.approx(3.2, abs=1e-6)
    assert found.limit == pytest.approx(4.0)
    assert found.severity is Severity.CAUTION
    (x0, y0), (x1, y1) = found.where.points
    assert sorted((x0, x1)) == pytest.approx([0, 3.2], abs=1e-6)
    assert y0 == pytest.approx(y1)
    move = next(r for r in found.remedies if r.action is RemedyAction.MOVE_BY)
    assert move.value == pytest.approx(0.8)
    assert webs(pockets=(pocket(4.0, 20, 40, 40),)) == ()
    # Shallower: the least width of MDF, 3 mm, is what counts.
    assert webs(pockets=(pocket(3.2, 20, 40, 40, depth=1.0),)) == ()


def test_a_wall_thinner_than_a_third_of_its_rule_is_a_blocker():
    (found,) = webs(pockets=(pocket(1.3, 20, 40, 40),))
    assert found.severity is Severity.BLOCKER
    (found,) = webs(pockets=(pocket(1.4, 20, 40, 40),))
    assert found.severity is Severity.CAUTION


def test_the_distance_to_a_counter_counts_as_well_as_that_to_the_rim():
    ring = Polygon(PLATE.exterior, [box(30, 20, 50, 40).exterior.coords])
    (found,) = webs(ring, pockets=(pocket(10, 22, 27.5, 38),))
    assert found.measured == pytest.approx(2.5, abs=1e-6)
    assert "the edge" in found.why


def test_two_features_are_held_against_the_shallower_one():
    """Pockets 5 and 3 mm deep, 3.5 mm apart: a wall that stands free 3 mm high on one side."""
    deep, shallow = pocket(10, 20, 30, 40, depth=5.0), pocket(33.5, 20, 50, 40, depth=3.0)
    assert webs(pockets=(deep, shallow)) == ()
    near = pocket(32.5, 20, 50, 40, depth=3.0)
    (found,) = webs(pockets=(deep, near))
    assert found.measured == pytest.approx(2.5, abs=1e-6)
    assert found.limit == pytest.approx(3.0)
    assert "a pocket" in found.why


def test_the_wall_between_two_letters_of_one_recess_counts():
    letters = Pocket(as_region(shapely.union(box(10, 20, 30, 40), box(31.2, 20, 50, 40))), 4.0)
    (found,) = webs(pockets=(letters,))
    assert found.measured == pytest.approx(1.2, abs=1e-6)
    assert found.severity is Severity.BLOCKER


def test_features_that_overlap_or_run_out_leave_no_web():
    both = (pocket(10, 20, 30, 40), pocket(25, 20, 50, 40))
    assert webs(pockets=both) == ()
    touching = (pocket(10, 20, 30, 40), pocket(30, 20, 50, 40))
    assert webs(pockets=touching) == ()
    assert webs(pockets=(pocket(0, 20, 30, 40),)) == ()
    counterbore = Pocket(as_region(shapely.Point(40, 30).buffer(6)), 3.0)
    assert webs(pockets=(counterbore,), holes=(Hole(40, 30, 5.0),)) == ()


def test_drawn_lines_are_no_features_and_grooves_are():
    line = Scribe((shapely.LineString([(1, 1), (70, 1)]),), 0.2)
    assert webs(scribes=(line,)) == ()
    groove = Groove(as_region(box(20, 2.4, 60, 8)))
    (found,) = webs(grooves=(groove,))
    assert found.measured == pytest.approx(2.4, abs=1e-6)
    assert found.limit == pytest.approx(3.0)


def test_blind_holes_near_an_edge_and_near_each_other():
    hole = Hole(5.5, 30, 6.0, 5.0)
    (found,) = webs(holes=(hole,))
    assert found.measured == pytest.approx(2.5, abs=1e-3)
    assert found.limit == pytest.approx(5.0)
    pair = (Hole(30, 30, 6.0, 5.0), Hole(37.5, 30, 6.0, 5.0))
    (found,) = webs(holes=pair)
    assert found.measured == pytest.approx(1.5, abs=2e-3)
    assert found.severity is Severity.BLOCKER


def test_holes_in_acrylic_keep_two_thicknesses_from_an_edge():
    """3 mm sheet: 6 mm. Under 3 mm it is a neck, which another check measures with its load."""
    for x, count in ((8.6, 0), (8.4, 1), (5.6, 1), (5.4, 0)):
        found = webs(material="acrylic-cast", thickness=3.0, holes=(Hole(x, 30, 5.0),))
        assert len(found) == count
        assert all(f.severity is Severity.CAUTION and f.limit == 6.0 for f in found)
    # Other sheets want no more than a neck does.
    assert webs(thickness=6.0, holes=(Hole(9, 30, 5.0),)) == ()
    # A blind one is no neck: it is told however near.
    (found,) = webs(material="acrylic-cast", thickness=3.0, holes=(Hole(5.4, 30, 5.0, 1.5),))
    assert found.measured == pytest.approx(2.9, abs=2e-3)


def test_a_hole_is_not_its_own_edge():
    """A through hole's ring in the outline is the hole itself, not an edge beside it."""
    assert webs(material="acrylic-cast", thickness=3.0, holes=(Hole(40, 30, 5.0),)) == ()
    near = (Hole(40, 30, 5.0), Hole(47, 30, 5.0))
    assert webs(material="acrylic-cast", thickness=3.0, holes=near) == ()


def test_a_dowel_hole_may_come_nearer():
    """Glued, without load: half the rule, never under 1 mm. Rule at 1.8 mm deep: 2 mm."""
    for x, count in ((2.6, 0), (2.4, 1)):
        dowel = Hole(x, 30, 3.0, 1.8, "dowel")
        found = webs(material="acrylic-cast", thickness=3.0, holes=(dowel,))
        assert len(found) == count


def test_the_narrowest_share_comes_first():
    features = (pocket(3.8, 10, 20, 20), pocket(1.0, 30, 20, 40))
    found = webs(pockets=features)
    assert [f.measured for f in found] == pytest.approx([1.0, 3.8], abs=1e-6)


@pytest.mark.parametrize("recipe", [rack_sign(), locker_tag()], ids=["sign", "tag"])
def test_the_boathouses_signs_have_no_webs(recipe):
    stack = build_stack(parse_recipe(recipe), CATALOGUE, FontLibrary())
    for layer in stack.layers:
        for part in layer.parts:
            assert find_webs(part, layer, CATALOGUE.material(layer.material)) == ()


def test_a_recess_for_letters_that_fills_its_plate_is_told():
    recipe = changed(
        rack_sign(),
        layers__0__outline={"kind": "plate", "shape": "rectangle", "margin": "2.5 mm"},
        layers__0__features=[{"kind": "recess", "depth": "4 mm", "of": "backer"}],
        align={"kind": "none"},
    )
    stack = build_stack(parse_recipe(recipe), CATALOGUE, FontLibrary())
    board = stack.layer("board")
    (found,) = find_webs(board.parts[0], board, CATALOGUE.material("birch-plywood"))
    apart = board.parts[0].outline.exterior.distance(board.parts[0].pockets[0].region)
    assert found.measured == pytest.approx(apart, abs=1e-4)
    assert found.measured < found.limit == pytest.approx(4.0)


def test_rules_that_make_no_sense_are_refused():
    for wrong in ({"acrylic_edge_factor": 0.0}, {"dowel_share": -1.0}, {"blocker_share": 1.5}):
        with pytest.raises(ValueError, match=r"\w"):
            WebRules(**wrong)


RACK = CutterRack.of(resolve_shop(None, CATALOGUE), CATALOGUE.material("ponderosa-pine"))
"""Its bluntest V-bit has 90°: a groove is as deep at a wall as its half width."""


def ridges(between, width, kind="separate"):
    """Return the webs of two grooves side by side in pine, apart by a ridge."""
    left, right = box(10, 10, 10 + width, 50), box(10 + width + between, 10, 70, 50)
    joined = shapely.union_all([left, right, box(10, 5, 70, 10)])
    region = as_region(joined if kind == "joined" else shapely.union(left, right))
    part = Part("board", "board", PLATE, grooves=(Groove(region),))
    layer = Layer("board", "ponderosa-pine", 18.0, 0.0, (part,))
    return find_webs(part, layer, CATALOGUE.material("ponderosa-pine"), rack=RACK)


@pytest.mark.parametrize("kind", ["separate", "joined"])
def test_a_ridge_between_carved_lines_is_as_thick_as_the_shallower_is_deep(kind):
    """Pine: twice the height at half of it, that is w + h >= 2 h, and never more than 4 mm."""
    (found,) = ridges(2.0, 5.0, kind)
    assert found.measured == pytest.approx(2.0, abs=1e-3)
    assert found.limit == pytest.approx(2.5, abs=0.06)
    assert found.severity is Severity.CAUTION
    assert found.where.anchor[0] == pytest.approx(16.0, abs=0.01)
    assert found.remedies[0].action is RemedyAction.RAISE_SIZE_TO
    assert ridges(2.0, 3.0, kind) == ()
    assert ridges(2.7, 5.0, kind) == ()


def test_a_crotch_is_no_ridge():
    region = as_region(
        Polygon([(10, 10), (20, 10), (40, 40), (60, 10), (70, 10), (42, 50), (38, 50)])
    )
    part = Part("board", "board", PLATE, grooves=(Groove(region),))
    layer = Layer("board", "ponderosa-pine", 18.0, 0.0, (part,))
    assert find_webs(part, layer, CATALOGUE.material("ponderosa-pine"), rack=RACK) == ()


def test_a_wall_as_wide_as_its_limit_is_wide_enough_though_circles_are_drawn_with_chords():
    def wall(short):
        disc = Polygon(circle(0, 0, 28.575, 0.005))
        hole = Hole(0, 28.575 - 6.35 - 2.38 + short, 4.76)
        return webs(disc, "acrylic-cast", 3.175, holes=(hole,))

    assert [f.code for f in wall(0.02)] == ["web"]
    assert wall(0.0) == ()
