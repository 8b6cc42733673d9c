"""The medial axis against shapes whose axis is known by hand."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from letterply.shapes.flatten import circle
from letterply.shapes.medial import axis as medial
from letterply.shapes.regions import as_region

SPUR = 30.0


def polygon_region(points, *holes):
    return as_region(Polygon(points, list(holes)))


def ring(radius, sides, turn=0.0):
    angle = turn + np.arange(sides) * 2 * np.pi / sides
    return np.column_stack((radius * np.cos(angle), radius * np.sin(angle)))


def test_rectangle_has_its_spine_and_four_corner_branches():
    """40 x 6: the spine runs from (3, 3) to (37, 3) with radius 3; branches go to the corners."""
    axis = medial.medial_axis(as_region(box(0, 0, 40, 6)))
    nodes = {
        (round(x, 6), round(y, 6)): r for (x, y), r in zip(axis.points, axis.radii, strict=True)
    }
    assert nodes[(3, 3)] == pytest.approx(3)
    assert nodes[(37, 3)] == pytest.approx(3)
    for corner in ((0, 0), (40, 0), (40, 6), (0, 6)):
        assert nodes[corner] == pytest.approx(0, abs=1e-9)
    assert len(axis.edges) == 5
    assert (axis.kinds == medial.LINE).all()


@pytest.mark.parametrize("sides", [64, 256, 1024])
def test_annulus_axis_is_the_middle_circle_within_twice_the_sagitta(sides):
    region = polygon_region(ring(20, sides), ring(14, sides, turn=0.37 / sides))
    axis = medial.medial_axis(region).peel(SPUR)
    sagitta = 20 * (1 - np.cos(np.pi / sides))
    assert np.abs(np.hypot(*axis.points.T) - 17).max() < 2 * sagitta
    assert np.abs(axis.radii - 3).max() < 2 * sagitta


@pytest.mark.parametrize("sides", [128, 512])
def test_ellipse_axis_lies_on_the_long_axis_with_the_known_radius(sides):
    """Ellipse a = 20, b = 8: at x the inscribed disc has r² = b² (1 - x² / (a² - b²))."""
    t = np.arange(sides) * 2 * np.pi / sides
    region = polygon_region(np.column_stack((20 * np.cos(t), 8 * np.sin(t))))
    axis = medial.medial_axis(region).peel(SPUR)
    x, y = axis.points.T
    assert np.abs(y).max() < 1e-6
    assert np.abs(x).max() <= 20 - 64 / 20  # the axis ends at a - b²/a
    inside = np.abs(x) < 16
    exact = 8 * np.sqrt(1 - x[inside] ** 2 / (400 - 64))
    sagitta = 20 * (1 - np.cos(np.pi / sides))
    assert np.abs(axis.radii[inside] - exact).max() < 2 * sagitta


def test_every_radius_is_the_distance_to_the_outline():
    star = polygon_region([(0, 0), (20, 3), (31, -4), (28, 12), (35, 30), (14, 22), (-6, 25)])
    axis = medial.medial_axis(star)
    points, radii, _, _ = axis.sample(1e-4)
    distance = shapely.distance(shapely.points(points), star.boundary)
    assert np.abs(distance - radii).max() < 2e-5


def test_chords_between_samples_keep_radius_and_place_within_the_tolerance():
    """Half way between two samples, the true radius is the outline's distance there."""
    shape = polygon_region([(0, 0), (30, 0), (30, 20), (16, 20), (15, 6), (14, 20), (0, 20)])
    tolerance = 1e-3
    axis = medial.medial_axis(shape)
    points, radii, starts, sizes = axis.sample(tolerance)
    for start, size in zip(starts, sizes, strict=True):
        run, r = points[start : start + size], radii[start : start + size]
        middle = (run[1:] + run[:-1]) / 2
        chord = (r[1:] + r[:-1]) / 2
        true = shapely.distance(shapely.points(middle), shape.boundary)
        assert (chord - true <= 2 * tolerance).all()


def test_neck_of_an_hourglass_is_found_inside_an_edge():
    waist = polygon_region([(-10, -10), (10, -10), (0.6, 0), (10, 10), (-10, 10), (-0.6, 0)])
    least, where = medial.medial_axis(waist).peel(60).least_radii()
    middle = np.hypot(*where.T) < 3
    least, where = least[middle], where[middle]
    k = int(np.argmin(least))
    assert least[k] == pytest.approx(0.6, abs=1e-6)
    assert where[k] == pytest.approx((0, 0), abs=1e-6)


def test_eccentric_ring_is_thinnest_where_the_circles_come_close():
    outer, inner = circle(0, 0, 10, 1e-4), circle(2, 0, 7.5, 1e-4)
    least, where = medial.medial_axis(polygon_region(outer, inner)).peel(60).least_radii()
    k = int(np.argmin(least))
    assert 2 * least[k] == pytest.approx(0.5, abs=1e-3)
    assert where[k][0] == pytest.approx(9.75, abs=0.01)


def test_gap_between_two_boxes_is_seen_from_outside():
    region = as_region(shapely.MultiPolygon([box(0, 0, 10, 10), box(10.8, 0, 20, 10)]))
    axis = medial.both_axes(region, 20.0)[1]
    least, _ = axis.least_radii()
    between = np.abs(axis.points[axis.edges][:, :, 0].mean(axis=1) - 10.4) < 0.3
    assert least[between].max() == pytest.approx(0.4, abs=1e-6)


def test_peeling_takes_the_spurs_of_a_disc_but_not_a_bar_that_ends_in_a_disc():
    disc = as_region(Polygon(circle(0, 0, 10, 0.005)))
    assert np.hypot(*medial.medial_axis(disc).peel(60).points.T).max(initial=0) < 0.1
    lollipop = as_region(shapely.union(Polygon(circle(0, 0, 10, 0.005)), box(0, -1, 40, 1)))
    peeled = medial.medial_axis(lollipop).peel(60)
    assert peeled.points[:, 0].max() > 38
    assert peeled.points[:, 0].min() < 0.5


def test_an_empty_region_has_an_empty_axis():
    axis = medial.medial_axis(as_region(shapely.Point(0, 0)))
    assert len(axis.edges) == 0
    assert axis.peel(60).least_radii()[0].size == 0


def test_largest_disc_of_a_right_triangle_is_its_incircle():
    """3-4-5 triangle: the inradius is 1, centre (1, 1)."""
    centre, radius = medial.largest_disc(Polygon([(0, 0), (4, 0), (0, 3)]))
    assert radius == pytest.approx(1)
    assert centre == pytest.approx((1, 1))


def assert_alike(axis, other):
    """As drawn: the same lines to a micrometre, however the edges are ordered or split."""
    drawn, again = (shapely.multilinestrings(list(a.points[a.edges])) for a in (axis, other))
    assert shapely.hausdorff_distance(drawn, again) < 1e-3
    assert drawn.length == pytest.approx(again.length, rel=1e-5)


def test_both_axes_at_once_are_the_two_one_by_one():
    ring_and_bar = shapely.MultiPolygon(
        [Polygon(ring(10, 48), [ring(6, 24)[::-1]]), box(14, -2, 30, 3)]
    )
    inner, outer = medial.both_axes(as_region(ring_and_bar), 20)
    assert_alike(inner, medial.medial_axis(as_region(ring_and_bar)))
    # The space between and around, as a region of its own, less what belongs to the frame.
    space = shapely.difference(box(-30, -30, 50, 30), ring_and_bar)
    around = medial.medial_axis(as_region(space))
    x, y = around.sites[:, :, 0::2], around.sites[:, :, 1::2]
    framed = np.isin(x, (-30, 50)).all(axis=2) | np.isin(y, (-30, 30)).all(axis=2)
    assert_alike(outer, around.keep(~framed.any(axis=1)))
