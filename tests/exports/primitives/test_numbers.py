"""Numbers: what a file may hold."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.exports.primitives.numbers import number, rounded


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (-0.0, "0"), (-0.00004, "0"), (100.0, "100"), (1e-4, "0.0001"), (1e6, "1000000")],
)
def test_numbers_are_short_and_never_a_negative_nought(value, text):
    assert number(value) == text


@given(st.floats(-1e6, 1e6), st.integers(0, 6))
def test_a_written_number_is_near_and_plain(value, decimals):
    text = number(value, decimals)
    assert abs(float(text) - value) <= 0.5000001 * 10**-decimals + 1e-9
    assert re.fullmatch(r"-?\d+(\.\d*[1-9])?", text)
    assert text != "-0"


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_refused(bad):
    with pytest.raises(ValueError, match="cannot be written"):
        number(bad)
    with pytest.raises(ValueError, match="cannot be written"):
        rounded(bad)


def test_rounding_leaves_no_sign_on_nought():
    assert math.copysign(1, rounded(-1e-9)) == 1
