"""Rings against swept areas whose gaps, leftovers and corners are known by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.proof.judging.corners import find_left
from letterply.proof.judging.severance import Ring, Severance, judge_ring
from letterply.proof.removal.exact import Sweep

R = 1.5
SQUARE = shapely.box(10, 10, 40, 30)
HOLE = shapely.Point(0, 0).buffer(8, quad_segs=128)


def cut(path: BaseGeometry, radius: float = R) -> BaseGeometry:
    return path.buffer(radius, quad_segs=48)


def around(shape: Polygon, distance: float) -> BaseGeometry:
    return shape.buffer(distance, quad_segs=48).boundary


def gaps(*places: tuple[float, float], width: float) -> BaseGeometry:
    return shapely.unary_union([shapely.Point(p).buffer(width / 2, quad_segs=64) for p in places])


def judged(
    shape: Polygon, path: BaseGeometry, held: BaseGeometry | None = None, *, hole: bool = False
) -> Severance:
    through = cut(path)
    return judge_ring(Ring(shape, hole), R, through, through if held is None else held)


def test_a_ring_cut_all_round_has_no_gap_and_nothing_left() -> None:
    found = judged(SQUARE, around(SQUARE, R + 0.005))
    assert (len(found.tabs), found.missing_mm, found.left_mm, found.round_area_mm2) == (0, 0, 0, 0)
    found = judged(HOLE, around(HOLE, -R - 0.005), hole=True)
    assert (len(found.tabs), found.missing_mm, found.left_mm, found.round_area_mm2) == (0, 0, 0, 0)


@pytest.mark.parametrize("width", [3.2, 6.0, 12.0])
def test_each_gap_is_a_tab_and_counts_once(width: float) -> None:
    """A path left out over some width leaves a tab shorter by the cutter's diameter."""
    places = [(8.5, 20), (25, 8.5), (25, 31.5)]
    path = around(SQUARE, R + 0.005).difference(gaps(*places, width=width))
    found = judged(SQUARE, path)
    assert (len(found.tabs), found.missing_mm, found.left_mm) == (3, 0, 0)


def test_a_gap_narrower_than_the_cutter_is_none() -> None:
    path = around(SQUARE, R + 0.005).difference(gaps((8.5, 20), width=2.8))
    found = judged(SQUARE, path)
    assert (len(found.tabs), found.missing_mm) == (0, 0)


def test_a_gap_where_the_ring_of_the_line_starts_is_one_gap() -> None:
    line = around(SQUARE, R)
    start = line.coords[0]
    found = judged(SQUARE, around(SQUARE, R + 0.005).difference(gaps(start, width=8)))
    assert len(found.tabs) == 1


def test_a_gap_too_long_for_a_tab_is_a_missing_cut() -> None:
    path = around(SQUARE, R + 0.005).difference(gaps((25, 8.5), width=27))
    found = judged(SQUARE, path)
    assert len(found.tabs) == 0
    assert found.missing_mm == pytest.approx(27 - 2 * R, abs=0.05)
    assert found.missing_at == pytest.approx((25, 8.5), abs=0.1)


def test_what_is_cut_to_the_tabs_height_and_no_deeper_is_not_through() -> None:
    whole = around(SQUARE, R + 0.005)
    part = whole.difference(gaps((25, 8.5), width=10))
    found = judged(SQUARE, part, held=cut(whole))
    assert len(found.tabs) == 0
    assert found.missing_mm == pytest.approx(10 - 2 * R, abs=0.05)


@pytest.mark.parametrize("extra", [0.1, 0.5])
def test_a_path_too_far_out_leaves_the_part_too_large(extra: float) -> None:
    found = judged(SQUARE, around(SQUARE, R + extra))
    assert found.left_mm == pytest.approx(extra, abs=0.01)
    assert found.left_length_mm == pytest.approx(100, rel=0.05)
    found = judged(HOLE, around(HOLE, -R - extra), hole=True)
    assert found.left_mm == pytest.approx(extra, abs=0.01)


def test_beside_a_tab_nothing_counts_as_left() -> None:
    path = around(SQUARE, R + 0.005).difference(gaps((8.5, 20), width=7))
    assert judged(SQUARE, path).left_length_mm == 0


def test_inside_corners_stay_round_by_what_plane_geometry_says() -> None:
    """A corner of 90 degrees: r (1/sin 45 - 1) deep and r^2 (1 - pi/4) in area, each."""
    notch = SQUARE.difference(shapely.box(20, 20, 30, 31))
    found = judged(notch, around(notch, R + 0.001))
    assert (len(found.tabs), found.missing_mm) == (0, 0)
    assert found.round_area_mm2 == pytest.approx(2 * R * R * (1 - math.pi / 4), rel=0.05)
    assert found.round_depth_mm == pytest.approx(R * (math.sqrt(2) - 1), abs=0.01)


@pytest.mark.parametrize(
    ("further_mm", "detail_mm", "left_mm"),
    [(0.0, 0.45, 0.0), (0.0, 0.25, 0.41), (0.2, 0.45, 0.2)],
)
def test_what_a_larger_cutter_leaves_round_beside_its_cut_is_a_corner(
    further_mm: float, detail_mm: float, left_mm: float
) -> None:
    """A small cutter follows the hole, but for two corners and a wall that a larger one cuts.

    What the larger one leaves round there may stay as deep as a corner may: beyond what the small
    one reaches (1.5 - 0.5) (sqrt 2 - 1). What it leaves standing because it kept away may not.
    """
    hole, small = shapely.box(0, 0, 30, 12), 0.5
    low = 1.505 + further_mm
    large_path = LineString([(9, low), (28.495, low), (28.495, 10.4)])
    small_path = around(hole, -small - 0.005) - shapely.box(10, -1, 31, 11)
    swept = Sweep(R, np.array([large_path], dtype=object), np.zeros(1, dtype=np.int64))
    through = cut(small_path, small) | cut(large_path)
    found = judge_ring(
        Ring(hole, True), small, through, through, detail_mm=detail_mm, larger=(swept,)
    )
    assert found.left_mm == pytest.approx(left_mm, abs=0.03)


def test_a_corner_is_as_deep_as_the_last_cutter_leaves_it() -> None:
    """Where a finer one went after the one that follows the ring, its radius counts."""
    notch = SQUARE.difference(shapely.box(20, 20, 30, 31))
    coarse, fine = cut(around(notch, R + 0.001)), R / 4
    corners = shapely.box(20, 20, 30, 31).buffer(-fine - 0.001).boundary
    through = shapely.union(coarse, cut(corners, fine))
    found = judge_ring(Ring(notch, hole=False), R, through, coarse)
    assert found.round_depth_mm == pytest.approx(fine * (math.sqrt(2) - 1), abs=0.02)


def test_a_slot_too_narrow_for_the_cutter_is_left_and_said() -> None:
    slit = SQUARE.difference(shapely.box(24, 20, 25, 31))
    found = judged(slit, around(slit, R + 0.001))
    assert (len(found.tabs), found.missing_mm, found.left_mm) == (0, 0, 0)
    assert found.round_area_mm2 > 9.5


def test_a_hole_as_wide_as_the_cutter_is_cut_by_going_down_once() -> None:
    hole = shapely.Point(5, 5).buffer(R, quad_segs=64)
    ring = Ring(hole, hole=True)
    through = shapely.Point(5, 5).buffer(R, quad_segs=64)
    found = judge_ring(ring, R, through, through)
    assert (found.missing_mm, found.left_mm) == (0, 0)
    beside = shapely.Point(5.3, 5).buffer(R, quad_segs=64)
    found = judge_ring(ring, R, beside, beside)
    assert found.left_mm == pytest.approx(0.3, abs=0.05)


def test_a_hole_with_lobes_that_are_cut_one_by_one_is_whole() -> None:
    dumbbell = shapely.unary_union(
        [shapely.box(0, 0, 8, 8), shapely.box(20, 0, 28, 8), shapely.box(7, 3, 21, 5)]
    )
    reached = dumbbell.buffer(-R - 0.005, quad_segs=48)
    assert reached.geom_type == "MultiPolygon"
    found = judged(dumbbell, reached.boundary, hole=True)
    assert (len(found.tabs), found.missing_mm, found.left_mm) == (0, 0, 0)
    one = judged(dumbbell, LineString(reached.geoms[0].exterior), hole=True)
    assert one.missing_mm > 15


def hourglass(wide: float, narrow: float) -> Polygon:
    """Return a hole of two slots, end to end, joined by a slit."""
    lobes = [LineString([(0, 0), (1, 0)]).buffer(wide), LineString([(6, 0), (9, 0)]).buffer(narrow)]
    return shapely.unary_union([*lobes, LineString([(0, 0), (9, 0)]).buffer(0.2)])


def test_of_a_hole_hardly_wider_than_the_cutter_only_the_widest_place_is_asked() -> None:
    """The cutter that keeps 0.0125 mm off the walls enters the one lobe and not the other."""
    hole = hourglass(R + 0.018, R + 0.008)
    path = LineString([(0, 0), (1, 0)])
    found = judge_ring(Ring(hole, hole=True), R, cut(path), cut(path))
    assert (len(found.tabs), found.missing_mm, found.left_length_mm) == (0, 0, 0)


def test_a_slot_hardly_wider_than_the_cutter_and_cut_halfway_is_seen() -> None:
    slot = LineString([(0, 0), (20, 0)]).buffer(R + 0.015, quad_segs=64)
    half = LineString([(0, 0), (10, 0)])
    found = judge_ring(Ring(slot, hole=True), R, cut(half), cut(half))
    assert found.missing_mm > 15
    whole = LineString([(0, 0), (20, 0)])
    found = judge_ring(Ring(slot, hole=True), R, cut(whole), cut(whole))
    assert (len(found.tabs), found.missing_mm, found.left_length_mm) == (0, 0, 0)


def test_an_oval_hole_hardly_wider_than_the_cutter_is_cut_by_going_down_once() -> None:
    """How far the axis may go along it is decided by hundredths, so that it is asked once."""
    off, half = 20.0, R + 0.0107
    sides = [shapely.Point(0, y).buffer(off, quad_segs=256) for y in (off - half, half - off)]
    oval = shapely.intersection(*sides)
    for at, left in ((0.0, False), (0.05, False), (0.6, True)):
        through = cut(shapely.Point(at, 0))
        found = judge_ring(Ring(oval, hole=True), R, through, through)
        assert (found.left_length_mm > 0) is left, at
        assert found.round_area_mm2 > 1


def test_what_stays_along_a_straight_wall_is_measured_between_its_ends() -> None:
    """A slot cut at both ends and along one wall: farthest from all cuts is the other's middle."""
    slot, wall = shapely.box(0, 0, 6, 3), LineString([(0, 0), (6, 0)])
    ends = shapely.box(-1, 0, 0, 3) | shapely.box(6, 0, 7, 3)
    found = find_left(slot, ends | shapely.box(0, 2, 6, 3), 0.25, wall=wall)
    assert found is not None
    assert found.depth_mm == pytest.approx(2.0, abs=0.03)
    assert found.where == pytest.approx((3.0, 0.0), abs=1.1)
    assert find_left(slot, ends | shapely.box(0, 0.25, 6, 3), 0.25, wall=wall) is None
