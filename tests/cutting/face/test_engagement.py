"""Engaged angles against plane geometry, and slower feeds where a corner is full of stock."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from cutting.hand_made import SHAPES, disc, dumbbell, region
from cutting.measuring import dense, plan_lengths, swept
from letterply.cutting.face.beside import PocketCut
from letterply.cutting.face.engagement import engaged_deg, full_stretches
from letterply.cutting.face.pocket import ENGAGED_DEG, STEPOVER, clear_pocket
from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.profiles import RAMP_DEG, clearance
from letterply.cutting.toolpath import Rate
from letterply.shapes import EMPTY
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


@pytest.mark.parametrize(("interior_deg", "slows"), [(45, 1), (90, 1), (150, 0), (160, 0)])
def test_a_sharp_loop_slows_into_sharp_corners_and_not_after_them(interior_deg, slows):
    room = corner(interior_deg)
    points = np.asarray(room.exterior.coords)[:, :2]
    # Start in the middle of a side, so that the corner at the origin is met on the way.
    points = np.vstack(([[30.0, 0.0]], points[1:-1], [[0.0, 0.0]], [[30.0, 0.0]]))
    walk = ParametricPath(fit_arcs(points, TOLERANCES.arc_fit_mm), closed=True)
    stretches = full_stretches(walk, cleared_before(room), RADIUS, ENGAGED_DEG)
    at_origin = walk.length - 30.0
    near = [s for s in stretches if s[0] < at_origin + RADIUS and s[1] > at_origin - RADIUS]
    assert len(near) == slows
    for begin, end in near:
        assert at_origin - 2 * RADIUS < begin < at_origin
        # What the loop itself has just cut counts as stock: past an acute corner it stays slow
        # for a third of the diameter at most.
        assert end == pytest.approx(at_origin, abs=2 * RADIUS / 3)


def test_the_first_cut_is_a_slot_and_slow_all_along():
    walk = ParametricPath(fit_arcs(np.asarray(box(0, 0, 9, 9).exterior.coords), 0.005), closed=True)
    assert full_stretches(walk, EMPTY, RADIUS, ENGAGED_DEG) == pytest.approx(
        np.array([[0.0, walk.length]])
    )
    assert len(full_stretches(walk, None, RADIUS, ENGAGED_DEG)) == 0  # it is not known


def removed_along(path, radius, depth, cell):
    """Take the stock away step by step on a raster, and look at the edge before each step.

    Returns for each step on the floor its place, the angle of the leading edge that has stock
    before it, degrees, whether stock is beside the cutter on both sides, and its length. What no
    step of the path takes away is wall, and no stock; nor is what is thinner than a tenth of the
    radius.
    """
    points, _ = dense(path, radius / 8)
    whole = swept(path, radius, at_mm=-depth)
    left, low, right, top = whole.buffer(radius).bounds
    x, y = np.arange(left, right, cell), np.arange(low, top, cell)
    shapely.prepare(whole)
    stock = shapely.contains_xy(whole, *np.meshgrid(x, y))
    reach = int(radius / cell) + 2
    square = np.arange(-reach, reach + 1)
    edge = np.radians(np.arange(-88.0, 89.0, 4.0))
    found = []
    on_floor = points[:, 2] <= -depth + 1e-6
    for k in np.flatnonzero(on_floor[1:] & on_floor[:-1]):
        a, b = points[k, :2], points[k + 1, :2]
        length = math.hypot(*(b - a))
        if length < 1e-6:
            continue
        i, j = round((a[1] - low) / cell), round((a[0] - left) / cell)
        down, over = y[i] - a[1] + square * cell, x[j] - a[0] + square * cell
        disc = down[:, None] ** 2 + over[None, :] ** 2 <= radius**2
        stock[i - reach : i + reach + 1, j - reach : j + reach + 1] &= ~disc
        angles = math.atan2(b[1] - a[1], b[0] - a[0]) + edge
        at = b + 1.1 * radius * np.column_stack((np.cos(angles), np.sin(angles)))
        row = np.clip(np.round((at[:, 1] - low) / cell).astype(int), 0, len(y) - 1)
        column = np.clip(np.round((at[:, 0] - left) / cell).astype(int), 0, len(x) - 1)
        engaged = stock[row, column]
        both = engaged[:5].any() and engaged[-5:].any()
        found.append((*b, 4.0 * engaged.sum(), both, length))
    return np.array(found)


OPEN = {
    # name -> pocket, and the share of the way on which it may be engaged further
    "square": (region(SHAPES["square"]), 0.002),
    "long": (region(box(0, 0, 70, 24)), 0.002),
    # In corners of 60 and 45 degrees the bound is passed for half a millimetre a loop.
    "triangle": (region(Polygon([(0, 0), (44, 0), (22, 38)])), 0.02),
    "right triangle": (region(Polygon([(0, 0), (44, 0), (0, 44)])), 0.01),
}


@pytest.mark.parametrize(
    ("name", "radius"),
    [("square", 1.5), ("square", 3.0), ("long", 3.0), ("triangle", 3.0), ("right triangle", 1.5)],
)
def test_where_it_is_not_the_first_to_go_a_cutter_is_engaged_within_the_bound(name, radius):
    """All along but for slots, with stock on both sides, and a diameter round the first loop."""
    pocket, share = OPEN[name]
    (path,) = clear_pocket(pocket, PocketCut(radius, 1.0, 1.2, TOLERANCES))
    steps = removed_along(path, radius, 1.0, radius / 40)
    home = np.hypot(*(steps[:, :2] - steps[0, :2]).T) < radius / 8
    gone = np.cumsum(steps[:, 4]) > 2 * radius
    first = shapely.LineString(steps[: np.argmax(home & gone) + 1, :2])
    later = shapely.distance(shapely.points(steps[:, :2]), first) > 2 * radius
    free = later & (steps[:, 3] == 0)
    # Angles are looked at every four degrees, and a cell of the raster is a degree and a half.
    over = free & (steps[:, 2] > ENGAGED_DEG + 6)
    assert steps[over, 4].sum() < share * steps[free, 4].sum()
    assert steps[free, 4].sum() > 0.3 * steps[:, 4].sum()
    assert steps[free, 2].max() > STRAIGHT - 6


def slow_mm(path):
    """Return how far a path goes at the feed for where it cuts more, and how far in all."""
    lengths = plan_lengths(path)
    return lengths[path.rates == Rate.CORNER].sum(), lengths.sum()


def test_a_round_pocket_is_slow_on_its_first_loop_alone():
    """The innermost loop is a slot; those round it take a stepover of what is left."""
    (path,) = clear_pocket(region(disc(0, 0, 12)), PocketCut(RADIUS, 1.0, 1.2, TOLERANCES))
    slow, whole = slow_mm(path)
    room = 12 - RADIUS - clearance(TOLERANCES)
    innermost = room - math.floor(room / (2 * RADIUS * STEPOVER)) * 2 * RADIUS * STEPOVER
    ramp = 1.0 / math.tan(math.radians(RAMP_DEG))
    assert slow == pytest.approx(2 * math.pi * innermost + ramp, rel=0.02)
    assert slow < whole / 3


@pytest.mark.parametrize("wide", [2.2, 3.0])
def test_along_a_slot_hardly_wider_than_the_cutter_it_is_slow(wide):
    """Both sides are one loop, the first to go there; what it has cut itself counts as stock."""
    slot = region(box(0, 0, 60, wide * RADIUS))
    (path,) = clear_pocket(slot, PocketCut(RADIUS, 1.0, 1.2, TOLERANCES))
    slow, whole = slow_mm(path)
    assert slow > 0.95 * whole


def test_parts_of_a_pocket_are_cleared_one_after_the_other_from_entries_of_their_own():
    """Two rooms with a passage: each is cleared inside out until they meet, lifted over once."""
    rooms = region(dumbbell(9))
    (path,) = clear_pocket(rooms, PocketCut(1.0, 1.0, 1.2, TOLERANCES))
    over = (path.ends[:, 2] > 1e-9) & (np.diff(path.ends[:, 2], append=0.0) < 0)
    assert over.sum() == 1
    low = path.ends[:, 2] < -1e-9
    sides = (path.ends[low, 0] > 13.0).astype(int)
    # One room, then the other; only the loops along the wall go round both.
    assert (np.diff(sides[: int(0.6 * len(sides))]) != 0).sum() <= 2


def test_a_smaller_cutter_in_what_is_left_is_slow_all_along_and_needs_no_corners():
    whole = region(SHAPES["square"])
    paths = clear_pocket(whole, PocketCut(0.5, 1.0, 1.2, TOLERANCES), within=whole)
    assert paths
    assert not any((p.rates == Rate.CORNER).any() for p in paths)
