"""The search behind the order of work: take a few stops out of a tour and put them back better.

What is taken out lies together (strings of neighbours, as in Christiaens and Vanden Berghe, Slack
induction by string removals for vehicle routing problems, Transportation Science 54, 2020). Each
stop is put back, in the way and at the place that add least, between what must be done before it
and what it must be done before. A tour that is a little longer is kept for now, ever less so
(annealing). The number of rounds is fixed and the seed an argument, so the same stops give the
same tour.

A *way* is one manner of doing a stop: the cutter comes in at its entry and leaves at its exit.
Ways are sorted by stop. Compiled; lengths mm.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["best_ways", "greedy_ways", "reinserted", "stops_nearby"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Words = NDArray[np.uint64]

_MOST_OUT = 15
"""Stops taken out in one round, at most; some more when the last string is long."""

_LONGEST_STRING = 10
_OVERLOOK = 63
"""One in 64 places is overlooked, so that the same stops go back in other ways: a mask of bits."""

_SWING = (1.0, 0.05)
"""How much longer than the one before a tour may be, first and last: in mean hops of the tour that
the search starts from, times an exponential variate."""


@njit(cache=True, nogil=True)
def _hop(a: int, b: int, entry_options: _Floats) -> float:
    """Return the travel from the exit of way a (-1: the origin) to the entry of b (-1: the end)."""
    if b < 0:
        return 0.0
    if a < 0:
        return math.sqrt(entry_options[b, 0] ** 2 + entry_options[b, 1] ** 2)
    return math.sqrt(
        (entry_options[b, 0] - entry_options[a, 2]) ** 2
        + (entry_options[b, 1] - entry_options[a, 3]) ** 2
    )


@njit(cache=True, nogil=True)
def _bits(state: _Words) -> int:
    """Return 31 random bits (xorshift, G. Marsaglia, Journal of Statistical Software 8, 2003)."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return np.int64(x >> np.uint64(33))  # type: ignore[return-value]  # compiled


@njit(cache=True, nogil=True)
def _below(state: _Words, limit: int) -> int:
    """Return a random number from 0 to before a limit."""
    return (_bits(state) * limit) >> 31


@njit(cache=True, nogil=True)
def greedy_ways(entry_options: _Floats, first: _Ints, before: _Ints, before_first: _Ints) -> _Ints:
    """Return a tour that always goes to the nearest stop that may be done."""
    n = len(first) - 1
    done = np.zeros(n, dtype=np.bool_)
    tour = np.empty(n, dtype=np.int64)
    at = -1
    for k in range(n):
        least = np.inf
        for s in range(n):
            if done[s]:
                continue
            ready = True
            for r in range(before_first[s], before_first[s + 1]):
                ready = ready and done[before[r]]
            if not ready:
                continue
            for w in range(first[s], first[s + 1]):
                hop = _hop(at, w, entry_options)
                if hop < least:
                    least = hop
                    tour[k] = w
                    chosen = s
        done[chosen] = True
        at = tour[k]
    return tour


@njit(cache=True, nogil=True)
def stops_nearby(entry_options: _Floats, first: _Ints, count: int) -> _Ints:
    """Return the stops next to each stop, nearest first, (n, count): exits to entries."""
    n = len(first) - 1
    near = np.empty((n, count), dtype=np.int64)
    away = np.empty(count)
    for s in range(n):
        held = 0
        for t in range(n):
            if t == s:
                continue
            least = np.inf
            for a in range(first[s], first[s + 1]):
                for b in range(first[t], first[t + 1]):
                    x, y = (
                        entry_options[b, 0] - entry_options[a, 2],
                        entry_options[b, 1] - entry_options[a, 3],
                    )
                    least = min(least, x * x + y * y)
                    x, y = (
                        entry_options[a, 0] - entry_options[b, 2],
                        entry_options[a, 1] - entry_options[b, 3],
                    )
                    least = min(least, x * x + y * y)
            if held == count and least >= away[count - 1]:
                continue
            held = min(held + 1, count)
            i = held - 1
            while i > 0 and away[i - 1] > least:
                away[i] = away[i - 1]
                near[s, i] = near[s, i - 1]
                i -= 1
            away[i] = least
            near[s, i] = t
    return near


@njit(cache=True, nogil=True)
def best_ways(tour: _Ints, entry_options: _Floats, first: _Ints, stop_of: _Ints) -> _Ints:
    """Return the tour with the best way of each stop for this order (dynamic programming)."""
    n = len(tour)
    total = np.empty(len(entry_options))
    came = np.full(len(entry_options), -1, dtype=np.int64)
    for k in range(n):
        s = stop_of[tour[k]]
        for w in range(first[s], first[s + 1]):
            if k == 0:
                total[w] = _hop(-1, w, entry_options)
                continue
            total[w] = np.inf
            p = stop_of[tour[k - 1]]
            for v in range(first[p], first[p + 1]):
                length = total[v] + _hop(v, w, entry_options)
                if length < total[w]:
                    total[w] = length
                    came[w] = v
    s = stop_of[tour[n - 1]]
    w = first[s] + np.argmin(total[first[s] : first[s + 1]])
    chosen = np.empty(n, dtype=np.int64)
    for k in range(n - 1, -1, -1):
        chosen[k] = w
        w = came[w]
    return chosen


@njit(cache=True, nogil=True)
def _place(
    s: int,
    tour: _Ints,
    m: int,
    place: _Ints,
    out: NDArray[np.bool_],
    low: int,
    high: int,
    near: _Ints,
    entry_options: _Floats,
    first: _Ints,
    state: _Words,
) -> tuple[int, int, float]:
    """Return where to put a stop back, in which way, and what that adds.

    Places beside stops nearby are tried, and the ends of what is allowed; all that are allowed
    where none of those is.
    """
    least = np.inf
    best, way = -1, -1
    count = near.shape[1]
    for attempt in range(2):
        tries = 2 * count + 2 if attempt == 0 else high - low + 1
        for t in range(tries):
            if attempt == 1:
                i = low + t
            elif t < 2 * count:
                beside = near[s, t // 2]
                if out[beside]:
                    continue
                i = place[beside] + t % 2
            else:
                i = low if t % 2 else high
            if i < low or i > high:
                continue
            if attempt == 0 and _bits(state) & _OVERLOOK == 0:
                continue
            a = tour[i - 1] if i > 0 else -1
            b = tour[i] if i < m else -1
            skipped = _hop(a, b, entry_options)
            for w in range(first[s], first[s + 1]):
                added = _hop(a, w, entry_options) + _hop(w, b, entry_options) - skipped
                if added < least:
                    least = added
                    best, way = i, w
        if best >= 0:
            break
    return best, way, least


@njit(cache=True, nogil=True)
def reinserted(
    start: _Ints,
    entry_options: _Floats,
    first: _Ints,
    stop_of: _Ints,
    before: _Ints,
    before_first: _Ints,
    after: _Ints,
    after_first: _Ints,
    near: _Ints,
    rounds: int,
    seed: int,
) -> _Ints:
    """Return the shortest tour that the search meets; `start` where it meets no shorter one.

    Args:
        start: (n,) a way of each stop, in an order that is allowed.
        entry_options: (w, 4) entry x, y and exit x, y of each way.
        first: (n + 1,) first way of each stop.
        stop_of: (w,) the stop of each way.
        before: what must be done before a stop, stop by stop, directly or not.
        before_first: (n + 1,) first place of each stop in `before`.
        after: what must be done after a stop.
        after_first: (n + 1,) first place of each stop in `after`.
        near: (n, k) stops nearby.
        rounds: how often stops are taken out.
        seed: of the random numbers.

    """
    n = len(start)
    state = np.array([seed * 2654435761 + 88172645463325252], dtype=np.uint64)
    here, best, tour = start.copy(), start.copy(), start.copy()
    here_place = np.empty(n, dtype=np.int64)
    here_length = 0.0
    for i in range(n):
        here_place[stop_of[here[i]]] = i
        here_length += _hop(here[i - 1] if i > 0 else -1, here[i], entry_options)
    best_length = here_length
    place = here_place.copy()
    out = np.zeros(n, dtype=np.bool_)
    taken = np.empty(n, dtype=np.int64)
    swing = _SWING[0] * here_length / n
    cooling = (_SWING[1] / _SWING[0]) ** (1.0 / max(rounds, 1))
    for _ in range(rounds):
        swing *= cooling
        count = 0
        seat = _below(state, n)
        wanted = 1 + _below(state, _MOST_OUT)
        for q in range(near.shape[1] + 1):
            s = seat if q == 0 else near[seat, q - 1]
            if out[s]:
                continue
            size = 1 + _below(state, _LONGEST_STRING)
            low = here_place[s] - _below(state, size)
            for i in range(max(low, 0), min(low + size, n)):
                k = stop_of[here[i]]
                if not out[k]:
                    out[k] = True
                    taken[count] = k
                    count += 1
            if count >= wanted:
                break
        m = 0
        length = here_length
        last = -1
        for i in range(n):
            w = here[i]
            k = stop_of[w]
            if out[k]:
                length -= _hop(here[i - 1] if i > 0 else -1, w, entry_options)
                continue
            if i > 0 and here[i - 1] != last:
                length += _hop(last, w, entry_options) - _hop(here[i - 1], w, entry_options)
            tour[m] = w
            place[k] = m
            last = w
            m += 1
        for i in range(count - 1, -1, -1):
            # The next one to go back is any of those that are left.
            j = _below(state, i + 1)
            s = taken[j]
            taken[j] = taken[i]
            low, high = 0, m
            for r in range(before_first[s], before_first[s + 1]):
                if not out[before[r]]:
                    low = max(low, place[before[r]] + 1)
            for r in range(after_first[s], after_first[s + 1]):
                if not out[after[r]]:
                    high = min(high, place[after[r]])
            i_best, w, added = _place(
                s, tour, m, place, out, low, high, near, entry_options, first, state
            )
            for j in range(m, i_best, -1):
                tour[j] = tour[j - 1]
                place[stop_of[tour[j]]] = j
            tour[i_best] = w
            place[s] = i_best
            out[s] = False
            m += 1
            length += added
        chance = (1.0 + _below(state, 1 << 20)) / (1 << 20)
        if length < here_length - swing * math.log(chance):
            here_length = length
            here[:] = tour
            here_place[:] = place
            if length < best_length - 1e-9:
                best_length = length
                best[:] = tour
    return best
