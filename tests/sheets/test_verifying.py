"""Measuring: distances known by hand."""

import pytest
from shapely import box

from letterply.sheets.verifying import least_gap, within_margins
from sheets.shapes import letter, sheet


def test_the_least_gap_is_that_of_the_nearest_pair():
    row = [box(0, 0, 10, 10), box(13, 0, 20, 10), box(22, 0, 30, 10)]
    assert least_gap(row, up_to_mm=5) == pytest.approx(2)


def test_gaps_beyond_interest_are_not_measured():
    assert least_gap([box(0, 0, 1, 1), box(50, 0, 51, 1)], up_to_mm=5) == 5
    assert least_gap([box(0, 0, 1, 1)], up_to_mm=5) == 5
    assert least_gap([], up_to_mm=5) == 5


def test_a_part_in_a_counter_is_not_apart():
    ring = letter("O", 100)
    x, y = ring.centroid.coords[0]
    assert least_gap([ring, box(x - 1, y - 1, x + 1, y + 1)], up_to_mm=5) == 0


def test_where_counters_are_used_the_way_to_their_edge_counts():
    """The counter of an O of 100 mm is 60 mm across."""
    ring = letter("O", 100)
    x, y = ring.centroid.coords[0]
    dot = box(x - 20, y - 1, x + 28, y + 1)
    gap = least_gap([ring, dot], up_to_mm=5, in_counters=True)
    assert gap == pytest.approx((30**2 - 1) ** 0.5 - 28, abs=0.15)
    crossing = box(x - 20, y - 1, x + 35, y + 1)
    assert least_gap([ring, crossing], up_to_mm=5, in_counters=True) == 0


@pytest.mark.parametrize("side", ["left", "low", "right", "high"])
def test_a_part_in_any_margin_is_noticed(side):
    stock = sheet("s", 300, 200)
    inside = {"left": 8.0, "low": 8.0, "right": 292.0, "high": 192.0}
    assert within_margins([box(*inside.values())], stock)
    inside[side] += -0.01 if side in ("left", "low") else 0.01
    assert not within_margins([box(*inside.values())], stock)
