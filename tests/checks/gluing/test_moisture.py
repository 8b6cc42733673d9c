"""Equations of wood and moisture: their bounds and what must hold at any figures.

Published values are in tests/reference/test_wood_movement.py.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.checks.gluing.moisture import (
    coefficient_change,
    coefficient_from_shrinkage,
    equilibrium_moisture,
    green_change,
)

room = st.floats(6, 14)
shrinkage = st.floats(1, 15)


@given(st.floats(1, 2000), st.floats(1e-4, 1e-2), room, room)
def test_swelling_and_shrinking_back_cancel(width, coefficient, low, high):
    there = coefficient_change(width, coefficient, low, high)
    assert there == pytest.approx(-coefficient_change(width, coefficient, high, low))
    assert (there > 0) == (high > low)


@given(st.floats(1, 2000), shrinkage, st.floats(0, 30), st.floats(0, 30), st.floats(0, 30))
def test_a_detour_by_another_moisture_comes_out_the_same(width, percent, a, b, c):
    """The green-dimension method is exact for size linear in moisture: paths do not matter."""
    straight = green_change(width, percent, a, c)
    first = green_change(width, percent, a, b)
    assert first + green_change(width + first, percent, b, c) == pytest.approx(straight, abs=1e-9)


@given(shrinkage)
def test_the_two_methods_agree_at_the_size_to_which_coefficients_refer(percent):
    """At 10 % moisture the coefficient is the slope of the other method."""
    slope = green_change(100, percent, 10, 11)
    coefficient = coefficient_from_shrinkage(percent)
    assert slope == pytest.approx(coefficient_change(100, coefficient, 10, 11), rel=1e-9)


@given(st.floats(0, 40), st.floats(0, 0.99), st.floats(0.001, 0.01))
def test_damper_air_makes_damper_wood(temperature, humidity, more):
    drier = equilibrium_moisture(temperature, humidity)
    assert 0 <= drier < equilibrium_moisture(temperature, humidity + more) < 31


def test_figures_outside_the_equations_are_refused():
    for low, high in ((5.9, 8), (8, 14.1)):
        with pytest.raises(ValueError, match="between 6 and 14"):
            coefficient_change(100, 0.003, low, high)
    with pytest.raises(ValueError, match="0 to 30"):
        green_change(100, 7, 31, 10)
    for percent in (0, 100, -3):
        with pytest.raises(ValueError, match="shrinkage"):
            green_change(100, percent, 10, 12)
        with pytest.raises(ValueError, match="shrinkage"):
            coefficient_from_shrinkage(percent)
    with pytest.raises(ValueError, match="saturation"):
        coefficient_from_shrinkage(7, 10)
    with pytest.raises(ValueError, match="fraction"):
        equilibrium_moisture(20, 55)
