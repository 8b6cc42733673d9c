"""Times of chains: motion worked out in small steps, limits at corners, and monotone growth.

Closed forms of single moves and corners are in `tests/reference`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.cutting.timing import chain_time, corner_speeds


def stepped(lengths, speeds, corners, a, step=0.002):
    """Return the time of a chain, its fastest motion worked out every `step` mm of way.

    The square of the speed may rise and fall by 2 a ds a step: limited at every place by the
    move's speed and at every corner, then forwards and backwards.
    """
    counts = [max(2, round(d / step)) for d in lengths]
    ds = np.concatenate([np.full(n, d / n) for n, d in zip(counts, lengths, strict=True)])
    top = np.concatenate([np.full(n, v) for n, v in zip(counts, speeds, strict=True)])
    limit = np.concatenate(([0.0], np.minimum(top[:-1], top[1:]), [0.0]))
    for k, at in enumerate(np.cumsum(counts)[:-1]):
        limit[at] = min(limit[at], corners[k])
    squares = limit**2
    for i in range(len(ds)):
        squares[i + 1] = min(squares[i + 1], squares[i] + 2 * a * ds[i])
    for i in range(len(ds) - 1, -1, -1):
        squares[i] = min(squares[i], squares[i + 1] + 2 * a * ds[i])
    v = np.sqrt(squares)
    return float((2 * ds / (v[:-1] + v[1:])).sum())


@pytest.mark.parametrize("seed", range(6))
def test_a_chain_takes_as_long_as_motion_in_small_steps(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 12))
    lengths, speeds = rng.uniform(0.05, 12, n), rng.uniform(5, 80, n)
    corners = rng.choice([0.0, 3.0, 12.0, math.inf], n - 1)
    times = chain_time(lengths, speeds, corners, 400.0)
    assert times.sum() == pytest.approx(stepped(lengths, speeds, corners, 400.0), rel=3e-3)
    assert (times > 0).all()
    assert times.sum() >= (lengths / speeds).sum()


lists = st.lists(
    st.tuples(st.floats(0.01, 40), st.floats(2, 90), st.floats(0, 60)), min_size=1, max_size=20
)


@given(lists, st.floats(50, 2000))
def test_more_of_anything_is_never_slower(rows, a):
    lengths, speeds, corners = np.array(rows).T
    corners = corners[1:]
    base = chain_time(lengths, speeds, corners, a).sum()
    tight = 1 + 1e-9
    assert chain_time(lengths, speeds, corners, 1.5 * a).sum() <= base * tight
    assert chain_time(lengths, speeds, 2 * corners, a).sum() <= base * tight
    assert chain_time(lengths, 2 * speeds, corners, a).sum() <= base * tight
    assert chain_time(lengths, speeds, np.zeros_like(corners), a).sum() >= base / tight
    assert chain_time(lengths[::-1].copy(), speeds[::-1].copy(), corners[::-1].copy(), a).sum() == (
        pytest.approx(base, rel=1e-9)
    )


def test_stops_at_every_corner_are_moves_from_rest_to_rest():
    """T = d/v + v/a for 100 mm at 50 mm/s and 500 mm/s²: 2.1 s each."""
    times = chain_time(np.full(3, 100.0), np.full(3, 50.0), np.zeros(2), 500.0)
    assert times == pytest.approx([2.1, 2.1, 2.1])


def test_a_move_of_no_length_takes_no_time():
    lengths = np.array([10.0, 0.0, 10.0])
    times = chain_time(lengths, np.full(3, 50.0), np.full(2, np.inf), 500.0)
    whole = chain_time(np.array([20.0]), np.array([50.0]), np.empty(0), 500.0)
    assert times[1] == 0
    assert times.sum() == pytest.approx(whole.sum())


def test_an_empty_chain():
    assert chain_time(np.empty(0), np.empty(0), np.empty(0), 500.0).tolist() == []


@given(st.floats(0.5, 179.5), st.floats(0.5, 179.5))
def test_a_sharper_corner_is_taken_more_slowly(one, two):
    def speed(turn_deg):
        turn = math.radians(turn_deg)
        after = np.array([[math.cos(turn), math.sin(turn), 0.0]])
        return corner_speeds(np.array([[1.0, 0.0, 0.0]]), after, 400.0, 0.02)[0]

    assert (speed(one) >= speed(two)) == (one <= two) or one == pytest.approx(two, rel=1e-6)


def test_a_corner_up_or_down_counts_as_one_in_the_plane():
    level, steep = np.array([[1.0, 0, 0]]), np.array([[0.0, 0, -1]])
    aside = np.array([[0.0, 1, 0]])
    assert corner_speeds(level, steep, 400, 0.02) == corner_speeds(level, aside, 400, 0.02)
