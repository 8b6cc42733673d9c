"""Zones of shapes whose widths are known by hand."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from letterply.checks.thin.zones import thin_zones
from letterply.shapes.flatten import circle
from letterply.shapes.medial.axis import both_axes, medial_axis
from letterply.shapes.regions import as_region

CORNER = 40.0


def zones(shape, limit):
    return thin_zones(medial_axis(as_region(shape)).strokes(CORNER), limit, 1e-3)


def test_a_square_cut_end_is_as_wide_as_its_stroke_and_not_as_its_corners():
    """A block with a bar 3 wide and 20 long: the axis ends 1.5 before the ink does."""
    shape = shapely.union_all([box(0, 0, 20, 20), box(20, 8.5, 40, 11.5)])
    (bar,) = zones(shape, 4.0)
    assert bar.exits == 1
    assert bar.width_mm == pytest.approx(3)
    assert 20 <= bar.extent_mm <= 23  # it goes on into the block until that is 4 wide
    assert not bar.is_corner(4.0, CORNER)


def test_a_stroke_of_one_width_is_cut_at_both_ends():
    shape = shapely.union_all([box(0, 0, 20, 20), box(20, 9, 50, 11), box(50, 0, 70, 20)])
    (bar,) = zones(shape, 3.0)
    ends = sorted(cut.feet[0][0] for cut in bar.cuts)
    assert len(bar.cuts) == 2
    assert ends[0] < 22
    assert ends[1] > 48
    assert [cut.width_mm for cut in bar.cuts] == pytest.approx([2, 2])


def test_what_is_thin_throughout_is_cut_all_over():
    (bar,) = zones(box(0, 0, 60, 4), 5.0)
    assert bar.exits == 0
    assert bar.width_mm == pytest.approx(4)
    places = sorted(np.mean([f[0] for f in cut.feet]) for cut in bar.cuts)
    assert places[0] < 8
    assert places[-1] > 52
    assert max(np.diff(places)) < 6


def test_what_tapers_away_from_its_middle_is_as_wide_as_there():
    """A rhombus 60 by 8: its largest disc has 60 · 8 / (60² + 8²) ** 0.5 for a diameter."""
    (rhombus,) = zones(Polygon([(-30, 0), (0, -4), (30, 0), (0, 4)]), 10.0)
    assert rhombus.exits == 0
    assert rhombus.width_mm == pytest.approx(60 * 8 / np.hypot(60, 8), rel=1e-3)


def test_a_blunt_or_short_end_is_a_corner():
    blunt = Polygon([(0, -20), (30, 0), (0, 20)])  # walls meet at 67 degrees
    assert all(z.is_corner(4.0, CORNER) for z in zones(blunt, 4.0) if z.exits == 1)
    stub = shapely.union_all([box(0, 0, 20, 20), box(20, 9, 22, 11)])
    assert all(z.is_corner(3.0, CORNER) for z in zones(stub, 3.0))


@pytest.mark.parametrize("shape", [Polygon(circle(15, 15, 0.4, 0.001)), box(14.6, 14.6, 15.4, 15.4),
                                   Polygon([(14.4, 14.6), (15.6, 14.6), (15, 15.7)])])  # fmt: skip
def test_a_small_counter_of_any_shape_is_one_closed_zone(shape):
    around = shapely.difference(box(0, 0, 30, 30), shape)
    axis = both_axes(as_region(around), 8.0)[1].strokes(CORNER)
    (hole,) = thin_zones(axis, 2.0, 1e-3)
    assert hole.exits == 0
    assert hole.at == pytest.approx((15, 15), abs=0.15)
    assert 0.6 < hole.mean_width_mm <= 0.81


def test_nothing_is_thin_under_a_small_limit():
    assert zones(box(0, 0, 40, 6), 5.9) == ()
