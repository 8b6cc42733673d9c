"""Sizes by halving, against steps whose place is known."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from letterply.jobs.solving import Tried, largest_where, smallest_where

SIZES = st.floats(2.0, 400.0)


@given(step=SIZES, guess=SIZES)
@settings(max_examples=150, deadline=None)
def test_the_largest_is_the_last_step_that_is_so(step: float, guess: float) -> None:
    tried = Tried(lambda size: size <= step, 0.1)
    found = largest_where(tried, guess, 2.0, 400.0)
    assert found is not None
    assert found <= step < found * 1.011 + 0.11
    assert len(tried.found) <= 30


@given(step=SIZES, guess=SIZES)
@settings(max_examples=150, deadline=None)
def test_the_smallest_is_so_and_two_percent_below_is_not(step: float, guess: float) -> None:
    tried = Tried(lambda size: size >= step, 0.1)
    found = smallest_where(tried, guess, 2.0, 400.0)
    assert found is not None
    assert tried.found[found]
    assert step <= found
    assert found == 2.0 or not tried.found[tried.down(found * 0.98)]
    assert len(tried.found) <= 40


def test_where_it_is_nowhere_so_there_is_no_answer() -> None:
    assert largest_where(Tried(lambda size: False, 0.1), 50, 2, 400) is None
    assert smallest_where(Tried(lambda size: False, 0.1), 50, 2, 400) is None
    assert largest_where(Tried(lambda size: True, 0.1), 50, 2, 400) == 400
    assert smallest_where(Tried(lambda size: True, 0.1), 50, 2, 400) == pytest.approx(2)


def test_nothing_is_asked_twice() -> None:
    asked: list[float] = []

    def ask(size: float) -> bool:
        asked.append(size)
        return size >= 37

    smallest_where(Tried(ask, 0.1), 80, 2, 400)
    assert len(asked) == len(set(asked))
