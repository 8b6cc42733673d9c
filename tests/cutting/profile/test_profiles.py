"""Profiles: how near the cutter comes, how it goes down, and what its tabs leave."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy import ndimage
from shapely import Polygon, box

from cutting.hand_made import SHAPES, bay, disc, region
from cutting.measuring import chords, dense, plan_lengths, runs, signed_area, slopes_deg, starts_of
from letterply.cutting.profile.profiles import (
    RAMP_DEG,
    TAB_FLANK_DEG,
    LoopCut,
    ProfileCut,
    TabPlan,
    clearance,
    inside_loops,
    outside_loops,
    profile_path,
)
from letterply.cutting.profile.rest_machining import rest_paths, to_and_fro
from letterply.cutting.toolpath import Rate
from letterply.proof.removal.strokes import Profile
from letterply.proof.removal.swept import blank_field, carve
from letterply.shapes.offsets import leftover, surroundings
from letterply.shapes.tolerances import DEFAULT_TOLERANCES as TOLERANCES

DEPTH = 6.2
THICKNESS = 6.0
PASS = 2.5
CUT = ProfileCut(DEPTH, PASS, TOLERANCES, tab_floor_mm=THICKNESS)
RADII = (0.5, 1.5875, 3.0)
# Paths keep off by what lines and arcs may stray: they never come nearer than the radius, and
# lie farther by up to that again. (GEOS rounds the inside corners of what it offsets by up to a
# hundredth of the distance.)
FAR = TOLERANCES.arc_fit_mm + clearance(TOLERANCES) + 1e-6
GEOS_SHARE = 0.01


def outside_paths(shape, radius, *, arcs=True, tabs=None):
    return [
        profile_path(loop, replace(CUT, arcs=arcs), clockwise=True, tabs=tabs, part=shape)[0]
        for loop in outside_loops(shape, radius, TOLERANCES)
    ]


def away(path, shape):
    points, _ = dense(path, 0.05)
    return shapely.distance(shapely.points(points[:, :2]), shape)


@pytest.mark.parametrize("radius", RADII)
@pytest.mark.parametrize("arcs", [True, False])
@pytest.mark.parametrize("name", SHAPES)
def test_the_cutter_keeps_its_radius_from_the_part(name, arcs, radius):
    shape = Polygon(SHAPES[name].exterior)
    for path in outside_paths(shape, radius, arcs=arcs):
        distances = away(path, shape)
        assert distances.min() >= radius
        assert distances.max() <= radius * (1 + GEOS_SHARE) + FAR


@pytest.mark.parametrize("name", [n for n, s in SHAPES.items() if s.interiors])
@pytest.mark.parametrize("radius", RADII)
def test_the_cutter_keeps_its_radius_from_the_walls_of_a_hole(name, radius):
    for hole in SHAPES[name].interiors:
        loops = inside_loops(Polygon(hole), radius, TOLERANCES)
        assert len(loops) == 1
        path, _ = profile_path(loops[0], CUT, clockwise=False)
        distances = away(path, hole)
        assert distances.min() >= radius
        assert distances.max() <= radius * (1 + GEOS_SHARE) + FAR


def test_loops_round_a_part_with_a_bay():
    """An open bay is one loop; behind a mouth narrower than the cutter there are two, or one."""
    assert len(outside_loops(bay(8), 1.5, TOLERANCES)) == 1
    outer, inner = outside_loops(bay(1.5), 1.5, TOLERANCES)
    assert abs(signed_area(outer.points)) > 40**2
    assert abs(signed_area(inner.points)) == pytest.approx(math.pi * 4.5**2, rel=0.02)
    assert len(outside_loops(bay(1.5), 6.5, TOLERANCES)) == 1


def test_a_hole_narrower_than_the_cutter_has_no_loop():
    assert inside_loops(disc(0, 0, 1.5), 1.6, TOLERANCES) == []
    assert inside_loops(box(0, 0, 40, 2.9), 1.5, TOLERANCES) == []
    assert len(inside_loops(box(0, 0, 40, 3.2), 1.5, TOLERANCES)) == 1


@pytest.mark.parametrize("clockwise", [True, False])
@pytest.mark.parametrize("name", ["square", "bay with a narrow mouth", "disc"])
def test_a_loop_turns_the_way_it_is_told(name, clockwise):
    for loop in outside_loops(SHAPES[name], 1.0, TOLERANCES):
        for points in (loop.points, loop.points[::-1]):
            path, _ = profile_path(
                LoopCut(points), replace(CUT, pass_depth_mm=9), clockwise=clockwise
            )
            last = dense(path, 0.1)[0]
            level = last[last[:, 2] <= -DEPTH + 1e-9]
            assert (signed_area(level) < 0) is clockwise


@pytest.mark.parametrize("pass_depth", [0.4, 2.5, 3.1, 6.2, 50.0])
@pytest.mark.parametrize("name", ["square", "corner", "wedge"])
def test_passes_are_level_equal_and_no_deeper_than_allowed(name, pass_depth):
    loop = outside_loops(SHAPES[name], 1.5, TOLERANCES)[0]
    path, tabs = profile_path(loop, replace(CUT, pass_depth_mm=pass_depth), clockwise=True)
    assert len(tabs) == 0
    around = shapely.LineString(loop.points).length
    level = np.flatnonzero(np.abs(path.ends[:, 2] - starts_of(path)[:, 2]) < 1e-9)
    depths, which = np.unique(np.round(path.ends[level, 2], 9), return_inverse=True)
    passes = math.ceil(DEPTH / pass_depth - 1e-9)
    assert depths == pytest.approx(-DEPTH * np.arange(passes, 0, -1) / passes)
    walked = np.bincount(which, plan_lengths(path)[level])
    assert walked == pytest.approx(around, rel=1e-3)
    assert path.ends[-1, 2] == pytest.approx(-DEPTH)
    # No bite is deeper than a pass, simulated with a cutter whose rim does not graze its wall.
    field = blank_field(Polygon(loop.points).buffer(2).bounds, 0.25)
    bites = carve(field, chords(path, 0.3), Profile(0, 1.5)).most
    assert 0 < bites.max() <= min(pass_depth, DEPTH) + 1e-5


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("tabs", [None, TabPlan(3, 6.0, 1.2)])
def test_nothing_goes_straight_down_and_entries_are_ramps(name, tabs):
    for path in outside_paths(SHAPES[name], 1.0, tabs=tabs):
        assert not path.plunging.any()
        slopes = slopes_deg(path)
        steepest = RAMP_DEG if tabs is None else TAB_FLANK_DEG
        assert np.abs(slopes).max() <= steepest + 1e-6
        # Beside the flanks of tabs, steeper than the ramp, the way down is the ramp's slope.
        gentle = slopes[np.abs(slopes) <= RAMP_DEG + 1e-6]
        assert gentle.max() == pytest.approx(RAMP_DEG, abs=1e-3)
        assert path.start[2] == 0


def kerf_of(shape, radius, tabs):
    """Return the height field round a part, the mask of its kerf, and how many tabs were left."""
    loop = outside_loops(shape, radius, TOLERANCES)[0]
    path, left = profile_path(loop, CUT, clockwise=True, tabs=tabs, part=shape)
    field = blank_field(shape.buffer(2 * radius + 1).bounds, 0.1)
    carve(field, chords(path, 0.2), Profile(0, radius))
    x, y = np.meshgrid(*field.centres)
    near, far = shape.buffer(0.1), shape.buffer(2 * radius - 0.1, quad_segs=32)
    kerf = shapely.contains_xy(shapely.difference(far, near), x, y)
    return field.z.astype(float), kerf, len(left)


@pytest.mark.parametrize("name", ["square", "disc", "wedge", "open bay"])
@pytest.mark.parametrize(("count", "length", "height"), [(2, 3.0, 0.6), (4, 5.0, 1.5)])
def test_tabs_left_in_the_stock_are_as_many_as_high_and_as_long_as_planned(
    name, count, length, height
):
    """Simulated with an end mill of 2 mm: pieces of kerf that are not cut through are tabs."""
    shape, radius = SHAPES[name], 1.0
    z, kerf, left = kerf_of(shape, radius, TabPlan(count, length + 2 * radius, height))
    # A lone cell beside a tab, right at the level, is no tab of its own.
    standing = ndimage.binary_opening(kerf & (z > -THICKNESS + 0.15), np.ones((2, 2)))
    labels, found = ndimage.label(standing, np.ones((3, 3)))
    assert found == left == count
    top = -(THICKNESS - height)
    flank = height / math.tan(math.radians(TAB_FLANK_DEG))
    across = 2 * radius - 0.2
    for tab in range(1, found + 1):
        mine = labels == tab
        assert z[mine].max() == pytest.approx(top, abs=1e-4)
        # The ends of a tab are hollow, as the cutter is round: longer at its sides by up to r.
        level = float((mine & (z > top - 1e-3)).sum()) * 0.01 / across
        assert length - 0.2 <= level <= length + 0.5 * radius
        assert float(mine.sum()) * 0.01 / across <= length + 2 * flank + 0.5 * radius


def tab_places(path, around, top):
    """Return where on the loop, counted from the entry, each tab met in full has its middle."""
    walked = np.cumsum(plan_lengths(path))
    starts = np.concatenate(([0.0], walked[:-1]))
    high = (np.abs(path.ends[:, 2] - top) < 1e-9) & (np.abs(starts_of(path)[:, 2] - top) < 1e-9)
    met = [(starts[s.start], walked[s.stop - 1]) for s in runs(high)]
    full = max(b - a for a, b in met)
    middles = sorted({round((a + b) / 2 % around, 1) for a, b in met if b - a > full - 1e-3})
    apart = np.array([m for k, m in enumerate(middles) if k == 0 or m - middles[k - 1] > 0.2])
    return apart, full


@pytest.mark.parametrize("name", ["square", "disc", "corner", "frame"])
@pytest.mark.parametrize("count", [2, 3, 4, 6])
def test_tabs_are_apart_and_the_cutter_does_not_go_in_on_one(name, count):
    tabs = TabPlan(count, 5.0, 1.0)
    loop = outside_loops(SHAPES[name], 1.0, TOLERANCES)[0]
    path, left = profile_path(loop, CUT, clockwise=True, tabs=tabs)
    assert len(left) == count
    around = shapely.LineString(loop.points).length
    places, length = tab_places(path, around, -(THICKNESS - 1.0))
    assert length == pytest.approx(5.0, abs=1e-6)
    assert len(places) == count
    gaps = np.diff(np.append(places, places[0] + around))
    assert gaps.min() > 2 * tabs.length_mm
    entry = np.minimum(places, around - places)
    assert entry.min() > tabs.length_mm


@pytest.mark.parametrize("mouth", [8.0, 12.0])
@pytest.mark.parametrize("count", [2, 4, 6])
def test_tabs_keep_out_of_bays(mouth, count):
    """No tab stands in the bay of a part, where both its sides would be the part."""
    shape = bay(mouth)
    tabs = TabPlan(count, 5.0, 1.0)
    loop = outside_loops(shape, 1.0, TOLERANCES)[0]
    path, left = profile_path(loop, CUT, clockwise=True, tabs=tabs, part=shape)
    assert len(left) == count
    points, _ = dense(path, 0.1)
    top = points[np.abs(points[:, 2] + THICKNESS - 1.0) < 1e-6]
    assert len(top)
    assert not shapely.contains_xy(shape.convex_hull.buffer(-0.5), top[:, 0], top[:, 1]).any()


def test_tabs_keep_away_from_where_another_cutter_goes_through():
    shape = SHAPES["square"]
    busy = region(box(-4, -4, 44, 20))
    loop = outside_loops(shape, 1.0, TOLERANCES)[0]
    path, left = profile_path(
        loop, CUT, clockwise=True, tabs=TabPlan(3, 5.0, 1.0), part=shape, keep_clear=busy,
    )  # fmt: skip
    points, _ = dense(path, 0.1)
    top = points[np.abs(points[:, 2] + THICKNESS - 1.0) < 1e-6]
    assert len(left) == 3
    assert top[:, 1].min() > 20


@pytest.mark.parametrize("name", ["square", "disc", "open bay"])
def test_a_wider_loop_leaves_its_tabs_next_to_those_of_another(name):
    """So that a roughing loop and the finishing loop inside it leave the same tabs."""
    shape, tabs = SHAPES[name], TabPlan(3, 5.0, 1.0)
    fine, rough = (outside_loops(shape, 1.0 + extra, TOLERANCES)[0] for extra in (0.0, 0.3))
    _, at = profile_path(fine, CUT, clockwise=True, tabs=tabs, part=shape)
    path, again = profile_path(rough, CUT, clockwise=True, tabs=tabs, tab_at=at)
    assert len(at) == len(again) == 3
    points, _ = dense(path, 0.05)
    top = points[np.abs(points[:, 2] + THICKNESS - 1.0) < 1e-6, :2]
    for mine in at:
        assert np.hypot(*(again - mine).T).min() < 0.3 + 0.1
        assert np.hypot(*(top - mine).T).min() < 0.3 + 0.1


def test_places_of_tabs_are_in_their_middle():
    shape, tabs = SHAPES["square"], TabPlan(3, 5.0, 1.0)
    loop = outside_loops(shape, 1.0, TOLERANCES)[0]
    path, places = profile_path(loop, CUT, clockwise=True, tabs=tabs, part=shape)
    points, _ = dense(path, 0.02)
    top = points[np.abs(points[:, 2] + THICKNESS - 1.0) < 1e-6, :2]
    near = np.hypot(*(top[:, None] - places[None]).transpose(2, 0, 1))
    assert near.min(axis=1).max() == pytest.approx(2.5, abs=1e-3)


def tabs_round(shape, plan):
    loop = outside_loops(shape, 1.0, TOLERANCES)[0]
    _, places = profile_path(loop, CUT, clockwise=True, tabs=plan, part=shape)
    return len(places)


def test_a_loop_too_short_for_its_tabs_gets_fewer():
    plan = TabPlan(4, 5.0, 1.0)
    assert tabs_round(box(0, 0, 40, 10), plan) == 4
    assert 1 <= tabs_round(box(0, 0, 6, 6), plan) < 4


@pytest.mark.parametrize("height", [2.5, 3.9])
def test_a_thin_bar_is_held_by_tabs_too(height):
    assert tabs_round(box(0, 0, 100, height), TabPlan(3, 5.0, 1.0)) == 3


line_shapes = {
    "straight": np.array([[0.0, 0.0], [12.0, 0.0]]),
    "corner": np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]]),
    "short": np.array([[0.0, 0.0], [0.4, 0.0]]),
    "arc": np.column_stack((5 * np.cos(np.linspace(0, 2, 90)), 5 * np.sin(np.linspace(0, 2, 90)))),
}


@pytest.mark.parametrize("name", line_shapes)
@pytest.mark.parametrize("pass_depth", [0.6, 2.0, 9.0])
def test_to_and_fro_goes_down_gently_and_ends_level(name, pass_depth):
    points = line_shapes[name]
    path = to_and_fro(points, DEPTH, pass_depth, TOLERANCES)
    length = shapely.LineString(points).length
    walked = np.cumsum(plan_lengths(path))
    turns = walked[-1] / length
    assert turns == pytest.approx(round(turns), abs=1e-3)
    # The last way is level at the full depth, and not one way more.
    last = walked > walked[-1] - 0.99 * length
    assert path.ends[last, 2] == pytest.approx(-DEPTH)
    before = (walked > walked[-1] - 1.99 * length) & (walked < walked[-1] - 1.01 * length)
    assert (path.ends[before, 2] > -DEPTH).all()
    assert (np.diff(path.ends[:, 2]) <= 1e-12).all()
    slopes = slopes_deg(path)
    assert slopes.min() >= 0
    assert slopes.max() <= 4 * RAMP_DEG + 1e-6
    # From leg to leg no deeper than a pass.
    ends = np.searchsorted(walked, length * np.arange(1, round(turns) + 1) - 1e-6)
    levels = np.concatenate(([0.0], path.ends[np.minimum(ends, len(path) - 1), 2]))
    assert (-np.diff(levels)).max() <= pass_depth + 1e-9
    assert not path.plunging.any()


@pytest.mark.parametrize("pass_depth", [0.6, 0.9, 2.0])
def test_to_and_fro_is_slow_exactly_where_it_meets_more_than_a_pass(pass_depth):
    """Bites from the levels of the leg before: those at the full feed are a pass deep at most."""
    length = 30.0
    path = to_and_fro(np.array([[0.0, 0.0], [length, 0.0]]), DEPTH, pass_depth, TOLERANCES)
    starts = np.vstack((path.start[None], path.ends[:-1]))
    x = np.linspace(0.05, length - 0.05, 299)
    floor = np.zeros(len(x))
    met = []
    for a, b, rate in zip(starts, path.ends, path.rates, strict=True):
        over = (x > min(a[0], b[0])) & (x < max(a[0], b[0]))
        level = np.interp(x[over], *sorted_by_x(a, b))
        met += [(bite, rate) for bite in floor[over] - level]
        floor[over] = level
    bites, rates = np.array(met).T
    assert floor == pytest.approx(-DEPTH)
    assert bites.max() <= 1.4 * pass_depth + 1e-6
    assert bites[rates == Rate.FEED].max() <= pass_depth + 1e-6
    assert (bites[rates == Rate.CORNER] > pass_depth - 0.01).all()


def sorted_by_x(a, b):
    """Return the x and the z of two points in order of x."""
    (x0, z0), (x1, z1) = sorted([(a[0], a[2]), (b[0], b[2])])
    return [x0, x1], [z0, z1]


def test_rest_paths_clear_the_inside_corner_and_nothing_else():
    """An L cut with 6 mm and again with 1 mm: what is left at (12, 12) is what 1 mm leaves."""
    shape = SHAPES["corner"]
    around = surroundings(shape, 3)
    rest = leftover(around, 3.0, TOLERANCES.offset_mm)
    loop = outside_loops(shape, 0.5, TOLERANCES)[0]
    paths = rest_paths(loop, rest, 0.5, CUT, clockwise=True)
    assert len(paths) == 1
    points, _ = dense(paths[0], 0.02)
    assert shapely.distance(shapely.points(points[:, :2]), shape).min() >= 0.5
    assert np.hypot(*(points[:, :2] - [12, 12]).T).max() < 5
    floor = points[np.abs(points[:, 2] + DEPTH) < 1e-9]
    small = shapely.buffer(shapely.LineString(floor[:, :2]), 0.5, quad_segs=64)
    big = outside_loops(shape, 3.0, TOLERANCES)[0]
    large = shapely.buffer(shapely.LineString(big.points), 3.0, quad_segs=256)
    # Left in a corner of angle b: r (1 / sin(b / 2) - 1), plane geometry; 0.207107 for r = 0.5.
    assert large.distance(shapely.Point(12, 12)) == pytest.approx(6 * 0.207107, abs=0.02)
    assert small.distance(shapely.Point(12, 12)) == pytest.approx(0.207107, abs=0.02)
    # Beside the corner the two cuts overlap: nothing thicker than the tolerances is left.
    left = shapely.difference(box(12.02, 12.02, 18, 18), shapely.union(small, large))
    assert left.difference(box(12, 12, 12.5, 12.5)).buffer(-0.01).is_empty


def test_a_loop_that_lies_in_the_rest_all_round_is_cut_as_a_loop():
    hole = disc(0, 0, 2.0)
    (loop,) = inside_loops(hole, 0.5, TOLERANCES)
    paths = rest_paths(loop, region(hole), 0.5, CUT, clockwise=False)
    assert len(paths) == 1
    points, _ = dense(paths[0], 0.02)
    level = points[np.abs(points[:, 2] + DEPTH) < 1e-9]
    assert signed_area(level) == pytest.approx(math.pi * 1.495**2, rel=0.02)


def test_rest_that_the_loop_does_not_meet_needs_no_path():
    loop = outside_loops(SHAPES["square"], 1.0, TOLERANCES)[0]
    far = region(disc(100, 100, 3))
    assert rest_paths(loop, far, 1.0, CUT, clockwise=True) == []
