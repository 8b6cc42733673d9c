"""Axes without corners on shapes whose axis is known by hand."""

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box

from letterply.shapes.flatten import circle
from letterply.shapes.medial.axis import medial_axis
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


def leaves(axis):
    return int((np.bincount(axis.edges.ravel()) == 1).sum())


def test_pruning_takes_what_is_hardly_missed_and_keeps_corners():
    """A stadium's axis is its spine with a spoke to each vertex of its ends; a box keeps four."""
    stadium = medial_axis(as_region(LineString([(0, 0), (20, 0)]).buffer(2, quad_segs=32)))
    spoke = 2 * (1 / math.cos(math.pi / 128) - 1)  # beyond the chords' disc: r (1/cos(t/2) - 1)
    assert leaves(stadium.prune(0.9 * spoke)) > 100
    assert leaves(stadium.prune(1.5 * spoke)) == 2
    corners = medial_axis(as_region(box(0, 0, 20, 4))).prune(0.1)
    assert sum(corners.radii[np.unique(corners.edges)] == 0) == 4


@pytest.mark.parametrize("tolerance", [0.001, 0.01, 0.1])
def test_what_is_pruned_is_within_the_tolerance_of_the_discs_that_stay(tolerance):
    shape = as_region(LineString([(0, 0), (8, 3), (15, 0)]).buffer(1.5, quad_segs=12))
    axis = medial_axis(shape)
    pruned = axis.prune(tolerance)
    kept = np.unique(pruned.edges)
    discs = [shapely.Point(p).buffer(r + 1e-6, quad_segs=256)
             for p, r in zip(pruned.points[kept], pruned.radii[kept], strict=True)]  # fmt: skip
    hulls = [shapely.union_all([discs[np.searchsorted(kept, n)] for n in e]).convex_hull
             for e in pruned.edges]  # fmt: skip
    covered = shapely.union_all(hulls)
    corners = shapely.points(shapely.get_coordinates(shape))
    assert max(shapely.distance(corners, covered)) <= tolerance + 1e-3
