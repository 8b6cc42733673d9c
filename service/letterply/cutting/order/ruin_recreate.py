"""The search behind the order of work: take a few stops out of a tour and put them back better.

What is taken out lies together (strings of neighbours, as in Christiaens and Vanden Berghe, Slack
induction by string removals for vehicle routing problems, Transportation Science 54, 2020). Each
stop is put back, in the way and at the place that add least, between what must be done before it
and what it must be done before. A tour that is a little longer is kept for now, ever less so
(annealing). The number of rounds is fixed and the seed an argument, so the same stops give the
same tour.

An *entry option* is one manner of doing a stop: the cutter comes in at its entry and leaves at its
exit. Options are sorted by stop. Compiled; lengths mm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from letterply.shapes import ROUNDING

__all__ = ["Stops", "best_options", "greedy_tour", "ruin_and_recreate", "stops_nearby"]

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


class Stops(NamedTuple):
    """What is to be done, as arrays. A named tuple: compiled code takes it as one argument.

    Attributes:
        options: (w, 4) entry x, y and exit x, y of each entry option.
        first: (n + 1,) first option of each stop.
        stop_of: (w,) the stop of each option.
        before: what must be done before a stop, stop by stop, directly or not.
        before_first: (n + 1,) first place of each stop in `before`.
        after: what must be done after a stop.
        after_first: (n + 1,) first place of each stop in `after`.

    """

    options: _Floats
    first: _Ints
    stop_of: _Ints
    before: _Ints
    before_first: _Ints
    after: _Ints
    after_first: _Ints


class _Tours(NamedTuple):
    """The tour that a round starts from and the one that it makes, with where each stop stands.

    Attributes:
        here: (n,) an option of each stop, in order.
        here_place: (n,) place of each stop in `here`.
        tour: as `here`, under way: its first entries are filled.
        place: place of each stop in `tour`.
        out: (n,) whether a stop is taken out.
        taken: (n,) the stops taken out; its first entries are filled.
        near: (n, k) stops nearby.
        state: of the random numbers.

    """

    here: _Ints
    here_place: _Ints
    tour: _Ints
    place: _Ints
    out: NDArray[np.bool_]
    taken: _Ints
    near: _Ints
    state: _Words


@njit(cache=True, nogil=True)
def _hop(a: int, b: int, options: _Floats) -> float:
    """Return the travel from exit of option a (-1: the origin) to entry of b (-1: the end)."""
    if b < 0:
        return 0.0
    if a < 0:
        return math.sqrt(options[b, 0] ** 2 + options[b, 1] ** 2)
    return math.sqrt((options[b, 0] - options[a, 2]) ** 2 + (options[b, 1] - options[a, 3]) ** 2)


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
def greedy_tour(stops: Stops) -> _Ints:
    """Return a tour that always goes to the nearest stop that may be done."""
    first, before, before_first = stops.first, stops.before, stops.before_first
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
                hop = _hop(at, w, stops.options)
                if hop < least:
                    least = hop
                    tour[k] = w
                    chosen = s
        done[chosen] = True
        at = tour[k]
    return tour


@njit(cache=True, nogil=True)
def stops_nearby(stops: Stops, count: int) -> _Ints:
    """Return the stops next to each stop, nearest first, (n, count): exits to entries."""
    options, first = stops.options, stops.first
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
                        options[b, 0] - options[a, 2],
                        options[b, 1] - options[a, 3],
                    )
                    least = min(least, x * x + y * y)
                    x, y = (
                        options[a, 0] - options[b, 2],
                        options[a, 1] - options[b, 3],
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
def best_options(tour: _Ints, stops: Stops) -> _Ints:
    """Return the tour with the best option of each stop for this order (dynamic programming)."""
    options, first, stop_of = stops.options, stops.first, stops.stop_of
    n = len(tour)
    total = np.empty(len(options))
    came = np.full(len(options), -1, dtype=np.int64)
    for k in range(n):
        s = stop_of[tour[k]]
        for w in range(first[s], first[s + 1]):
            if k == 0:
                total[w] = _hop(-1, w, options)
                continue
            total[w] = np.inf
            p = stop_of[tour[k - 1]]
            for v in range(first[p], first[p + 1]):
                length = total[v] + _hop(v, w, options)
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
def ruin_and_recreate(start: _Ints, stops: Stops, near: _Ints, rounds: int, seed: int) -> _Ints:
    """Return the shortest tour that the search meets; `start` where it meets no shorter one.

    Args:
        start: (n,) an option of each stop, in an order that is allowed.
        stops: what is to be done.
        near: (n, k) stops nearby.
        rounds: how often stops are taken out.
        seed: of the random numbers.

    """
    n = len(start)
    tours = _Tours(
        start.copy(),
        np.empty(n, dtype=np.int64),
        start.copy(),
        np.empty(n, dtype=np.int64),
        np.zeros(n, dtype=np.bool_),
        np.empty(n, dtype=np.int64),
        near,
        np.array([seed * 2654435761 + 88172645463325252], dtype=np.uint64),
    )
    best = start.copy()
    here_length = 0.0
    for i in range(n):
        tours.here_place[stops.stop_of[start[i]]] = i
        here_length += _hop(start[i - 1] if i > 0 else -1, start[i], stops.options)
    best_length = here_length
    tours.place[:] = tours.here_place
    swing = _SWING[0] * here_length / n
    cooling = (_SWING[1] / _SWING[0]) ** (1.0 / max(rounds, 1))
    for _ in range(rounds):
        swing *= cooling
        count = _take_out(stops, tours)
        length = _close_up(stops, tours, here_length)
        length = _put_back(stops, tours, count, length)
        chance = (1.0 + _below(tours.state, 1 << 20)) / (1 << 20)
        if length < here_length - swing * math.log(chance):
            here_length = length
            tours.here[:] = tours.tour
            tours.here_place[:] = tours.place
            if length < best_length - ROUNDING:
                best_length = length
                best[:] = tours.tour
    return best


@njit(cache=True, nogil=True)
def _take_out(stops: Stops, tours: _Tours) -> int:
    """Mark strings of stops round a random one as taken out; return how many stops those are."""
    here, near, out = tours.here, tours.near, tours.out
    n = len(here)
    count = 0
    middle = _below(tours.state, n)
    wanted = 1 + _below(tours.state, _MOST_OUT)
    for q in range(near.shape[1] + 1):
        s = middle if q == 0 else near[middle, q - 1]
        if out[s]:
            continue
        size = 1 + _below(tours.state, _LONGEST_STRING)
        low = tours.here_place[s] - _below(tours.state, size)
        for i in range(max(low, 0), min(low + size, n)):
            k = stops.stop_of[here[i]]
            if not out[k]:
                out[k] = True
                tours.taken[count] = k
                count += 1
        if count >= wanted:
            break
    return count


@njit(cache=True, nogil=True)
def _close_up(stops: Stops, tours: _Tours, length: float) -> float:
    """Make the tour of what was not taken out; return its length, from that of the whole."""
    here, tour = tours.here, tours.tour
    m = 0
    last = -1
    for i in range(len(here)):
        w = here[i]
        k = stops.stop_of[w]
        if tours.out[k]:
            length -= _hop(here[i - 1] if i > 0 else -1, w, stops.options)
            continue
        if i > 0 and here[i - 1] != last:
            length += _hop(last, w, stops.options) - _hop(here[i - 1], w, stops.options)
        tour[m] = w
        tours.place[k] = m
        last = w
        m += 1
    return length


@njit(cache=True, nogil=True)
def _put_back(stops: Stops, tours: _Tours, count: int, length: float) -> float:
    """Put back the stops that were taken out, each where it adds least; return the length."""
    tour, place, out, taken = tours.tour, tours.place, tours.out, tours.taken
    m = len(tour) - count
    for i in range(count - 1, -1, -1):
        # The next one to go back is any of those that are left.
        j = _below(tours.state, i + 1)
        s = taken[j]
        taken[j] = taken[i]
        low, high = 0, m
        for r in range(stops.before_first[s], stops.before_first[s + 1]):
            if not out[stops.before[r]]:
                low = max(low, place[stops.before[r]] + 1)
        for r in range(stops.after_first[s], stops.after_first[s + 1]):
            if not out[stops.after[r]]:
                high = min(high, place[stops.after[r]])
        best, w, added = _cheapest_place(s, stops, tours, m, low, high)
        for j in range(m, best, -1):
            tour[j] = tour[j - 1]
            place[stops.stop_of[tour[j]]] = j
        tour[best] = w
        place[s] = best
        out[s] = False
        m += 1
        length += added
    return length


@njit(cache=True, nogil=True)
def _cheapest_place(
    s: int, stops: Stops, tours: _Tours, m: int, low: int, high: int
) -> tuple[int, int, float]:
    """Return where to put a stop back, by which option, and what that adds.

    Places beside stops nearby are tried, and the ends of what is allowed (`low` to `high` of the
    first `m`); all that are allowed where none of those is.
    """
    tour, near, options = tours.tour, tours.near, stops.options
    least = np.inf
    best, option = -1, -1
    count = near.shape[1]
    for attempt in range(2):
        tries = 2 * count + 2 if attempt == 0 else high - low + 1
        for t in range(tries):
            i = low + t if attempt == 1 else _nearby_place(s, tours, t, low, high)
            if i < low or i > high:
                continue
            if attempt == 0 and _bits(tours.state) & _OVERLOOK == 0:
                continue
            a = tour[i - 1] if i > 0 else -1
            b = tour[i] if i < m else -1
            skipped = _hop(a, b, options)
            for w in range(stops.first[s], stops.first[s + 1]):
                added = _hop(a, w, options) + _hop(w, b, options) - skipped
                if added < least:
                    least = added
                    best, option = i, w
        if best >= 0:
            break
    return best, option, least


@njit(cache=True, nogil=True)
def _nearby_place(s: int, tours: _Tours, t: int, low: int, high: int) -> int:
    """Return the t-th place beside a stop nearby, then the ends; -1 beside one that is out."""
    if t < 2 * tours.near.shape[1]:
        beside = tours.near[s, t // 2]
        return -1 if tours.out[beside] else tours.place[beside] + t % 2
    return low if t % 2 else high
