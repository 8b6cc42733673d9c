"""Offsets and openings against closed forms (Steiner; corner formulas of plane geometry)."""

import math

import pytest
import shapely
from shapely import Point, Polygon, box

from letterply.shapes import offsets
from letterply.shapes.flatten import circle
from letterply.shapes.regions import EMPTY, as_region

TOL = 0.005


def test_grown_square_has_the_area_and_perimeter_of_steiner():
    """Square 20, r = 3: area 668.274334, perimeter 98.849556 (A + P r + pi r², P + 2 pi r)."""
    grown = offsets.offset(as_region(box(0, 0, 20, 20)), 3, TOL)
    assert grown.area == pytest.approx(668.274334, abs=2 * math.pi * 3 * TOL)
    assert grown.length == pytest.approx(98.849556, abs=0.05)


def test_shrunk_triangle_is_similar():
    """3-4-5 triangle shrunk by 0.25 has area 3.375."""
    shrunk = offsets.offset(as_region(Polygon([(0, 0), (4, 0), (0, 3)])), -0.25, TOL)
    assert shrunk.area == pytest.approx(3.375, abs=1e-9)


@pytest.mark.parametrize("radius", [0.5, 1.5875, 3.0, 25.0])
@pytest.mark.parametrize("tolerance", [0.001, 0.005, 0.02])
def test_a_clearing_offset_never_comes_nearer_than_asked(radius, tolerance):
    shape = as_region(Polygon([(0, 0), (30, 2), (25, 17), (12, 9), (3, 21)]))
    path = offsets.clear_offset(shape, radius, tolerance)
    ring = path.geoms[0].exterior
    dense = shapely.segmentize(ring, tolerance)
    distance = shapely.distance(shapely.points(shapely.get_coordinates(dense)), shape)
    assert distance.min() >= radius - 1e-9
    assert distance.max() <= radius + tolerance + 1e-9


def test_opening_of_a_square_leaves_its_four_corners():
    """Square of side 20, r = 1.5: (4 - pi) r² = 1.931417 mm² cannot be reached."""
    left = offsets.leftover(as_region(box(0, 0, 20, 20)), 1.5, 0.0005)
    assert left.area == pytest.approx(1.931417, rel=0.01)
    assert len(left.geoms) == 4


@pytest.mark.parametrize(
    ("angle", "apex", "area"),
    [(90, 0.621320, 0.482854), (60, 1.500000, 1.540920)],
)
def test_leftover_of_a_corner_has_the_closed_form(angle, apex, area):
    """Corner of angle b, r = 1.5: apex r (1/sin(b/2) - 1), area r² (cot(b/2) - (pi - b)/2)."""
    half = math.radians(angle / 2)
    far = 60
    corner = Polygon(
        [(0, 0), (far, -far * math.tan(half)), (far * 3, 0), (far, far * math.tan(half))]
    )
    left = offsets.leftover(as_region(corner), 1.5, 0.0005)
    at_corner = min(left.geoms, key=lambda p: p.distance(Point(0, 0)))
    assert at_corner.area == pytest.approx(area, rel=0.01)
    reached = offsets.opening(as_region(corner), 1.5, 0.0005)
    assert reached.distance(Point(0, 0)) == pytest.approx(apex, abs=0.002)


def test_a_disc_smaller_than_the_cutter_is_not_reached_at_all():
    disc = as_region(Polygon(circle(0, 0, 1.0, 0.001)))
    assert offsets.opening(disc, 1.2, TOL) == EMPTY
    assert offsets.leftover(disc, 1.2, TOL).area == pytest.approx(disc.area)


def test_flattened_curves_leave_no_crumbs():
    """A disc that the cutter fits is reached but for slivers, which are dropped."""
    disc = as_region(Polygon(circle(0, 0, 10, 0.005)))
    assert offsets.leftover(disc, 3.0, TOL).is_empty


def test_where_nothing_is_reached_a_leftover_is_as_deep_as_it_is_long():
    slot = as_region(shapely.box(0, 0, 3, 4))
    left = offsets.leftover(slot, 5.0, 0.005)
    depth, piece = offsets.deepest_leftover(left, slot)
    assert depth == pytest.approx(5.0, abs=0.02)
    assert piece.area == pytest.approx(12.0, rel=1e-3)


@pytest.mark.parametrize("angle", [30.0, 60.0, 90.0])
def test_a_corner_is_left_as_deep_as_its_angle_says(angle):
    """Radius r, angle b: r (1 / sin(b / 2) - 1) from the disc to the apex."""
    half = math.radians(angle / 2)
    wedge = as_region(
        Polygon([(0, 0), (40 * math.cos(half), -40 * math.sin(half)), (60, 0),
                 (40 * math.cos(half), 40 * math.sin(half))])
    )  # fmt: skip
    left = offsets.leftover(wedge, 1.5, 0.0005)
    depths = offsets.leftover_depths(left, wedge)
    at_apex = min(range(len(left.geoms)), key=lambda k: left.geoms[k].distance(Point(0, 0)))
    assert depths[at_apex] == pytest.approx(1.5 * (1 / math.sin(half) - 1), abs=0.005)


@pytest.mark.parametrize("aside", [0.0, 0.13, 0.31])
def test_the_wall_of_a_throat_is_as_deep_as_lies_midway(aside):
    """A post near a straight wall: a cutter stops at either side of it, and between them is a hump.

    Centres of cutter and post lie r + R apart, the cutter's r from the wall; midway on the wall the
    cutter is sqrt(c^2 + r^2) - r away, c its distance along the wall.
    """
    cutter, post, throat = 1.5875, 3.0, 2.6
    around = as_region(box(-20 - aside, 0, 20, 30)) - Point(0, throat + post).buffer(post, 256)
    left = offsets.leftover(as_region(around), cutter, 0.0005)
    depths = offsets.leftover_depths(left, as_region(around))
    hump = min(range(len(left.geoms)), key=lambda k: left.geoms[k].distance(Point(0, 0)))
    along = math.sqrt((cutter + post) ** 2 - (throat + post - cutter) ** 2)
    wanted = math.hypot(along, cutter) - cutter
    assert depths[hump] == pytest.approx(wanted, abs=0.06)


def test_what_is_reached_beyond_a_thin_wall_makes_no_gap_shallow():
    """A blind slot 1 mm wide and 10 mm long, half a millimetre from an open side."""
    block = shapely.box(0, 0, 20, 10)
    slot = shapely.box(5, 8.5, 15, 9.5)
    mouth = shapely.box(15, 3, 20, 9.5)
    around = offsets.surroundings(Polygon(block.difference(slot.union(mouth)).exterior), 6.0)
    left = offsets.leftover(around, 1.0, 0.001)
    depth, piece = offsets.deepest_leftover(left, around)
    assert piece.covers(Point(5.2, 9))
    assert depth == pytest.approx(10.0, abs=0.2)
