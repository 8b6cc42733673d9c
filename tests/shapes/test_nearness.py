"""Distances of points from an outline are those that GEOS tells, to the last bit."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from letterply.shapes import EMPTY, as_region, outline_distances

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
