"""Pieces of the search for an order: neighbours, the nearest next, the best options of an order."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from letterply.cutting.order.ruin_recreate import (
    Stops,
    best_options,
    greedy_tour,
    ruin_and_recreate,
    stops_nearby,
)

NOTHING = (np.empty(0, dtype=np.int64), np.zeros(9, dtype=np.int64))


def stops(seed, count=8, entry_options=3):
    """Return stops with options anywhere, none of which waits for another."""
    return Stops(
        np.random.default_rng(seed).uniform(0, 100, (count * entry_options, 4)),
        np.arange(0, count * entry_options + 1, entry_options),
        np.repeat(np.arange(count), entry_options),
        *NOTHING,
        *NOTHING,
    )


def length(tour, table):
    at, total = np.zeros(2), 0.0
    for way in tour:
        total += float(np.hypot(*(table[way, :2] - at)))
        at = table[way, 2:]
    return total


@pytest.mark.parametrize("seed", range(4))
def test_neighbours_are_the_stops_with_the_shortest_hop_either_way(seed):
    work = stops(seed)
    table, stop_of = work.options, work.stop_of
    near = stops_nearby(work, 4)
    hops = np.hypot(*(table[:, None, 2:] - table[None, :, :2]).transpose(2, 0, 1))
    for s in range(8):
        mine = stop_of == s
        away = [
            min(hops[np.ix_(mine, stop_of == t)].min(), hops[np.ix_(stop_of == t, mine)].min())
            if t != s
            else np.inf
            for t in range(8)
        ]
        assert near[s].tolist() == np.argsort(away)[:4].tolist()


@pytest.mark.parametrize("seed", range(6))
def test_the_best_options_of_an_order_are_the_best_of_all(seed):
    work = stops(seed, count=5)
    table, stop_of = work.options, work.stop_of
    order = np.random.default_rng(seed).permutation(5)
    best = min(
        length([3 * s + w for s, w in zip(order, some, strict=True)], table)
        for some in product(range(3), repeat=5)
    )
    found = best_options(3 * order, work)
    assert stop_of[found].tolist() == order.tolist()
    assert length(found, table) == pytest.approx(best)


def test_the_nearest_next_waits_for_what_comes_before_it():
    """Stops at 10, 20, 30 in a row; the first one waits for the last one."""
    x = np.array([10.0, 20, 30])
    table = np.column_stack((x, 0 * x, x, 0 * x))
    before = np.array([2]), np.array([0, 1, 1, 1])
    after = np.array([0]), np.array([0, 0, 0, 1])
    work = Stops(table, np.arange(4), np.arange(3), *before, *after)
    assert greedy_tour(work).tolist() == [1, 2, 0]


@pytest.mark.parametrize("seed", range(4))
def test_the_search_never_returns_a_longer_tour_than_it_was_given(seed):
    work = stops(seed)
    table, stop_of = work.options, work.stop_of
    start = best_options(3 * np.arange(8), work)
    near = stops_nearby(work, 7)
    lengths = [length(start, table)]
    for rounds in (1, 20, 400):
        found = ruin_and_recreate(start, work, near, rounds, 1)
        assert sorted(stop_of[found].tolist()) == list(range(8))
        lengths.append(length(found, table))
    assert lengths[1] <= lengths[0] + 1e-9
    assert lengths[2] <= lengths[0] + 1e-9
    assert lengths[3] < lengths[0]
