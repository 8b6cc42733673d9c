"""Where and how cutters go in.

Places to go in are good ones; helices lie in the waste, no steeper than asked, and meet the outline
on a curve.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely
from shapely import box

from cutting.hand_made import SHAPES, flat, part, region, sheet, shop
from cutting.measuring import dense, starts_of
from letterply.catalogue.model import Cutter, CutterKind
from letterply.cutting.face.drill import scribe_line
from letterply.cutting.face.groove import carve_groove
from letterply.cutting.model import OperationKind
from letterply.cutting.paths import ParametricPath
from letterply.cutting.plan import plan_sheet
from letterply.cutting.profile.entry import entries, helices_beside
from letterply.cutting.profile.profiles import (
    RAMP_DEG,
    ProfileCut,
    TabPlan,
    outside_loops,
    profile_path,
)
from letterply.cutting.profile.rest_machining import to_and_fro
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.verdict import prove_sheet
from letterply.requests.shop import EntryKind, HoldDown, TabShape
from letterply.shapes.arcs import fit_arcs
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

THREE = dataclasses.replace(flat(3.0), can_plunge=False)


@pytest.fixture
def plan(catalogue):
    def make(shape, *, entry=EntryKind.HELIX, **changes):
        rack = dataclasses.replace(shop(catalogue, THREE), entry=entry, **changes)
        return rack, plan_sheet(sheet(part(shape)), rack, catalogue, 9.0)

    return make


def profiles(made):
    return [op for op in made.operations if op.kind is OperationKind.PROFILE]


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_ramps_run_beside_the_outline_and_never_into_the_part(plan, name):
    _, made = plan(SHAPES[name])
    (placed,) = made.sheet.parts
    for op in profiles(made):
        for path in op.paths:
            points, _ = dense(path, 0.05)
            away = shapely.distance(shapely.points(points[:, :2]), placed.part.outline)
            assert away.min() >= 1.5


@pytest.mark.parametrize("shape", ["square", "disc", "ring", "dumbbell"])
def test_nothing_is_steeper_than_a_ramp_and_nothing_plunges(plan, shape):
    _, made = plan(SHAPES[shape], hold_down=HoldDown.TAPE)
    for op in profiles(made):
        for path in op.paths:
            assert not path.plunging.any()
            starts = starts_of(path)
            down = starts[:, 2] - path.ends[:, 2]
            arc = path.senses != 0
            assert not ((down > 1e-9) & ~arc).any()
            radius = np.hypot(*(path.ends[arc, :2] - path.centres[arc]).T)
            steep = down[arc] / (np.pi * radius)
            assert steep.max() <= np.tan(np.radians(RAMP_DEG)) + 1e-9


@pytest.mark.parametrize(("hold_down", "wide"), [(HoldDown.TAPE, 1.5), (HoldDown.TABS, 1.0)])
def test_the_cutter_meets_and_leaves_the_outline_on_a_curve(plan, hold_down, wide):
    """The first and the last point of a path lie a circle's width off the loop.

    On tape the circle is as wide as the way in that the sheet's margin keeps clear. Between tabs
    there is a web of 3 mm: 1 mm of it stays where two helices face each other.
    """
    _, made = plan(SHAPES["square"], hold_down=hold_down)
    (op,) = profiles(made)
    (placed,) = made.sheet.parts
    (path,) = op.paths
    for point in (path.start, path.ends[-1]):
        away = shapely.distance(shapely.Point(point[:2]), placed.part.outline)
        assert away == pytest.approx(1.5 + wide, abs=0.03)
    last = path.ends[-2, :2] - path.centres[-1]
    tangent = np.array([-last[1], last[0]]) * path.senses[-1]
    before = path.ends[-2, :2] - starts_of(path)[-2, :2]
    cosine = tangent @ before / np.hypot(*tangent) / np.hypot(*before)
    assert cosine == pytest.approx(1, abs=1e-3)


def test_where_there_is_no_room_cutters_ramp_along_the_cut(plan):
    """A hole of 3.5 mm leaves a cutter of 3 mm a loop of 0.24 mm: too small for any helix."""
    tight = SHAPES["square"].difference(shapely.Point(20, 20).buffer(1.75, quad_segs=64))
    _, made = plan(tight)
    inner = next(op for op in profiles(made) if op.inside)
    (path,) = inner.paths
    away = shapely.distance(shapely.Point(path.start[:2]), shapely.Point(35, 35))
    assert shapely.Point(path.start[:2]).distance(made.sheet.parts[0].part.outline) < 1.52
    assert away < 0.7


@pytest.mark.parametrize("shape", ["square", "corner", "frame", "ring", "bay with a narrow mouth"])
@pytest.mark.parametrize("finish", [0.0, 0.2])
@pytest.mark.parametrize("tabs", list(TabShape))
def test_such_plans_are_proved(plan, shape, finish, tabs):
    rack, made = plan(SHAPES[shape], finish_mm=finish, tab_shape=tabs)
    proof = prove_sheet(
        made.sheet,
        [ProgramSource(p.name, p.cutters, p.text) for p in made.programs],
        Setup(
            cutters={c.key: c for c in rack.cutters},
            machine=rack.machine,
            through_mm=made.through_mm,
            hold_down=made.hold_down,
            tabs=made.tabs,
            tab_foot_mm=made.tab_foot_mm,
        ),
    )
    assert proof.passed, proof.summary
    assert all(tabs >= 1 for tabs in made.tabs.values())


@pytest.mark.parametrize("tabs", list(TabShape))
def test_a_finishing_pass_beside_tabs_bears_what_it_meets(catalogue, tabs):
    """In brass a pass is 0.32 mm deep, and a tab with the cut below it 0.7 mm high."""
    rack = dataclasses.replace(shop(catalogue, THREE), finish_mm=0.22, tab_shape=tabs)
    square = sheet(part(SHAPES["square"]), material="brass", thickness=1.0)
    made = plan_sheet(square, rack, catalogue, 9.0)
    proof = prove_sheet(
        made.sheet,
        [ProgramSource(p.name, p.cutters, p.text) for p in made.programs],
        Setup(
            cutters={c.key: c for c in rack.cutters},
            machine=rack.machine,
            through_mm=made.through_mm,
            hold_down=made.hold_down,
            tabs=made.tabs,
            tab_foot_mm=made.tab_foot_mm,
            material=catalogue.material("brass"),
        ),
    )
    assert "deep-pass" not in {f.code for f in proof.faults}, proof.summary


def test_a_triangular_tab_leaves_less_to_cut(plan):
    """Area of the path's rise over the tabs, less what the cutter's own width takes again."""
    rises = {}
    for shape in TabShape:
        _, made = plan(SHAPES["square"], tab_shape=shape)
        (op,) = profiles(made)
        (path,) = op.paths
        starts = starts_of(path)
        length = np.hypot(*(path.ends - starts)[:, :2].T)
        level = np.abs(path.ends[:, 2] - starts[:, 2]) < 1e-9
        top = np.isclose(path.ends[:, 2], -4.5) & level
        rises[shape] = length[top].sum() / op.tabs
    assert rises[TabShape.FLAT] >= 6.0 - 1e-6
    assert rises[TabShape.TRIANGULAR] == pytest.approx(3.0, abs=0.1)


def walk_of(name):
    loop = outside_loops(SHAPES[name], 1.5, TOLERANCES)[0]
    return ParametricPath(fit_arcs(loop.points, TOLERANCES.arc_fit_mm), closed=True)


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_every_place_to_go_in_is_nearly_as_straight_as_the_best(name):
    walk = walk_of(name)
    starts = entries(walk, np.empty(0))
    turns = walk.turning(starts, 8.0)
    everywhere = walk.turning(np.linspace(0, walk.length, 128, endpoint=False), 8.0)
    assert turns[0] == pytest.approx(everywhere.min(), abs=1e-3)
    assert turns.max() <= everywhere.min() + 15.001


@pytest.mark.parametrize("name", ["square", "disc", "corner", "frame", "ring"])
def test_places_to_go_in_are_many_and_apart(name):
    walk = walk_of(name)
    starts = np.sort(entries(walk, np.empty(0)))
    assert len(starts) == 8
    assert np.diff(np.append(starts, starts[0] + walk.length)).min() >= 10


def test_no_place_to_go_in_is_at_a_corner():
    walk = walk_of("square")
    corners = np.array([(x, y) for x in (-1.5, 41.5) for y in (-1.5, 41.5)])
    for point in walk.at(entries(walk, np.empty(0))):
        assert np.hypot(*(corners - point).T).min() > 4


def test_places_to_go_in_keep_away_from_tabs():
    walk = walk_of("square")
    tabs = np.array([20.0, 60.0, 100.0, 140.0])
    starts = entries(walk, tabs)
    gap = np.abs((starts[:, None] - tabs + walk.length / 2) % walk.length - walk.length / 2)
    assert gap.min() >= 10


def test_no_place_to_go_in_is_at_a_neck():
    """Two discs with a straight bar of 3 mm between them: straight, but where it would snap."""
    shape = SHAPES["dumbbell"]
    walk = walk_of("dumbbell")
    points = walk.at(entries(walk, np.empty(0), shape))
    bar = (points[:, 0] > 8) & (points[:, 0] < 18)
    assert not bar.any()


def path_of_a_loop(name, helix):
    loop = outside_loops(SHAPES[name], 1.5, TOLERANCES)[0]
    tabs = TabPlan(3, 5.0, 1.0)
    return profile_path(
        loop, ProfileCut(6.2, 2.5, TOLERANCES, 6.0, helix), clockwise=True, tabs=tabs
    )[0]


def carved():
    bit = Cutter("v", "V-bit", CutterKind.VBIT, 20.0, 2, 20.0, 60.0, 0.1)
    cut = carve_groove(region(shapely.box(0, 0, 12, 5)), bit, 2.0, TOLERANCES)
    return next(path for path in cut.paths if path.entry_options is not None)


OPEN = {
    "loop by ramps": lambda: path_of_a_loop("corner", 0.0),
    "loop by helices": lambda: path_of_a_loop("corner", 1.5),
    "to and fro, even": lambda: to_and_fro(np.array([(0.0, 0), (30, 4)]), 3.0, 1.0, TOLERANCES),
    "to and fro, odd": lambda: to_and_fro(np.array([(0.0, 0), (30, 4)]), 4.0, 1.0, TOLERANCES),
    "open line": lambda: scribe_line(
        shapely.LineString([(0, 0), (9, 2), (12, 12)]), 0.2, TOLERANCES
    ),
    "closed line": lambda: scribe_line(SHAPES["corner"].exterior, 0.2, TOLERANCES),
    "groove": carved,
}


@pytest.mark.parametrize("kind", OPEN)
def test_every_way_begins_and_ends_where_it_says_and_does_the_same_work(kind):
    path = OPEN[kind]()
    assert len(path.entry_options.entries) == len(path.entry_options.exits) > 1
    first = shapely.LineString(dense(path, 0.1)[0][:, :2])
    for way, (entry, exit_) in enumerate(
        zip(path.entry_options.entries, path.entry_options.exits, strict=True)
    ):
        taken = path.taken(way)
        assert taken.entry_options is None
        assert taken.start[:2] == pytest.approx(entry, abs=1e-6)
        assert taken.ends[-1, :2] == pytest.approx(exit_, abs=1e-6)
        assert taken.ends[:, 2].min() == pytest.approx(path.ends[:, 2].min())
        if kind != "loop by helices":
            line = shapely.LineString(dense(taken, 0.1)[0][:, :2])
            assert line.hausdorff_distance(first) < 0.01
    assert path.taken(0).ends is path.ends


def test_ways_move_with_their_path():
    path = path_of_a_loop("corner", 0.0)
    moved = path.moved(90.0, 5.0, 7.0)
    for way in range(len(path.entry_options.entries)):
        there = moved.taken(way)
        x, y = path.taken(way).start[:2]
        assert there.start[:2] == pytest.approx((5 - y, 7 + x))
        assert there.start[:2] == pytest.approx(moved.entry_options.entries[way])
        assert there.ends[-1, :2] == pytest.approx(moved.entry_options.exits[way], abs=1e-6)


def test_a_groove_is_not_entered_at_its_deeper_end():
    """A wedge opens from a point: its middle line is carved from there, not from the deep end."""
    bit = Cutter("v", "V-bit", CutterKind.VBIT, 20.0, 2, 20.0, 60.0, 0.1)
    cut = carve_groove(region(SHAPES["wedge"]), bit, 30.0, TOLERANCES)
    for path in cut.paths:
        if path.entry_options is not None:
            for way in range(2):
                taken = path.taken(way)
                assert taken.ends[0, 2] >= path.ends[0, 2] - 1e-9


def test_triangular_tabs_stand_as_far_apart_as_flat_ones():
    """Their feet are as long though their tops are not: side by side they would be one."""
    (loop,) = outside_loops(SHAPES["square"], 1.5, TOLERANCES)
    height, top = 1.5, 3.0
    flat_tab = TabPlan(6, top + 3.0, height)
    foot = flat_tab.length_mm + 2 * height * flat_tab.flank_mm
    pointed = TabPlan(6, 3.0, height, math.degrees(math.atan(2 * height / (foot - 3.0))))
    places = {}
    for name, tabs in (("flat", flat_tab), ("pointed", pointed)):
        _, places[name] = profile_path(
            loop, ProfileCut(6.2, 3.0, TOLERANCES, 6.0), clockwise=True, tabs=tabs,
            part=SHAPES["square"], keep_clear=region(box(-9, 8, 49, 49)),
        )  # fmt: skip
    assert len(places["flat"]) > 1
    assert np.allclose(places["pointed"], places["flat"])
    apart = np.hypot(*(places["flat"][:, None] - places["flat"][None, :]).transpose(2, 0, 1))
    assert apart[apart > 0].min() > foot


@pytest.mark.parametrize("wide", [0.735, 0.745, 0.76, 2.0])
def test_no_helix_comes_nearer_to_the_other_wall_of_a_cavity_than_paths_keep_away(wide):
    """A circle as wide as the loop, or wider by a hundredth, would cut into the part beyond."""
    loop = np.asarray(box(0, 0, 5, wide).exterior.coords)
    walk = ParametricPath(fit_arcs(loop, TOLERANCES.arc_fit_mm), closed=True)
    starts = np.linspace(0.2, walk.length, 40)
    found = helices_beside(walk, starts, 0.375, loop, waste_inside=True)
    assert bool(found) is (wide > 0.74)  # a smaller circle would be no more than a plunge
    room = box(0, 0, 5, wide).buffer(TOLERANCES.path_clearance_mm - 1e-3)
    for helix in found:
        assert room.contains(shapely.Point(helix.centre).buffer(helix.radius_mm, quad_segs=64))
