"""Times of moves against closed forms of constant acceleration, to the digits shown.

Rest to rest: T = d/v + v/a for d >= v²/a, else 2 sqrt(d/a). Corner: R = delta sin(theta/2) /
(1 - sin(theta/2)), v = sqrt(a R) with theta = 180 degrees straight on. Derived.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.cutting.timing import chain_time, corner_speeds


def time_of(lengths, speeds, corners, a):
    return float(
        chain_time(
            np.array(lengths, float), np.array(speeds, float), np.array(corners, float), a
        ).sum()
    )


@pytest.mark.parametrize(
    ("d", "v", "a", "seconds"),
    [
        (100, 50, 500, 2.100000),
        (100, 100, 500, 1.200000),
        (10, 100, 500, 0.282843),
        (20, 100, 500, 0.400000),
        (1, 50, 250, 0.126491),
        (300, 83.3333, 400, 3.808333),
        (1000, 200, 1000, 5.200000),
        (0.5, 25, 100, 0.141421),
    ],
)
def test_rest_to_rest(d, v, a, seconds):
    assert time_of([d], [v], [], a) == pytest.approx(seconds, abs=2e-6)


@pytest.mark.parametrize(
    ("delta", "theta", "speed"),
    [
        (0.01, 90, 3.474344),
        (0.01, 135, 7.790081),
        (0.02, 90, 4.913465),
        (0.02, 120, 8.039964),
        (0.05, 60, 5.000000),
        (0.01, 170, 36.179500),
    ],
)
def test_corner_speed(delta, theta, speed):
    turn = math.radians(180 - theta)
    before = np.array([[1.0, 0.0, 0.0]])
    after = np.array([[math.cos(turn), math.sin(turn), 0.0]])
    assert corner_speeds(before, after, 500, delta)[0] == pytest.approx(speed, abs=1e-5)


def test_straight_on_sets_no_limit_and_a_reversal_stops():
    ahead = np.array([[1.0, 0.0, 0.0]])
    assert corner_speeds(ahead, ahead, 500, 0.01)[0] == np.inf
    assert corner_speeds(ahead, -ahead, 500, 0.01)[0] == pytest.approx(0, abs=1e-6)


@given(
    st.lists(st.floats(0.01, 50), min_size=1, max_size=30),
    st.floats(5, 150),
    st.floats(100, 2000),
)
def test_a_straight_chain_takes_as_long_as_one_move_and_no_longer_than_its_pieces(pieces, v, a):
    free = [np.inf] * (len(pieces) - 1)
    chained = time_of(pieces, [v] * len(pieces), free, a)
    whole = time_of([sum(pieces)], [v], [], a)
    stops = sum(time_of([d], [v], [], a) for d in pieces)
    assert chained == pytest.approx(whole, rel=1e-9)
    assert chained <= stops * (1 + 1e-9)
    assert chained >= sum(pieces) / v
