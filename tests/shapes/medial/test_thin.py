"""The thin part of an axis: exits, dead ends drawn in, corners left out."""

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.medial.thin import thin_runs
from letterply.shapes.regions import as_region


def runs_of(shape, limit, reach):
    axis = medial_axis(as_region(shape))
    return thin_runs(axis.peel(60), limit, 0.005, reach_mm=reach, body=axis.peel(110))


def length(runs):
    return float(np.hypot(*(runs.ends[:, 1] - runs.ends[:, 0]).T).sum())


def test_a_bridge_between_blocks_is_one_zone_with_two_exits():
    shape = shapely.union_all([box(0, 0, 20, 20), box(20, 9, 30, 11), box(30, 0, 50, 20)])
    runs = runs_of(shape, 3.0, 1.5)
    assert runs.exits.tolist() == [2]
    assert runs.radii.min() == pytest.approx(1.0)
    assert runs.radii.max() == pytest.approx(1.5)
    # Past the block's edge the corners bound the disc: 1.5 off them, 1 mm from the middle line.
    assert length(runs) == pytest.approx(10 + 2 * np.sqrt(1.5**2 - 1), abs=0.02)


def test_a_blunt_bar_is_drawn_in_by_half_the_width_it_is_to_have():
    """A bar 40 x 1: with discs of 1.5 the ends must lie 1.5 mm in."""
    runs = runs_of(box(0, 0, 40, 1), 3.0, 1.5)
    assert runs.exits.tolist() == [0]
    x = runs.ends[:, :, 0]
    assert (x.min(), x.max()) == pytest.approx((1.5, 38.5), abs=0.01)


def test_corners_of_what_is_thick_are_left_out():
    assert len(runs_of(box(0, 0, 40, 30), 3.0, 1.5).ends) == 0
    assert len(runs_of(Point(0, 0).buffer(9), 3.0, 1.5).ends) == 0


def test_a_needle_is_a_tip_with_one_exit():
    runs = runs_of(Polygon([(0, 0), (60, 5), (0, 10)]), 3.0, 1.5)
    assert runs.exits.tolist() == [1]
    assert runs.ends[:, :, 0].max() == pytest.approx(58.5, abs=0.02)


def test_a_spur_at_the_side_of_a_stroke_does_not_part_it():
    spike = Polygon([(18, 0.9), (20, 3.2), (22, 0.9)])
    shape = shapely.union_all([box(-20, -10, 0, 11), box(0, 0, 40, 1), box(40, -10, 60, 11), spike])
    runs = runs_of(shape, 3.0, 1.5)
    level = runs.ends[np.abs(runs.ends[:, :, 1] - 0.5).max(axis=1) < 0.6]
    covered = shapely.union_all(shapely.linestrings(level)).buffer(0.3)
    assert shapely.LineString([(1, 0.5), (17, 0.5)]).within(covered)
    assert shapely.LineString([(23, 0.5), (39, 0.5)]).within(covered)


def test_splitting_keeps_length_zones_and_radii():
    runs = runs_of(Polygon([(0, 0), (60, 5), (0, 10)]), 3.0, 1.5)
    short = runs.split(0.25)
    assert np.hypot(*(short.ends[:, 1] - short.ends[:, 0]).T).max() <= 0.25 + 1e-9
    assert length(short) == pytest.approx(length(runs))
    assert short.exits.tolist() == runs.exits.tolist()
    assert (short.radii.min(), short.radii.max()) == pytest.approx(
        (runs.radii.min(), runs.radii.max())
    )
