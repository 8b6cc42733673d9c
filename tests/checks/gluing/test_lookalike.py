"""Look-alikes: parts whose symmetry is known by hand, and letters of the boathouse."""

from dataclasses import replace

import pytest
import shapely
from shapely import LineString, Polygon, box
from shapely.affinity import rotate, scale, translate

from boathouse import changed, rack_letters, rack_sign
from letterply.catalogue.loading import load_catalogue
from letterply.checks.gluing.lookalike import find_look_alikes
from letterply.findings import RemedyAction, Severity
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.limits import LookAlikeRules
from letterply.requests.recipe import parse_recipe
from letterply.shapes.flatten import circle
from letterply.shapes.hausdorff import hausdorff_mm
from letterply.shapes.regions import as_region
from letterply.stacks.build import build_stack
from letterply.stacks.model import Layer, Part, Stack
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

CATALOGUE = load_catalogue()
STRIP = box(0, 0, 40, 16)


def plate_with_hole(off_mm, across_mm=0.0):
    """Return a strip with a round counter off its middle."""
    return Polygon(STRIP.exterior, [circle(20 + off_mm, 8 + across_mm, 3, 0.001)])


def glued(*parts, from_back=False, below=(), scribes=()):
    """Return parts of one layer on a large board."""
    board = Part("board", "board", box(-50, -50, 400, 400), scribes=scribes)
    return Stack(
        "Knot",
        (
            Layer("board", "birch-plywood", 9.0, 0.0, (board, *below)),
            Layer("face", "acrylic-cast", 3.0, 9.0, parts, from_back),
        ),
    )


def part(outline, name="face.X", **work):
    return Part(name, "face", outline, name.partition(".")[2].partition("-")[0], **work)


def check(*parts, rules=None, **how):
    return find_look_alikes(glued(*parts, **how), rules or LookAlikeRules())


def ways(finding):
    return {w["way"]: w["misfit_mm"] for w in dict(finding.data)["ways"]}


def square_pocket(x, y):
    return Pocket(as_region(box(x - 2, y - 2, x + 2, y + 2)), 1.0)


@pytest.mark.parametrize(
    "outline",
    [STRIP, Polygon(circle(0, 0, 20, 0.005)), plate_with_hole(0), box(0, 0, 20, 20)],
    ids=["strip", "disc", "holed strip", "square"],
)
def test_what_maps_onto_itself_is_harmless(outline):
    assert check(part(outline)) == ()


def test_what_fits_in_no_other_way_is_harmless():
    foot = Polygon([(0, 0), (30, 0), (30, 8), (12, 8), (12, 40), (0, 40)])
    assert check(part(foot)) == ()


def test_a_part_that_is_nearly_its_own_half_turn_is_told():
    """A counter 0.25 off along the strip, turned or flipped, is 0.5 off from where it was.

    A shift of the whole takes up half of that and no more: 0.25 is the least.
    """
    (found,) = check(part(plate_with_hole(0.25)))
    told = ways(found)
    assert set(told) == {"turned by 180°", "face down, left for right"}
    assert all(0.25 - 1e-3 <= miss <= 0.28 for miss in told.values())
    assert found.code == "look-alike"
    assert found.limit == 0.5
    assert found.part == "face.X"
    assert found.measured == min(told.values())


@pytest.mark.parametrize(
    ("off", "rim", "severity"),
    [(0.06, 0, None), (0.13, 0, "note"), (0.3, 0, "caution"), (0.3, 4, "note")],
)
def test_how_far_it_is_off_decides_how_bad_it_is_where_edges_lie_on_edges(off, rim, severity):
    """The offset of a counter is the least that it is off, see above.

    Where edges are flush it makes a step; on a rim of 4 mm it makes that a little narrower.
    """
    backer = Part("backer.X", "backer", box(-rim, -rim, 40 + rim, 16 + rim), "X")
    stack = Stack(
        "Knot",
        (
            Layer("backer", "birch-plywood", 9.0, 0.0, (backer,)),
            Layer("face", "acrylic-cast", 3.0, 9.0, (part(plate_with_hole(off)),)),
        ),
    )
    found = find_look_alikes(stack, LookAlikeRules())
    assert [f.severity.value for f in found] == ([severity] if severity else [])


def test_flipped_but_not_turned():
    """A triangle's one mirror is spoilt by 0.5; it has no half turn."""
    wedge = Polygon([(0, 0), (40, 0), (20.5, 60)])
    (found,) = check(part(wedge))
    assert list(ways(found)) == ["face down, left for right"]
    assert RemedyAction.ADD_MARK in [r.action for r in found.remedies]


def test_dowels_that_fit_one_way_only_key_a_part():
    outline = plate_with_hole(0.2)
    symmetric = (Hole(6, 8, 3, 1.8, "dowel"), Hole(34, 8, 3, 1.8, "dowel"))
    astray = (Hole(6, 8, 3, 1.8, "dowel"), Hole(32, 8, 3, 1.8, "dowel"))
    (found,) = check(part(outline, holes=symmetric), from_back=True)
    # Face down the dowels meet its face: only the half turn is left.
    assert set(ways(found)) == {"turned by 180°"}
    key = next(r for r in found.remedies if r.action is RemedyAction.ADD_KEY)
    assert key.value == "dowel"
    assert check(part(outline, holes=astray), from_back=True) == ()


def test_blind_holes_that_come_to_lie_astray_are_told_on_a_perfect_strip():
    hung = (Hole(6, 12, 4, 2.0), Hole(34, 12, 4, 2.0))
    (found,) = check(part(STRIP, holes=hung), from_back=True)
    assert found.severity is Severity.CAUTION
    assert "its blind holes would lie 8 mm off" in found.why
    assert found.measured == 0.0
    even = (Hole(6, 8, 4, 2.0), Hole(34, 8, 4, 2.0))
    flips = ways(check(part(STRIP, holes=even), from_back=True)[0])
    assert set(flips) == {"face down, left for right", "face down, top for bottom"}


def test_pockets_astray_are_told_and_lines_on_a_face_speak_for_themselves():
    sunk = part(STRIP, pockets=(square_pocket(10, 8),))
    (found,) = check(sunk)
    assert found.severity is Severity.CAUTION
    assert set(ways(found)) == {
        "turned by 180°", "face down, left for right", "face down, top for bottom",
    }  # fmt: skip
    assert "its pockets would lie 20 mm off" in found.why
    line = LineString([(5, 5), (12, 5), (12, 11), (5, 5)])
    for work in (
        {"scribes": (Scribe((line,), 0.2),)},
        {"grooves": (Groove(as_region(Polygon(line.coords))),)},
    ):
        (found,) = check(part(STRIP, **work))
        assert all(way.startswith("face down") for way in ways(found))
    # Placement lines are seen, and covered a moment later: nobody glues on the side without.
    assert check(part(STRIP, scribes=(Scribe((line,), 0.1, "placement"),))) == ()


def test_placement_lines_below_key_what_would_uncover_them():
    """Lines 0.6 inside; a part that misses its place by more than that shows them."""
    outline = plate_with_hole(0.7)
    inside = shapely.buffer(outline, -0.6)
    lines = tuple(LineString(r.coords) for r in (inside.exterior, *inside.interiors))
    loose = LookAlikeRules(tolerance_mm=1.5)
    assert check(part(outline), rules=loose)
    assert check(part(outline), rules=loose, scribes=(Scribe(lines, 0.1, "placement"),)) == ()
    near = plate_with_hole(0.2)
    inside = shapely.buffer(near, -0.6)
    lines = tuple(LineString(r.coords) for r in (inside.exterior, *inside.interiors))
    assert check(part(near), rules=loose, scribes=(Scribe(lines, 0.1, "placement"),))


def test_a_round_part_with_a_pocket_and_nearly_round_ones():
    disc = Polygon(circle(0, 0, 15, 0.005))
    (found,) = check(part(disc, pockets=(square_pocket(8, 0),)))
    assert found.severity is Severity.CAUTION
    oval = scale(disc, 1.03, 1)
    (found,) = check(part(oval))
    # Crosswise it misses by the difference of its half axes: 0.45 mm.
    assert ways(found) == {"turned by 90°": pytest.approx(0.45, abs=0.02)}


def test_parts_that_fit_in_each_others_place_are_told_once_by_both_names():
    """Strips 40.0 and 40.4 wide: 0.2 off at each end."""
    wide = translate(box(0, 0, 40.4, 16), 100, 0)
    (found,) = check(part(STRIP, "face.I"), part(wide, "face.l"))
    assert found.measured == pytest.approx(0.2, abs=0.01)
    assert dict(found.data)["parts"] == ["face.I", "face.l"]
    assert "The I and the l on the face layer can be swapped" in found.why
    assert found.where.kind == "segment"
    assert found.severity is Severity.NOTE
    wider = translate(box(0, 0, 41.4, 16), 100, 0)
    assert check(part(STRIP, "face.I"), part(wider, "face.l")) == ()


def test_equal_parts_are_swapped_without_harm_unless_what_is_sunk_differs():
    away = translate(STRIP, 100, 0)
    assert check(part(STRIP, "face.I"), part(away, "face.I-2")) == ()
    one = part(STRIP, "face.I", holes=(Hole(20, 8, 6, 2.0),))
    two = part(away, "face.I-2", holes=(Hole(120, 8, 6, 2.0),))
    other = part(away, "face.I-2", holes=(Hole(108, 8, 6, 2.0), Hole(132, 8, 6, 2.0)))
    for pair, count in (((one, two), 0), ((one, other), 1)):
        swaps = [f for f in check(*pair, from_back=True) if "swapped" in f.why]
        assert len(swaps) == count
    assert swaps[0].severity is Severity.CAUTION


def test_a_part_that_is_the_other_upside_down():
    """A p turned by 180° is a d: here exactly, which is harmless, then with a bowl 0.3 fuller."""

    def p(more):
        bowl = Polygon(circle(8, 30, 8 + more, 0.001), [circle(8, 30, 3, 0.001)])
        return shapely.union(bowl, box(-2, 0, 3, 38))

    turned = translate(rotate(p(0), 180, origin=(0, 0)), 100, 60)
    assert check(part(p(0), "face.p"), part(turned, "face.d")) == ()
    fuller = translate(rotate(p(0.3), 180, origin=(0, 0)), 100, 60)
    (found,) = check(part(p(0), "face.p"), part(fuller, "face.d"))
    assert list(ways(found)) == ["turned by 180°"]
    exact = hausdorff_mm(as_region(p(0)), as_region(p(0.3)))
    # The placement found is close to the best, not the best.
    assert 0.15 < found.measured <= exact + 0.05


def test_the_same_letter_many_times_is_one_finding():
    letters = [
        part(translate(plate_with_hole(0.25), 60 * k, 0), f"face.B-{k + 1}" if k else "face.B")
        for k in range(5)
    ]
    (found,) = check(*letters)
    assert dict(found.data)["parts"] == [p.name for p in letters]
    assert "The B, the B (no. 2), the B (no. 3) and 2 more on the face layer" in found.why


def test_one_layer_alone_is_not_glued_and_the_bottom_one_only_hides_work():
    outline = plate_with_hole(0.25)
    lone = Stack("Knot", (Layer("face", "mdf", 3.0, 0.0, (part(outline),)),))
    assert find_look_alikes(lone) == ()

    def under(bottom):
        stack = glued(part(STRIP))
        layer = replace(stack.layers[0], parts=(bottom,), from_back=True)
        return find_look_alikes(replace(stack, layers=(layer, stack.layers[1])))

    assert under(Part("board", "board", outline)) == ()
    hangers = (Hole(6, 12, 4, 4.0), Hole(34, 12, 4, 4.0))
    (found,) = under(Part("board", "board", STRIP, holes=hangers))
    assert found.layer == "board"
    assert "turned by 180°" in ways(found)


def test_where_a_part_lies_and_how_it_is_turned_makes_no_difference():
    outline = plate_with_hole(0.25, 0.1)
    (here,) = check(part(outline))
    moved = translate(rotate(outline, 90, origin=(0, 0)), 130, 40)
    (there,) = check(part(moved))
    assert sorted(ways(here).values()) == pytest.approx(sorted(ways(there).values()), abs=0.01)


def test_repeats_exactly():
    parts = [part(plate_with_hole(0.25)), part(translate(STRIP, 100, 0), "face.I")]
    assert check(*parts) == check(*parts)


def test_letters_of_the_boathouse():
    """Archivo Black at 50 mm: its H has the bar high, its A a counter to one side."""

    def told(text, **changes):
        recipe = changed(rack_letters(text), **changes)
        stack = build_stack(parse_recipe(recipe), CATALOGUE, FontLibrary())
        return {f.part: ways(f) for f in find_look_alikes(stack)}

    found = told("AHIORS")
    assert set(found) == {"face.A", "face.H"}
    assert "turned by 180°" in found["face.H"]
    assert "turned by 180°" not in found["face.A"]
    nunito = told("nu", lettering__font="nunito")
    assert nunito == {"face.n": {"turned by 180°": pytest.approx(0.34, abs=0.1)}}


def test_a_sign_on_dowels_is_keyed():
    stack = build_stack(parse_recipe(rack_sign("HOI")), CATALOGUE, FontLibrary())
    assert [f for f in find_look_alikes(stack) if f.severity is Severity.CAUTION] == []


def test_rules_that_make_no_sense_are_refused():
    for wrong in ({"tolerance_mm": 0.05}, {"harmless_mm": 0.0}, {"visible_mm": -1.0}):
        with pytest.raises(ValueError, match=r"\w"):
            LookAlikeRules(**wrong)
