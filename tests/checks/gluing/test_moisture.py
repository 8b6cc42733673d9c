"""Equations of wood and moisture: their bounds and what must hold at any figures.

Published values are in tests/reference/test_wood_movement.py.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.checks.gluing.moisture import coefficient_change

room = st.floats(6, 14)


@given(st.floats(1, 2000), st.floats(1e-4, 1e-2), room, room)
def test_swelling_and_shrinking_back_cancel(width, coefficient, low, high):
    there = coefficient_change(width, coefficient, low, high)
    assert there == pytest.approx(-coefficient_change(width, coefficient, high, low))
    assert (there > 0) == (high > low)


def test_figures_outside_the_equations_are_refused():
    for low, high in ((5.9, 8), (8, 14.1)):
        with pytest.raises(ValueError, match="between 6 and 14"):
            coefficient_change(100, 0.003, low, high)
