"""What the planner would refuse is a blocker of the checks, with its place and a way out."""

from dataclasses import replace

import pytest
import shapely
from shapely import LineString, Polygon, box

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import MaterialClass
from letterply.catalogue.shop import resolve_shop
from letterply.checks.run import check_stack, find_refusals
from letterply.findings import Severity
from letterply.shapes.flatten import circle
from letterply.shapes.regions import as_region
from letterply.stacks.model import Fixture, Layer, Part, Stack
from letterply.stacks.work import Groove, Hole, Pocket, Scribe

CATALOGUE = load_catalogue()
SQUARE = box(0, 0, 60, 40)
LINE = Scribe((LineString([(10, 10), (30, 10)]),), 0.15)
SUNK = as_region(box(10, 10, 30, 30))
HELD = Fixture("", 1, 1, (0.0, 0.0), (0.0, 0.0), (0.0, 0.0), 0.0, (0.0, 0.0))


def stack(material="mdf", thickness=6.0, outline=SQUARE, fixture=None, **work):
    part = Part("face.X", "face", outline, "X", ready_made=fixture is not None, **work)
    layer = Layer("face", material, thickness, 0.0, (part,), fixture=fixture)
    return Stack("X", (layer,))


def shop(cutters=None, **more):
    return resolve_shop({**({"cutters": cutters} if cutters else {}), **more}, CATALOGUE)


def refused(made, there):
    return find_refusals(made, CATALOGUE, there)


def test_a_usual_part_in_a_usual_shop_is_refused_nothing():
    hole = Hole(20.0, 20.0, 3.0)
    worked = stack(
        outline=SQUARE.difference(Polygon(circle(20, 20, 1.5, 0.005))),
        holes=(hole, Hole(40.0, 20.0, 4.0, 3.0)),
        pockets=(Pocket(SUNK, 3.0),),
        grooves=(Groove(SUNK, 1.0),),
        scribes=(LINE,),
    )
    assert refused(worked, shop()) == ()


@pytest.mark.parametrize("material", ["pvc-sheet", "aluminium-6061", "brass"])
def test_what_must_not_be_burnt_is_a_blocker_that_says_why(material):
    made = stack(material, 1.0, scribes=(LINE,), pockets=(Pocket(SUNK, 0.5),))
    found = [f for f in check_stack(made, CATALOGUE, shop(machine="bench-beam")) if
             f.code == "refused"]  # fmt: skip
    (finding,) = found
    assert (finding.severity, finding.layer) == (Severity.BLOCKER, "face")
    assert CATALOGUE.material(material).beam_reason in finding.why
    assert finding.remedies[0].action == "change_material"
    assert not [f for f in check_stack(made, CATALOGUE, shop()) if f.code == "refused"]


def test_burnt_pvc_is_called_toxic_and_corrosive():
    (finding,) = refused(stack("pvc-sheet", 3.0), shop(machine="bench-beam"))
    assert all(w in finding.why for w in ("hydrogen chloride", "toxic", "corrosive"))


def test_a_frame_or_board_of_a_refused_material_is_a_blocker_too():
    made = stack("acrylic-cast", 3.0)
    frame = Layer("frame", "pvc-sheet", 3.0, 0.0, (Part("frame", "frame", SQUARE),))
    (finding,) = refused(replace(made, fixtures=(frame,)), shop(machine="bench-beam"))
    assert (finding.code, finding.layer) == ("refused", "frame")


@pytest.mark.parametrize(
    ("work", "what"),
    [
        ({"grooves": (Groove(SUNK),)}, "a groove"),
        ({"pockets": (Pocket(SUNK, 2.0),)}, "a pocket 2 mm deep"),
        ({"holes": (Hole(20, 20, 4.0, 3.0),)}, "a blind hole 3 mm deep"),
    ],
)
def test_work_in_the_face_on_a_beam_machine_is_a_blocker(work, what):
    (finding,) = refused(stack("mdf", **work), shop(machine="bench-beam"))
    assert (finding.code, finding.part) == ("uncut", "face.X")
    assert what in finding.why
    assert SQUARE.contains(shapely.Point(finding.where.anchor))


def test_lines_on_a_beam_machine_ask_for_its_power_to_scribe():
    made, power = stack("mdf", scribes=(LINE,)), {"material": "mdf", "thickness": 6, "cut": 60}
    for figures, wanted in ((power, 1), ({**power, "scribe": 10}, 0)):
        beam = shop(machine="bench-beam", power=[figures])
        found = [f for f in check_stack(made, CATALOGUE, beam) if f.code in ("power", "uncut")]
        assert [f.code for f in found] == ["power"] * wanted


def test_a_blank_on_a_beam_machine_is_a_blocker():
    (finding,) = refused(stack("mdf", fixture=HELD), shop(machine="bench-beam"))
    assert "work on a blank" in finding.why


def test_a_sheet_that_no_beam_goes_through_is_a_blocker_whatever_end_mills_there_are():
    """The beam of the catalogue reaches 10 mm; an end mill of 22 mm lies in the same rack."""
    (finding,) = refused(stack("mdf", 12.0), shop(machine="bench-beam"))
    assert (finding.code, finding.measured, finding.limit) == ("depth", 12.0, 10.0)
    assert refused(stack("mdf", 10.0), shop(machine="bench-beam")) == ()


def test_a_beam_in_the_rack_does_not_make_a_router_cut_deeper():
    (finding,) = refused(stack("mdf", 6.0), shop(["flat-1", "beam-015"]))
    assert (finding.code, finding.limit) == ("depth", 4.0)


@pytest.mark.parametrize(("hold_down", "count"), [("tabs", 1), ("tape", 1), ("skin", 0)])
def test_a_cut_needs_what_it_goes_into_the_spoil_board_as_well(hold_down, count):
    """4 mm of cutter in 4 mm of sheet: the cut is 4.2 mm deep, or 3.7 mm above a skin."""
    assert len(refused(stack("mdf", 4.0), shop(["flat-1"], hold_down=hold_down))) == count


@pytest.mark.parametrize(
    ("cutter", "work"),
    [
        ("flat-3175", {}),
        ("flat-3175", {"pockets": (Pocket(SUNK, 2.0),)}),
        ("vbit-60", {"grooves": (Groove(SUNK, 1.0),)}),
        ("drag-120", {"scribes": (LINE,)}),
    ],
)
def test_a_cutter_meant_for_metal_does_not_count_for_acrylic(cutter, work):
    own = replace(CATALOGUE.cutter(cutter), materials=(MaterialClass.METAL,))
    there = shop(["flat-3175", "vbit-60", "drag-120", "drill-3"])
    others = tuple(c for c in there.cutters if c.key != cutter)
    made = stack("acrylic-cast", 3.0, **work)
    assert refused(made, there) == ()
    found = refused(made, replace(there, cutters=(*others, own)))
    assert found
    assert all(f.code == "uncut" and "only for metal" in f.why for f in found)


def test_gaps_are_held_against_the_cutters_that_suit_the_material():
    """A slot of 1.2 mm: open to the 1 mm cutter, closed where that is meant for metal."""
    slot = SQUARE.difference(box(20, 10, 21.2, 30))
    there = shop(["flat-1", "flat-3175"])
    metal = tuple(
        replace(c, materials=(MaterialClass.METAL,)) if c.key == "flat-1" else c
        for c in there.cutters
    )
    made = stack("acrylic-cast", 3.0, outline=slot)
    slots = [
        [f for f in check_stack(made, CATALOGUE, s) if f.code == "slot"]
        for s in (there, replace(there, cutters=metal))
    ]
    assert [len(s) for s in slots] == [0, 1]


@pytest.mark.parametrize(
    ("cutters", "work", "says"),
    [
        (["flat-3175"], {"scribes": (LINE,)}, "no drag point"),
        (["flat-3175"], {"grooves": (Groove(SUNK),)}, "no V-bit"),
        (["flat-3175", "vbit-60"], {"grooves": (Groove(SUNK, None, 90.0),)}, "no 90 degree V-bit"),
        (["flat-3175", "drag-120"], {"scribes": (replace(LINE, depth_mm=0.8),)}, "long enough"),
        (["flat-3175"], {"pockets": (Pocket(as_region(box(9, 9, 12, 30)), 3.0),)}, "3 mm wide"),
        (["flat-3175"], {"holes": (Hole(20, 20, 3.0, 3.0),)}, "a blind hole 3 mm deep"),
        (["flat-3175", "drill-2"], {"holes": (Hole(20, 20, 3.0),)}, "a 3 mm drill"),
    ],
)
def test_work_that_nothing_in_the_rack_does_is_a_blocker(cutters, work, says):
    (finding,) = refused(stack("mdf", **work), shop(cutters))
    assert finding.severity is Severity.BLOCKER
    assert finding.part == "face.X"
    assert says in finding.why
    assert finding.remedies


def test_a_part_smaller_than_every_cutter_is_a_blocker():
    (finding,) = refused(stack("mdf", outline=box(0, 0, 40, 2.5)), shop(["flat-3175"]))
    assert "only 2.5 mm across" in finding.why


def test_work_on_a_blank_asks_for_no_cutter_that_goes_through():
    """A bought board of 19 mm carved 4 mm deep: bits of the rack reach, none goes through."""
    carved = stack("black-walnut", 19.05, fixture=HELD, grooves=(Groove(SUNK, 4.0),),
                   pockets=(Pocket(as_region(box(35, 10, 55, 30)), 4.0),))  # fmt: skip
    there = shop(["flat-2", "vbit-60"])
    assert refused(carved, there) == ()
    blockers = [f for f in check_stack(carved, CATALOGUE, there) if f.severity == "blocker"]
    assert blockers == []
    (deep,) = refused(replace(carved, layers=(replace(carved.layers[0], fixture=None),)), there)
    assert deep.code == "depth"


def test_a_board_for_blanks_asks_for_cutters_of_its_own():
    """Its pockets are as deep as the blank is thick, and it is cut out of its sheet."""
    made = stack("brass", 1.5, fixture=HELD, scribes=(LINE,))
    board = Layer("board", "mdf", 12.0, 0.0,
                  (Part("board", "board", SQUARE, pockets=(Pocket(SUNK, 1.5),)),))  # fmt: skip
    whole = replace(made, fixtures=(board,))
    assert refused(whole, shop(["flat-3175", "drag-120"])) == ()
    (finding,) = refused(whole, shop(["flat-2", "drag-120"]))
    assert (finding.code, finding.layer) == ("depth", "board")


def test_round_holes_are_asked_for_by_their_own_size():
    ring = SQUARE.difference(Polygon(circle(20, 20, 2.0, 0.005)))
    made = stack("mdf", outline=shapely.orient_polygons(ring), holes=(Hole(20, 20, 4.0),))
    assert refused(made, shop(["flat-6", "drill-4"])) == ()
    assert refused(made, shop(["flat-6", "flat-3175"])) == ()
    (finding,) = refused(made, shop(["flat-6"]))
    assert "neither a 4 mm drill nor an end mill" in finding.why
