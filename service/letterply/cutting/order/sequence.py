"""Order of work with short travel between stops.

A *stop* is what must be done in one go; there may be several *entry options* to do it: the cutter
comes in at an option's entry and leaves at its exit. Some stops come before others: what is inside
before what holds it. The tour is open and starts at the sheet's origin. Order and options are
sought together (`letterply.cutting.order.ruin_recreate`); the same stops give the same tour.
"""

from __future__ import annotations

from collections.abc import Iterable
from graphlib import TopologicalSorter

import numpy as np
from numpy.typing import NDArray

from letterply.cutting.order.ruin_recreate import (
    Stops,
    best_options,
    greedy_tour,
    ruin_and_recreate,
    stops_nearby,
)

__all__ = ["short_tour"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_LEAST_ROUNDS = 1000
"""Else half the number of stops squared, until there are very many."""

_MOST_WORK = 4_000_000
"""Rounds times stops, at most: a round costs more in a long tour."""

_NEARBY = 12
"""Stops beside which one is put back."""


def short_tour(
    entries: _Floats,
    exits: _Floats,
    *,
    stops: _Ints | None = None,
    before: Iterable[tuple[int, int]] = (),
    seed: int = 1,
) -> _Ints:
    """Return the entry options to take in order, one of each stop, (n,).

    Args:
        entries: (w, 2) where the cutter comes in by each option.
        exits: (w, 2) where it leaves.
        stops: (w,) the stop of each option, from 0 and rising; each is a stop of its own
            without.
        before: pairs of stops, the first of which is done before the second.
        seed: of the search.

    Raises:
        ValueError: when stops would have to come before themselves.

    """
    stop_of = np.arange(len(entries)) if stops is None else np.asarray(stops, dtype=np.int64)
    n = int(stop_of[-1]) + 1 if len(stop_of) else 0
    if n == 0:
        return np.empty(0, dtype=np.int64)
    entry_options = np.ascontiguousarray(np.column_stack((entries, exits)), dtype=np.float64)
    first = np.searchsorted(stop_of, np.arange(n + 1))
    earlier = _all_before(n, before)
    later: list[list[int]] = [[] for _ in range(n)]
    for stop, some in enumerate(earlier):
        for other in some:
            later[other].append(stop)
    work = Stops(entry_options, first, stop_of, *_table(earlier), *_table(later))
    near = stops_nearby(work, min(_NEARBY, n - 1))
    rounds = min(max(n * n // 2, _LEAST_ROUNDS), _MOST_WORK // n) if n > 1 else 0
    tour = ruin_and_recreate(greedy_tour(work), work, near, rounds, seed)
    chosen: _Ints = best_options(tour, work)
    return chosen


def _all_before(n: int, pairs: Iterable[tuple[int, int]]) -> list[list[int]]:
    """Return what comes before each stop, directly or not."""
    direct: dict[int, set[int]] = {stop: set() for stop in range(n)}
    for one, other in pairs:
        direct[other].add(one)
    found = [0] * n  # one bit a stop
    for stop in TopologicalSorter(direct).static_order():
        for one in direct[stop]:
            found[stop] |= found[one] | 1 << one
    return [[k for k in range(n) if bits >> k & 1] if bits else [] for bits in found]


def _table(lists: list[list[int]]) -> tuple[_Ints, _Ints]:
    """Return lists in one array, and where each begins."""
    sizes = [len(some) for some in lists]
    values = np.array([value for some in lists for value in some], dtype=np.int64)
    return values, np.concatenate(([0], np.cumsum(sizes))).astype(np.int64)
