"""Helices beside outlines: in the waste, no steeper than asked, meeting the outline on a curve."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from cutting.hand_made import SHAPES, flat, part, sheet, shop
from cutting.measuring import dense, starts_of
from letterply.catalogue import HoldDown
from letterply.catalogue.shop import Entry, TabShape
from letterply.cutting.model import OperationKind
from letterply.cutting.plan import plan_sheet
from letterply.cutting.profile import RAMP_DEG
from letterply.proof.model import ProgramSource
from letterply.proof.verdict import prove_sheet

THREE = dataclasses.replace(flat(3.0), can_plunge=False)


@pytest.fixture
def plan(catalogue):
    def make(shape, *, entry=Entry.HELIX, **changes):
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


def test_the_cutter_meets_and_leaves_the_outline_on_a_curve(plan):
    """The first and the last point of a path lie a circle's width off the loop."""
    _, made = plan(SHAPES["square"])
    (op,) = profiles(made)
    (placed,) = made.sheet.parts
    (path,) = op.paths
    for point in (path.start, path.ends[-1]):
        away = shapely.distance(shapely.Point(point[:2]), placed.part.outline)
        assert away == pytest.approx(1.5 + 2 * 1.5, abs=0.03)
    last = path.ends[-2, :2] - path.centres[-1]
    tangent = np.array([-last[1], last[0]]) * path.senses[-1]
    before = path.ends[-2, :2] - starts_of(path)[-2, :2]
    cosine = tangent @ before / np.hypot(*tangent) / np.hypot(*before)
    assert cosine == pytest.approx(1, abs=1e-3)


def test_where_there_is_no_room_cutters_ramp_along_the_cut(plan):
    """A hole of 4.2 mm leaves a cutter of 3 mm a loop of 0.6 mm: too small for any helix."""
    tight = SHAPES["square"].difference(shapely.Point(20, 20).buffer(2.1, quad_segs=64))
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
        cutters={c.key: c for c in rack.cutters},
        machine=rack.machine,
        through_mm=made.through_mm,
        tabs=made.tabs,
        hold_down=made.hold_down,
    )
    assert proof.passed, proof.summary
    assert all(tabs >= 1 for tabs in made.tabs.values())


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
