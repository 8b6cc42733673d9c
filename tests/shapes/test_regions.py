"""Regions: what the clean-up promises."""

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box

from letterply.errors import GeometryError
from letterply.shapes import regions


def square(x: float, y: float, side: float, *, clockwise: bool = False) -> np.ndarray:
    ring = np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]], dtype=float)
    return ring[::-1] if clockwise else ring


def test_overlapping_contours_of_one_sense_fill_their_union():
    found = regions.nonzero_union([square(0, 0, 10), square(5, 0, 10)])
    assert found.equals(box(0, 0, 15, 10))


def test_opposite_sense_inside_makes_a_hole():
    found = regions.nonzero_union([square(0, 0, 10), square(2, 2, 6, clockwise=True)])
    assert found.area == pytest.approx(64)
    assert len(found.geoms[0].interiors) == 1


def test_same_sense_inside_makes_no_hole():
    """SVG 2 fill rules: two nested squares of one direction are filled throughout by nonzero."""
    found = regions.nonzero_union([square(0, 0, 10), square(2, 2, 6)])
    assert found.equals(box(0, 0, 10, 10))


def test_pentagram_is_filled_at_its_centre():
    """SVG 1.1 painting: the centre of a pentagram has winding 2, so nonzero fills it."""
    star = np.array([[50, 0], [21, 90], [98, 35], [2, 35], [79, 90]], dtype=float)
    assert regions.nonzero_union([star]).contains(shapely.Point(50, 50))


def test_figure_of_eight_keeps_both_lobes():
    eight = np.array([[0, 0], [10, 10], [10, 0], [0, 10]], dtype=float)
    found = regions.nonzero_union([eight])
    assert found.area == pytest.approx(50)
    assert found.is_valid


def test_rings_without_area_vanish():
    line = np.array([[0, 0], [5, 5], [10, 10]], dtype=float)
    assert regions.nonzero_union([line, np.zeros((4, 2)), np.zeros((2, 2))]).is_empty


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e9])
def test_coordinates_beyond_reach_are_refused(bad):
    ring = square(0, 0, 10)
    ring[1, 0] = bad
    with pytest.raises(GeometryError) as caught:
        regions.nonzero_union([ring])
    assert caught.value.code == "outline-out-of-reach"


def test_normalised_regions_have_one_form_whatever_their_start_and_order():
    a = MultiPolygon([box(0, 0, 1, 1), box(5, 5, 8, 8)])
    turned = Polygon([(8, 8), (5, 8), (5, 5), (8, 5)])
    b = MultiPolygon([turned, Polygon([(1, 1), (1, 0), (0, 0), (0, 1)])])
    one, other = regions.normalise(a), regions.normalise(b)
    assert shapely.to_wkb(one) == shapely.to_wkb(other)
    assert regions.digest(one) == regions.digest(other)


def test_normalised_exteriors_turn_counter_clockwise_and_holes_clockwise():
    ring = Polygon(square(0, 0, 9, clockwise=True), [square(1, 1, 3), square(5, 5, 2)])
    piece = regions.normalise(ring).geoms[0]
    assert piece.exterior.is_ccw
    assert not any(hole.is_ccw for hole in piece.interiors)


def test_digest_tells_a_ten_nanometre_move():
    a = regions.normalise(box(0, 0, 1, 1))
    b = regions.normalise(box(0, 0, 1, 1.00001))
    assert regions.digest(a) != regions.digest(b)


def test_a_sliver_that_comes_down_to_a_point_vanishes():
    sliver = Polygon([(0, 0), (1e-9, 0), (0, 1e-9)])
    found = regions.normalise(MultiPolygon([box(0, 5, 9, 9), sliver]))
    assert found.equals(box(0, 5, 9, 9))


def test_normalising_twice_changes_nothing():
    star = np.array([[50, 0], [21, 90], [98, 35], [2, 35], [79, 90]], dtype=float) / 7
    once = regions.nonzero_union([star])
    assert shapely.to_wkb(once) == shapely.to_wkb(regions.normalise(once))


def hair(width_mm):
    """Return two bars that a slit of this width parts, and a spur as wide on one of them."""
    bars = shapely.union_all([shapely.box(0, 0, 10, 4), shapely.box(0, 4 + width_mm, 10, 8)])
    spur = shapely.box(10, 2, 12, 2 + width_mm)
    hole = shapely.box(3, 1, 3 + width_mm, 3)
    return regions.as_region(shapely.difference(shapely.union(bars, spur), hole))


@pytest.mark.parametrize("width_mm", [1e-5, 1e-4, 0.001, 0.015])
def test_hairs_of_ground_and_ink_are_cleaned_away(width_mm):
    clean = regions.cleaned(hair(width_mm), 0.02)
    (piece,) = clean.geoms
    assert not piece.interiors
    assert piece.bounds == pytest.approx((0, 0, 10, 8), abs=1e-5)


def test_what_is_wider_than_a_hair_stays_to_the_grid():
    region = hair(0.03)
    clean = regions.cleaned(region, 0.02)
    assert len(clean.geoms) == 2
    assert [len(p.interiors) for p in clean.geoms] == [len(p.interiors) for p in region.geoms]
    assert shapely.symmetric_difference(region, clean).area < 1e-5
