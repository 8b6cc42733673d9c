"""Axes without corners on shapes whose axis is known by hand."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from letterply.shapes.flatten import circle
from letterply.shapes.medial import medial_axis
from letterply.shapes.regions import as_region


def strokes(shape, corner_deg=40):
    return medial_axis(as_region(shape)).strokes(corner_deg)


def test_a_bar_is_left_with_its_spine():
    axis = strokes(box(0, 0, 40, 6))
    assert len(axis.edges) == 1
    assert sorted(axis.points.tolist()) == [pytest.approx([3, 3]), pytest.approx([37, 3])]


def test_a_tip_stays_and_a_wider_one_is_a_corner():
    """Half angles: atan(6 / 60) = 5.7 and atan(30 / 60) = 26.6 degrees."""
    assert strokes(Polygon([(0, 0), (60, 6), (0, 12)])).points[:, 0].max() == pytest.approx(60)
    assert strokes(Polygon([(0, 0), (60, 30), (0, 60)])).points[:, 0].max() < 30


@pytest.mark.parametrize(
    ("shape", "centre", "radius"),
    [
        (Polygon([(0, 0), (4, 0), (0, 4)]), (1.17157, 1.17157), 1.17157),  # (4 + 4 - 32 ** 0.5) / 2
        (box(0, 0, 8, 8), (4, 4), 4),
        (Polygon(circle(5, 6, 3, 0.001)), (5, 6), 3),
    ],
)
def test_what_is_all_corners_is_left_as_its_largest_disc(shape, centre, radius):
    axis = strokes(shape)
    assert len(axis.edges) == 1
    assert axis.lengths()[0] == 0
    assert axis.points[0] == pytest.approx(centre, abs=0.01)
    assert axis.least_radii()[0][0] == pytest.approx(radius, abs=0.01)


def test_pieces_that_vanish_and_pieces_that_stay_are_both_there():
    shape = shapely.MultiPolygon([box(0, 0, 40, 6), box(50, 0, 56, 6), box(60, 0, 66, 6)])
    axis = medial_axis(as_region(shape)).strokes(40)
    assert len(axis.edges) == 3
    assert sorted(np.round(axis.lengths(), 6).tolist()) == [0, 0, 34]


def test_an_empty_axis_has_no_strokes():
    assert len(strokes(shapely.Point(0, 0)).edges) == 0
