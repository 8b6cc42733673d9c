"""Distances of points from an outline are those that GEOS tells, to the last bit."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from letterply.shapes import EMPTY, as_region, outline_distances
from letterply.shapes.nearness import NearSides, distances_of_groups, sides_of

RINGS = as_region(shapely.Point(0, 0).buffer(10).difference(shapely.Point(2, 1).buffer(4)))
FAR_PIECES = as_region(
    shapely.union_all([shapely.box(0, 0, 1, 1), shapely.box(500, 300, 501, 301)])
)
THREAD = as_region(shapely.box(0, 0, 300, 0.01))
HUGE = as_region(shapely.box(1e6, -1e6, 1e6 + 3, -1e6 + 2))


@pytest.mark.parametrize("region", [RINGS, FAR_PIECES, THREAD, HUGE])
@given(seed=st.integers(0, 10_000))
@settings(max_examples=10, deadline=None)
def test_each_point_is_as_far_as_geos_says(region, seed):
    rng = np.random.default_rng(seed)
    left, low, right, high = region.bounds
    wide = max(right - left, high - low)
    around = rng.uniform((left - wide, low - wide), (right + wide, high + wide), (40, 2))
    near = shapely.get_coordinates(region) + rng.normal(0, 1e-3, (1, 2))
    points = np.vstack((around, near, shapely.get_coordinates(region)))
    wanted = shapely.distance(shapely.boundary(region), shapely.points(points))
    np.testing.assert_array_equal(outline_distances(region, points), wanted)


def test_nothing_is_asked_of_an_empty_region():
    with pytest.raises(ValueError, match="no outline"):
        outline_distances(EMPTY, np.zeros((1, 2)))


def test_no_points_have_no_distances():
    assert outline_distances(RINGS, np.empty((0, 2))).shape == (0,)


def test_each_group_has_its_own_sides():
    rng = np.random.default_rng(7)
    of_side = np.sort(rng.choice([0, 2, 3], 60))
    sides = rng.uniform(-5, 5, (60, 4))
    sides[::9, 2:] = sides[::9, :2]
    of_point, points = rng.integers(0, 5, 200), rng.uniform(-6, 6, (200, 2))
    found = distances_of_groups(points, of_point, sides, of_side, 5)
    for group in range(5):
        mine = found[of_point == group]
        if group not in of_side:
            assert np.isinf(mine).all()
            continue
        lines = shapely.multilinestrings(
            shapely.linestrings(sides[of_side == group].reshape(-1, 2, 2))
        )
        wanted = shapely.distance(shapely.points(points[of_point == group]), lines)
        np.testing.assert_array_equal(mine, wanted)


def test_the_row_that_is_told_is_that_of_a_nearest_side():
    sides = sides_of(shapely.boundary(RINGS))
    points = np.random.default_rng(1).uniform(-15, 15, (200, 2))
    away, rows = NearSides.of(sides).nearest(points)
    lines = shapely.linestrings(sides.reshape(-1, 2, 2))
    every = shapely.distance(lines[None, :], shapely.points(points)[:, None])
    np.testing.assert_array_equal(every[np.arange(len(points)), rows], every.min(axis=1))
    np.testing.assert_array_equal(away, every.min(axis=1))
