"""Engaged angles against plane geometry, and slower feeds where a corner is full of stock."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from cutting.hand_made import SHAPES, disc, region
from letterply.cutting.face.engagement import engaged_deg, full_corners
from letterply.cutting.face.pocket import STEPOVER, PocketCut, clear_pocket
from letterply.cutting.model import Rate
from letterply.cutting.paths import ParametricPath
from letterply.shapes.arcs import fit_arcs
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

RADIUS = 1.5
STEP = 2 * STEPOVER * RADIUS
STRAIGHT = math.degrees(math.acos(1 - STEP / RADIUS))
# The edge is looked at every five degrees.
WITHIN_DEG = 5.0


def corner(interior_deg):
    """Return a pocket's room with one corner at the origin, sides along x and at the angle."""
    angle = math.radians(interior_deg)
    return Polygon([(0, 0), (60, 0), (60 * math.cos(angle), 60 * math.sin(angle))])


def cleared_before(room):
    """Return what all loops inside the outermost one have cleared."""
    return region(shapely.buffer(shapely.buffer(room, -STEP, quad_segs=64), RADIUS, quad_segs=64))


@pytest.mark.parametrize("heading", [0.0, 1.0, 2.5, -2.0])
@pytest.mark.parametrize("stepover", [0.1, 0.25, 0.4, 0.5])
def test_on_a_straight_run_it_is_the_arc_cosine_of_what_is_not_bitten(heading, stepover):
    turn = np.array([[math.cos(heading), math.sin(heading)]])
    side = np.array([-turn[0, 1], turn[0, 0]])
    bite = 2 * stepover * RADIUS
    # Clear on the left of the cutter, up to the radius less the bite on its right.
    edge = -side * (RADIUS - bite)
    along = turn[0] * 50
    clear = region(
        Polygon([edge - along, edge + along, edge + along + 50 * side, edge - along + 50 * side])
    )
    found = engaged_deg(np.zeros((1, 2)), np.array([heading]), clear, RADIUS)[0]
    assert found == pytest.approx(math.degrees(math.acos(1 - 2 * stepover)), abs=WITHIN_DEG)


@pytest.mark.parametrize("interior_deg", [45, 60, 90, 120, 150])
def test_at_a_corner_it_grows_by_what_the_loop_turns(interior_deg):
    room = corner(interior_deg)
    # Clockwise round the pocket's middle, the wall on the left: along x towards the corner.
    found = engaged_deg(np.array([[1e-3, 0.0]]), np.array([math.pi]), cleared_before(room), RADIUS)
    expected = min(180.0, STRAIGHT + 180 - interior_deg)
    assert found[0] == pytest.approx(expected, abs=WITHIN_DEG)


@pytest.mark.parametrize(("interior_deg", "slows"), [(45, 1), (90, 1), (135, 1), (160, 0)])
def test_a_loop_slows_into_sharp_corners_and_not_after_them(interior_deg, slows):
    room = corner(interior_deg)
    points = np.asarray(room.exterior.coords)[:, :2]
    # Start in the middle of a side, so that the corner at the origin is met on the way.
    points = np.vstack(([[30.0, 0.0]], points[1:-1], [[0.0, 0.0]], [[30.0, 0.0]]))
    walk = ParametricPath(fit_arcs(points, TOLERANCES.arc_fit_mm), closed=True)
    stretches = full_corners(walk, cleared_before(room), RADIUS, STEPOVER)
    at_origin = walk.length - 30.0
    near = [s for s in stretches if s[0] < at_origin + RADIUS and s[1] > at_origin - RADIUS]
    assert len(near) == slows
    for begin, end in near:
        assert at_origin - 2 * RADIUS < begin < at_origin
        # What the loop itself has just cut counts as stock: past an acute corner it stays slow
        # for a third of the diameter at most.
        assert end == pytest.approx(at_origin, abs=2 * RADIUS / 3)


def test_the_first_cut_is_a_slot_all_along_and_has_no_corners():
    walk = ParametricPath(fit_arcs(np.asarray(box(0, 0, 9, 9).exterior.coords), 0.005), closed=True)
    assert len(full_corners(walk, None, RADIUS, STEPOVER)) == 0


def test_a_square_pocket_is_slow_in_every_corner_of_every_loop_but_the_first():
    (path,) = clear_pocket(region(SHAPES["square"]), PocketCut(RADIUS, 1.0, 1.2, TOLERANCES))
    slow = path.rates == Rate.CORNER
    runs = np.count_nonzero(np.diff(np.concatenate(([False], slow, [False])).astype(int)) == 1)
    side = math.sqrt(region(SHAPES["square"]).area)
    loops = math.ceil((side / 2 - RADIUS) / STEP)
    # The innermost loop is the first cut; a loop may start in one of its corners.
    assert 4 * (loops - 1) - loops <= runs <= 4 * (loops - 1) + loops
    lengths = np.hypot(*np.diff(np.vstack((path.start, path.ends))[:, :2], axis=0).T)
    assert 0 < lengths[slow].sum() < 0.25 * lengths.sum()


def test_a_round_pocket_is_slow_nowhere():
    for path in clear_pocket(region(disc(0, 0, 12)), PocketCut(RADIUS, 1.0, 1.2, TOLERANCES)):
        assert not (path.rates == Rate.CORNER).any()


def test_a_smaller_cutter_in_what_is_left_is_slow_all_along_and_needs_no_corners():
    whole = region(SHAPES["square"])
    paths = clear_pocket(whole, PocketCut(0.5, 1.0, 1.2, TOLERANCES), within=whole)
    assert paths
    assert not any((p.rates == Rate.CORNER).any() for p in paths)
