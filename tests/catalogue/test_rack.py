"""What may cut what: by kind of work, depth, material and machine, with the reason when not."""

import dataclasses

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Cutter, CutterKind, MaterialClass
from letterply.catalogue.rack import CutterRack, Work, through_depth
from letterply.requests.shop import HoldDown

CATALOGUE = load_catalogue()
SIX = Cutter("f6", "6 mm", CutterKind.FLAT, 6.0, 2, 20.0)
THREE = Cutter("f3", "3 mm", CutterKind.FLAT, 3.0, 2, 12.0)
ONE = Cutter("f1", "1 mm", CutterKind.FLAT, 1.0, 1, 4.0)
V60 = Cutter("v60", "60 degrees", CutterKind.VBIT, 12.7, 2, 10.0, 60.0)
DRAG = Cutter("drag", "drag", CutterKind.DRAG, 0.2, 0, 0.5, 90.0)
DRILL = Cutter("d3", "3 mm drill", CutterKind.DRILL, 3.0, 2, 20.0, 118.0)
BEAM = Cutter("beam", "beam", CutterKind.BEAM, 0.15, 0, 6.0)
EVERY = (SIX, THREE, ONE, V60, DRAG, DRILL, BEAM)


def rack(*cutters, material="mdf", machine="bench-router"):
    chosen = CATALOGUE.machine(machine) if machine else None
    return CutterRack(cutters, CATALOGUE.material(material), chosen)


def keys(cutters):
    return [c.key for c in cutters]


def test_end_mills_are_those_that_reach_and_suit_smallest_first():
    cutters = (
        dataclasses.replace(SIX, key="short", cutting_length_mm=3.0),
        SIX,
        dataclasses.replace(THREE, key="plastic", materials=(MaterialClass.ACRYLIC,)),
        dataclasses.replace(THREE, key="board", materials=(MaterialClass.FIBREBOARD,)),
        ONE,
        Cutter("ball", "ball", CutterKind.BALL, 3.0, 2, 20.0),
        DRILL,
    )
    assert keys(rack(*cutters).able(Work.POCKET, 3.2)) == ["f1", "board", "f6"]


@pytest.mark.parametrize("cutter", [SIX, V60, DRAG, DRILL, BEAM])
def test_a_cutter_meant_for_metal_does_no_work_on_acrylic(cutter):
    """Whatever its kind: nobody may count it in, and the reason names what it is meant for."""
    metal = dataclasses.replace(cutter, materials=(MaterialClass.METAL,))
    machine = "bench-beam" if cutter.kind is CutterKind.BEAM else "bench-router"
    work = {
        CutterKind.FLAT: Work.OUTLINE,
        CutterKind.VBIT: Work.GROOVE,
        CutterKind.DRAG: Work.SCRIBE,
        CutterKind.DRILL: Work.DRILL,
        CutterKind.BEAM: Work.OUTLINE,
    }[cutter.kind]
    there = rack(metal, material="acrylic-cast", machine=machine)
    assert there.able(work, 0.1) == ()
    refusal = there.refusal(work, 0.1, "this")
    assert refusal.code == "uncut"
    assert "only for metal" in refusal.why
    assert keys(rack(cutter, material="acrylic-cast", machine=machine).able(work, 0.1)) == [
        cutter.key
    ]


@pytest.mark.parametrize(
    ("work", "depth", "able"),
    [
        (Work.OUTLINE, 4.0, ["f1", "f3", "f6"]),
        (Work.OUTLINE, 4.1, ["f3", "f6"]),
        (Work.POCKET, 20.0, ["f6"]),
        (Work.POCKET, 20.1, []),
        (Work.GROOVE, 9.9, ["v60"]),
        (Work.GROOVE, 10.0, []),
        (Work.SCRIBE, 0.5, ["drag"]),
        (Work.SCRIBE, 0.6, []),
        # 3 / (2 tan 59 degrees) = 0.901 mm of point goes further than the hole
        (Work.DRILL, 19.0, ["d3"]),
        (Work.DRILL, 19.2, []),
    ],
)
def test_each_work_asks_for_its_own_cutter_and_depth(work, depth, able):
    there = rack(*EVERY)
    assert keys(there.able(work, depth)) == able
    refusal = there.refusal(work, depth, "this")
    assert (refusal is None) == bool(able)
    if refusal is not None:
        assert refusal.code == "depth"
        assert refusal.measured_mm == depth >= refusal.limit_mm


def test_a_groove_asks_for_the_angle_that_the_recipe_names():
    assert keys(rack(V60).able(Work.GROOVE, angle_deg=60.0)) == ["v60"]
    refusal = rack(V60).refusal(Work.GROOVE, 0.0, "a groove", angle_deg=90.0)
    assert (refusal.code, refusal.why) == ("uncut", "the rack has no 90 degree V-bit for a groove")


@pytest.mark.parametrize(
    ("hold_down", "depth"), [(HoldDown.TABS, 4.0), (HoldDown.TAPE, 4.0), (HoldDown.SKIN, 3.5)]
)
def test_what_goes_through_goes_into_the_spoil_board_or_leaves_a_skin(hold_down, depth):
    """A cutter of just the sheet's thickness is too short for tabs, long enough for a skin."""
    assert through_depth(3.8, hold_down) == pytest.approx(depth)
    exact = dataclasses.replace(ONE, cutting_length_mm=3.8)
    assert bool(rack(exact).through(3.8, hold_down)) is (hold_down is HoldDown.SKIN)


def test_a_machine_that_does_not_go_so_deep_is_named():
    machine = dataclasses.replace(CATALOGUE.machine("bench-router"), z_travel_mm=20.0)
    there = CutterRack((SIX,), CATALOGUE.material("mdf"), machine)
    assert keys(there.able(Work.POCKET, 15.0)) == ["f6"]
    refusal = there.refusal(Work.POCKET, 15.1, "a pocket 15.1 mm deep")
    assert refusal.code == "depth"
    assert refusal.why.startswith("the machine 'Bench router 600 x 400' goes only 15 mm deep")


@pytest.mark.parametrize("material", ["pvc-sheet", "aluminium-6061", "brass"])
@pytest.mark.parametrize("machine", ["bench-beam", None])
def test_what_must_not_be_burnt_is_refused_for_every_work(material, machine):
    there = rack(BEAM, material=material, machine=machine)
    for work in Work:
        assert there.able(work) == ()
        assert there.refusal(work, 1.0, "this").code == "refused"
    assert there.through(1.0, HoldDown.BED) == ()
    refusal = there.through_refusal(1.0, HoldDown.BED)
    assert "must not be cut by a beam" in refusal.why
    assert CATALOGUE.material(material).beam_reason in refusal.why
    assert refusal.remedies[0].action == "change_material"


def test_a_beam_is_never_counted_in_for_a_refused_material_beside_end_mills():
    assert keys(rack(SIX, BEAM, material="pvc-sheet", machine=None).through(3, HoldDown.TABS)) == [
        "f6"
    ]
    assert keys(rack(SIX, BEAM, machine=None).through(3, HoldDown.TABS)) == ["beam", "f6"]


def test_a_beam_machine_cuts_through_and_draws():
    there = rack(*EVERY, machine="bench-beam")
    assert keys(there.through(6.0, HoldDown.BED)) == ["beam"]
    assert there.through(6.1, HoldDown.BED) == ()
    assert keys(there.able(Work.SCRIBE)) == ["beam"]
    for work in (Work.POCKET, Work.GROOVE, Work.DRILL):
        assert there.able(work) == ()
        assert "cuts right through" in there.refusal(work, 0.1, "a pocket").why


def test_holes_are_drilled_or_milled_and_small_parts_are_refused():
    there = rack(SIX, DRILL)
    assert there.hole_refusal(3.0, 6.2, "a hole", room_mm=3.0) is None
    assert there.hole_refusal(6.1, 6.2, "a hole", room_mm=6.075) is None
    assert there.hole_refusal(4.0, 6.2, "a hole", room_mm=3.975).code == "uncut"
    assert there.part_refusal(6.0, 6.0, HoldDown.TABS) is None
    assert "5.9 mm across" in there.part_refusal(5.9, 6.0, HoldDown.TABS).why
