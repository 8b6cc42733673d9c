"""Hausdorff distances against values by hand and a dense sampling of both outlines."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely import Polygon, box

from letterply.shapes.flatten import circle
from letterply.shapes.hausdorff import farthest_mm, hausdorff_mm, outline_index
from letterply.shapes.regions import EMPTY, as_region


def sampled(a, b, step=0.01):
    """Both directions at points a step apart: too small by at most a step."""
    first, second = (
        shapely.get_coordinates(shapely.segmentize(as_region(g).boundary, step)) for g in (a, b)
    )
    there = cKDTree(second).query(first)[0].max()
    back = cKDTree(first).query(second)[0].max()
    return max(there, back)


def test_a_shifted_square_is_as_far_as_it_was_shifted():
    square = box(0, 0, 10, 10)
    moved = shapely.affinity.translate(square, 0.75, 0)
    assert hausdorff_mm(as_region(square), as_region(moved)) == pytest.approx(0.75, abs=1e-4)


def test_a_square_inside_another_is_farthest_at_the_corners():
    found = hausdorff_mm(as_region(box(0, 0, 10, 10)), as_region(box(2, 2, 8, 8)))
    assert found == pytest.approx(2 * 2**0.5, abs=1e-4)


def test_a_side_that_passes_a_slot_is_farthest_in_its_middle_where_it_has_no_corner():
    """The slot 4 wide and 3 deep is filled in: its mouth's middle is 2 from both walls."""
    whole = box(0, 0, 20, 10)
    slotted = whole.difference(box(8, 7, 12, 11))
    index = outline_index(as_region(slotted))
    side = outline_index(as_region(whole))
    found = farthest_mm(side.starts, side.following, index)
    assert found == pytest.approx(2.0, abs=1e-4)
    # The other way round the slot's floor is 3 from the mouth: it decides.
    assert hausdorff_mm(as_region(whole), as_region(slotted)) == pytest.approx(3.0, abs=1e-4)


def test_a_hole_that_the_other_has_not_counts():
    """A disc of radius 2 in a 20 mm square: its diagonal points are 10 - √2 from the sides."""
    plain = as_region(box(0, 0, 20, 20))
    holed = as_region(Polygon(box(0, 0, 20, 20).exterior, [circle(10, 10, 2, 0.001)]))
    assert hausdorff_mm(plain, holed) == pytest.approx(10 - 2**0.5, abs=2e-3)


def test_empty_regions():
    square = as_region(box(0, 0, 1, 1))
    assert hausdorff_mm(EMPTY, EMPTY) == 0
    assert hausdorff_mm(square, EMPTY) == float("inf")
    with pytest.raises(ValueError, match="no outline"):
        outline_index(EMPTY)


def test_the_search_stops_once_it_knows_enough():
    """A lower bound above the limit comes back, never more than the distance itself."""
    a, b = as_region(box(0, 0, 10, 10)), as_region(box(0, 0, 30, 10))
    first, second = outline_index(a), outline_index(b)
    full = farthest_mm(second.starts, second.following, first)
    early = farthest_mm(second.starts, second.following, first, stop_above_mm=1.0)
    assert 1.0 < early <= full == pytest.approx(20.0, abs=1e-4)


def wobbly(seed: int, corners: int) -> Polygon:
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, corners))
    turn += np.linspace(0, 1e-3, corners)
    reach = rng.uniform(4, 10, corners)
    return Polygon(np.column_stack((reach * np.cos(turn), reach * np.sin(turn)))).buffer(0)


@given(st.integers(0, 10_000), st.integers(5, 14), st.integers(0, 10_000))
def test_any_two_stars_agree_with_a_dense_sampling(seed, corners, other):
    a, b = wobbly(seed, corners), wobbly(other, corners)
    exact = hausdorff_mm(as_region(a), as_region(b))
    rough = sampled(a, b)
    assert rough - 1e-3 <= exact <= rough + 0.011
