"""Fits: the same answer for layouts and checks, at quarter turns and between them."""

from __future__ import annotations

import math

import pytest
from shapely import Point, Polygon, box

from letterply.shapes.fitting import (
    FREE_TURNS_DEG,
    GRAIN_TURNS_DEG,
    QUARTER_TURNS_DEG,
    turns_that_fit,
)

BAR = box(0, 0, 520, 20)


def test_a_bar_longer_than_the_sides_fits_across() -> None:
    assert turns_that_fit(BAR, [(500, 400)], FREE_TURNS_DEG, any_turn=True) == FREE_TURNS_DEG
    assert turns_that_fit(BAR, [(500, 400)], QUARTER_TURNS_DEG, any_turn=False) == ()


def test_between_the_usual_turns_steps_of_five_degrees_are_tried() -> None:
    # 510 cos t + 20 sin t at most 480, 510 sin t + 20 cos t at most 250: t from 23 to 26 degrees.
    long = box(0, 0, 510, 20)
    found = turns_that_fit(long, [(480, 250)], QUARTER_TURNS_DEG, any_turn=True)
    assert found
    for turn in found:
        t = math.radians(turn)
        assert 510 * abs(math.cos(t)) + 20 * abs(math.sin(t)) <= 480
        assert 510 * abs(math.sin(t)) + 20 * abs(math.cos(t)) <= 250


def test_grain_allows_no_quarter_turn() -> None:
    upright = box(0, 0, 100, 300)
    assert turns_that_fit(upright, [(300, 100)], GRAIN_TURNS_DEG, any_turn=False) == ()
    assert turns_that_fit(upright, [(100, 300)], GRAIN_TURNS_DEG, any_turn=False)


@pytest.mark.parametrize("outline", [box(-7, 3, 93, 53), Polygon([(0, 0), (100, 0), (0, 50)])])
def test_an_outline_of_exactly_the_size_fits_wherever_it_is_drawn(outline: Polygon) -> None:
    assert turns_that_fit(outline, [(100, 50)], (0.0,), any_turn=False) == (0.0,)
    assert turns_that_fit(outline, [(99.99, 50)], (0.0,), any_turn=False) == ()


def test_no_turn_makes_room_for_a_disc_that_is_too_large() -> None:
    disc = Point(0, 0).buffer(51)
    assert turns_that_fit(disc, [(100, 900)], FREE_TURNS_DEG, any_turn=True) == ()
    assert turns_that_fit(disc, [], FREE_TURNS_DEG, any_turn=True) == ()
