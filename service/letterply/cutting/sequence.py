"""Order of work with short travel between: greedy, then or-opt and 2-opt moves, then kicks.

A *stop* is what must be done in one go (all paths of a part, inner ones first): the cutter comes
in at its entry and leaves at its exit. The tour is open and starts at the sheet's origin. A kick
swaps two neighbouring stretches at random places and improves again; it is kept when the tour is
hardly longer than before. The number of kicks is fixed by the number of stops and the seed is an
argument, so the same stops give the same tour.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["inner_order", "short_tour", "tour_length"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_ROUNDS = 60
_KICKS_A_STOP = 8
_MOST_KICKS = 800
_SLACK = 1.0
"""How much longer a tour may become by a kick at first, in mean ways between stops."""

_KICK_REACH = 12
_KICK_WINDOW = 12
"""Stops beside a kick that are moved to make the best of it."""


def short_tour(entries: _Floats, exits: _Floats, *, seed: int = 1) -> _Ints:
    """Return an order of the stops, (n,), given where each is entered and left, (n, 2) mm."""
    n = len(entries)
    if n < 2:
        return np.arange(n)
    away: _Floats = np.hypot(
        exits[:, None, 0] - entries[None, :, 0], exits[:, None, 1] - entries[None, :, 1]
    )
    first: _Floats = np.hypot(entries[:, 0], entries[:, 1])
    order = _greedy(away, first)
    improved: _Ints = _improve(order, away, first, _ROUNDS, 0, n)
    kicks = min(_MOST_KICKS, _KICKS_A_STOP * n) if n > 3 else 0
    kicked: _Ints = _kicked(improved, away, first, kicks, seed)
    return kicked


def inner_order(starts: _Floats, last: _Floats) -> _Ints:
    """Return an order of closed loops that all come before a last one, (n,).

    Args:
        starts: (n, 2) where each loop is entered and left.
        last: (2,) where the last one is entered.

    """
    order: _Ints = short_tour(starts - last, starts - last)[::-1]
    return order


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
def _kicked(order: _Ints, away: _Floats, first: _Floats, kicks: int, seed: int) -> _Ints:
    n = len(order)
    best = order.copy()
    best_length = _length(best, away, first)
    here, here_length = best, best_length
    slack = _SLACK * best_length / n
    state = np.uint64(seed * 2654435761 + 12345)
    for kick in range(kicks):
        # Three cuts near each other: A B C D becomes A C B D.
        cuts = np.empty(3, dtype=np.int64)
        state = state * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
        middle = np.int64((state >> np.uint64(33)) % np.uint64(n))
        for k in range(3):
            state = state * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
            reach = np.int64((state >> np.uint64(33)) % np.uint64(2 * _KICK_REACH)) - _KICK_REACH
            cuts[k] = middle + reach
        cuts = np.sort(np.minimum(np.maximum(cuts, 0), n))
        a, b, c = cuts[0], cuts[1], cuts[2]
        if a == b or b == c:
            continue
        trial = np.concatenate((here[:a], here[b:c], here[a:b], here[c:]))
        low, high = max(a - _KICK_WINDOW, 0), min(c + _KICK_WINDOW, n)
        trial = _improve(trial, away, first, _ROUNDS, low, high)
        length = _length(trial, away, first)
        # A little longer will do for now, less and less of it.
        if length <= here_length + slack * (1 - kick / kicks):
            here, here_length = trial, length
        if length < best_length:
            best, best_length = trial.copy(), length
    return best


@njit(cache=True, nogil=True)
def _length(order: _Ints, away: _Floats, first: _Floats) -> float:
    total = float(first[order[0]])
    for k in range(1, len(order)):
        total += away[order[k - 1], order[k]]
    return total


@njit(cache=True, nogil=True)
def _improve(
    order: _Ints, away: _Floats, first: _Floats, rounds: int, low: int, high: int
) -> _Ints:
    """Improve the stretch of a tour from `low` to before `high`, in place."""
    n = len(order)
    for _ in range(rounds):
        changed = False
        # or-opt: take a run of up to three stops out and put it where it costs least.
        for size in range(1, 4):
            i = low
            while i + size <= high:
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
                for j in range(low, high + 1):
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
        for i in range(low, high - 1):
            before = order[i - 1] if i > 0 else -1
            forth = 0.0
            back = 0.0
            for j in range(i + 1, high):
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
