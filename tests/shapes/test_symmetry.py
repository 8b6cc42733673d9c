"""Fits of shapes in each other's place: found, placed and measured."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import affine_transform, rotate, scale, translate

from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.flatten import circle
from letterply.shapes.hausdorff import hausdorff_mm
from letterply.shapes.regions import as_region
from letterply.shapes.symmetry import Fit, Likeness, find_fits, misfit_mm
from letterply.shapes.tolerances import DEFAULT_TOLERANCES

FOOT = Polygon([(0, 0), (30, 0), (30, 8), (12, 8), (12, 40), (0, 40)])
"""An L: it has no symmetry but the mirror in no axis at all."""


def likeness(shape):
    return Likeness(as_region(shape))


@given(st.floats(0, 359.99), st.floats(-300, 300), st.floats(-300, 300), st.booleans())
def test_a_moved_shape_is_found_where_it_went(turn, x, y, flipped):
    """The only way back into its place is the inverse of the move that took it away."""
    moved = FOOT
    if flipped:
        moved = scale(moved, -1, 1, origin="centroid")
    moved = translate(rotate(moved, turn, origin="centroid"), x, y)
    piece, place = likeness(FOOT), likeness(moved)
    (fit,) = find_fits(piece, place, 0.1, flipped=flipped)
    assert fit.misfit_mm < 1e-3
    laid = affine_transform(FOOT, fit.matrix(piece.centroid, place.centroid))
    assert hausdorff_mm(as_region(laid), as_region(moved)) < 1e-3
    assert not find_fits(piece, place, 0.1, flipped=not flipped)


def test_a_misfit_is_that_of_the_placement():
    """A hole 0.2 off the middle of a plate: turned by 180° it is 0.4 off, shared out 0.2."""
    plate = Polygon(box(0, 0, 60, 25).exterior, [circle(30.2, 12.5, 4, 0.001)])
    shape = likeness(plate)
    fits = {round(f.turn_deg): f for f in find_fits(shape, shape, 0.5)}
    assert set(fits) == {0, 180}
    assert fits[0].misfit_mm < 1e-6
    assert 0.2 - 2e-3 <= fits[180].misfit_mm <= 0.4 + 2e-3
    laid = affine_transform(plate, fits[180].matrix(shape.centroid, shape.centroid))
    own = hausdorff_mm(as_region(laid), as_region(plate))
    assert fits[180].misfit_mm == pytest.approx(own, abs=1e-3)
    assert len(find_fits(shape, shape, 0.15)) == 1


def test_what_differs_by_more_than_the_tolerance_does_not_fit():
    wide = likeness(box(0, 0, 60.8, 25))
    narrow = likeness(box(0, 0, 60, 25))
    assert [round(f.turn_deg) for f in find_fits(narrow, wide, 0.5)] == [0, 180]
    assert find_fits(narrow, wide, 0.3) == ()


def test_misfit_stops_above_a_limit_with_a_lower_bound():
    strip = likeness(box(0, 0, 40, 10))
    whole = misfit_mm(strip, strip, 90)
    assert whole == pytest.approx(15, abs=1e-3)
    assert 1 < misfit_mm(strip, strip, 90, stop_above_mm=1) <= whole


def test_misfit_takes_a_shift():
    """Shifted by 0.3 and 0.4, a corner is 0.5 away from the nearest point: the corner it was."""
    strip = likeness(box(0, 0, 40, 10))
    assert misfit_mm(strip, strip, 0, shift_mm=(0.3, 0.4)) == pytest.approx(0.5, abs=2e-4)


def test_a_round_piece_gives_one_fit_and_says_how_round_it_is():
    washer = Polygon(circle(50, 20, 20, 0.001), [circle(50, 20, 5, 0.001)])
    shape = likeness(washer)
    assert shape.wobble_mm < 0.01
    (fit,) = find_fits(shape, shape, 0.1)
    assert fit == Fit(0.0, False, pytest.approx(0, abs=1e-6), pytest.approx(0, abs=1e-6),
                      pytest.approx(0, abs=1e-5))  # fmt: skip
    oval = likeness(scale(Polygon(circle(0, 0, 20, 0.001)), 1.05, 1))
    assert oval.wobble_mm == pytest.approx(1.0, abs=0.01)


def test_a_tolerance_is_above_nothing():
    shape = likeness(FOOT)
    with pytest.raises(ValueError, match="above 0"):
        find_fits(shape, shape, 0)


def test_an_n_is_a_u_upside_down_in_one_font_and_not_in_the_next():
    """A slab serif has its feet at one end; a plain face is drawn to look turned."""

    def letter(text, font):
        spec = LetteringSpec(text, font, Size("cap_height", 50))
        return set_lettering(spec, FontLibrary().load(font), DEFAULT_TOLERANCES).region

    n, u = (letter(x, "zilla-slab-bold") for x in "nu")
    assert find_fits(Likeness(n), Likeness(u), 0.5) == ()
    n, u = (letter(x, "atkinson-hyperlegible-bold") for x in "nu")
    piece, place = Likeness(n), Likeness(u)
    (fit,) = find_fits(piece, place, 0.5)
    assert fit.turn_deg == pytest.approx(180, abs=0.5)
    laid = as_region(affine_transform(n, fit.matrix(piece.centroid, place.centroid)))
    assert fit.misfit_mm == pytest.approx(hausdorff_mm(laid, u), abs=1e-3)
    assert 0.1 < fit.misfit_mm < 0.5


def test_sample_points_lie_evenly_on_the_outline():
    shape = likeness(FOOT)
    points = shape.sample(100) + shape.centroid
    away = shapely.distance(shapely.points(points), FOOT.exterior)
    assert away.max() < 1e-9
    gaps = np.hypot(*np.diff(points, axis=0).T)
    assert gaps.max() <= FOOT.length / 100 + 1e-9
    assert math.isclose(shape.reach_mm, np.hypot(*(np.array(FOOT.exterior.coords) -
                                                    shape.centroid).T).max())  # fmt: skip


def test_ways_that_run_into_each_other_count_once():
    """An oval 0.9 longer than wide, within 0.3: what lies between its two half turns fits no more.

    Half axes 20.45 and 20: crosswise it misses by 0.45. Close to each half turn it fits as well,
    and that is the same way of lying.
    """
    oval = likeness(scale(Polygon(circle(0, 0, 20, 0.001)), 20.45 / 20, 1))
    fits = find_fits(oval, oval, 0.3)
    assert [round(f.turn_deg) % 360 for f in fits] == [0, 180]
    assert all(f.misfit_mm < 0.01 for f in fits)
    flipped = find_fits(oval, oval, 0.3, flipped=True)
    assert [round(f.turn_deg) % 360 for f in flipped] == [0, 180]
