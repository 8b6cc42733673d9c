"""Order of work with short travel between: greedy, then or-opt and 2-opt moves on the tour.

A *stop* is what must be done in one go (all paths of a part, inner ones first): the cutter comes
in at its entry and leaves at its exit. The tour is open and starts at the sheet's origin. The
search is deterministic and ends when no move shortens the tour, or after a fixed number of rounds.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["short_tour", "tour_length"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_ROUNDS = 60


def short_tour(entries: _Floats, exits: _Floats) -> _Ints:
    """Return an order of the stops, (n,), given where each is entered and left, (n, 2) mm."""
    n = len(entries)
    if n < 2:
        return np.arange(n)
    away: _Floats = np.hypot(
        exits[:, None, 0] - entries[None, :, 0], exits[:, None, 1] - entries[None, :, 1]
    )
    first: _Floats = np.hypot(entries[:, 0], entries[:, 1])
    order = _greedy(away, first)
    improved: _Ints = _improve(order, away, first, _ROUNDS)
    return improved


def tour_length(order: _Ints, entries: _Floats, exits: _Floats) -> float:
    """Return the travel of a tour from the origin, mm."""
    if not len(order):
        return 0.0
    hops = entries[order[1:]] - exits[order[:-1]]
    start = float(np.hypot(*entries[order[0]]))
    return start + float(np.hypot(hops[:, 0], hops[:, 1]).sum())


@njit(cache=True, nogil=True)
def _greedy(away: _Floats, first: _Floats) -> _Ints:
    n = len(first)
    order = np.empty(n, dtype=np.int64)
    free = np.ones(n, dtype=np.bool_)
    at = -1
    for k in range(n):
        best = -1
        best_cost = np.inf
        for j in range(n):
            if free[j]:
                cost = first[j] if at < 0 else away[at, j]
                if cost < best_cost:
                    best_cost = cost
                    best = j
        order[k] = best
        free[best] = False
        at = best
    return order


@njit(cache=True, nogil=True)
def _cost(i: int, j: int, away: _Floats, first: _Floats) -> float:
    """Cost of going from stop i (-1: the origin) to stop j (-1: nowhere, the end)."""
    if j < 0:
        return 0.0
    if i < 0:
        return float(first[j])
    return float(away[i, j])


@njit(cache=True, nogil=True)
def _improve(order: _Ints, away: _Floats, first: _Floats, rounds: int) -> _Ints:
    n = len(order)
    for _ in range(rounds):
        changed = False
        # or-opt: take a run of up to three stops out and put it where it costs least.
        for size in range(1, 4):
            i = 0
            while i + size <= n:
                before = order[i - 1] if i > 0 else -1
                after = order[i + size] if i + size < n else -1
                head, tail = order[i], order[i + size - 1]
                saved = (
                    _cost(before, head, away, first)
                    + _cost(tail, after, away, first)
                    - _cost(before, after, away, first)
                )
                best = -1
                gain = 1e-9
                for j in range(n + 1):
                    if i <= j <= i + size:
                        continue
                    left = order[j - 1] if j > 0 else -1
                    right = order[j] if j < n else -1
                    added = (
                        _cost(left, head, away, first)
                        + _cost(tail, right, away, first)
                        - _cost(left, right, away, first)
                    )
                    if saved - added > gain:
                        gain = saved - added
                        best = j
                if best >= 0:
                    run = order[i : i + size].copy()
                    if best > i:
                        for k in range(i, best - size):
                            order[k] = order[k + size]
                        order[best - size : best] = run
                    else:
                        for k in range(i + size - 1, best + size - 1, -1):
                            order[k] = order[k - size]
                        order[best : best + size] = run
                    changed = True
                i += 1
        # 2-opt: turn a stretch round; entries and exits differ, so its inner hops are counted.
        for i in range(n - 1):
            before = order[i - 1] if i > 0 else -1
            forth = 0.0
            back = 0.0
            for j in range(i + 1, n):
                forth += away[order[j - 1], order[j]]
                back += away[order[j], order[j - 1]]
                after = order[j + 1] if j + 1 < n else -1
                old = (
                    _cost(before, order[i], away, first)
                    + forth
                    + _cost(order[j], after, away, first)
                )
                new = (
                    _cost(before, order[j], away, first)
                    + back
                    + _cost(order[i], after, away, first)
                )
                if new < old - 1e-9:
                    order[i : j + 1] = order[i : j + 1][::-1].copy()
                    changed = True
                    break
        if not changed:
            break
    return order
