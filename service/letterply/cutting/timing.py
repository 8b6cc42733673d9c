"""Time of a chain of moves: trapezoidal motion with slow-down at corners and on small arcs.

From rest to rest over a distance d at speed v and acceleration a the time is d/v + v/a, or
2 sqrt(d/a) when v is not reached. In a chain a move starts at the speed at which the corner
before it may be taken: an arc is imagined that is tangent to both moves and passes the corner at
the distance `corner_slack_mm`; with theta the angle between the moves (180 degrees = straight
on) its radius is R = delta sin(theta/2) / (1 - sin(theta/2)), and the corner speed sqrt(a R).
On an arc of radius R the speed is at most sqrt(a R). Speeds are then lowered backwards and
forwards until no move asks for more acceleration than there is. (Kinematics of constant
acceleration; the corner rule is derived.)

A controller knows no more than the next few moves, its *look-ahead*, and must be able to stop at
the end of the last of them: a chain of many short moves stays slow. Where the next n moves are
L mm long together, the speed is at most sqrt(2 a L).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from letterply.shapes import LEAST_DIVISOR

__all__ = ["chain_time", "corner_speeds"]

_Floats = NDArray[np.float64]


def corner_speeds(
    leaving: _Floats, entering: _Floats, acceleration: float, deviation_mm: float
) -> _Floats:
    """Return the speed at each corner, (n,) mm/s; infinite where the path goes straight on.

    Args:
        leaving: (n, 3) unit directions at the end of the move before.
        entering: (n, 3) unit directions at the start of the move after.
        acceleration: mm/s².
        deviation_mm: how far the path may be cut short.

    """
    straight = np.clip(np.einsum("ij,ij->i", leaving, entering), -1, 1)
    # theta is the angle between the segments, so 180 degrees when they go the same way.
    half = np.sqrt((1 + straight) / 2)
    with np.errstate(divide="ignore"):
        radius = np.where(half < 1 - LEAST_DIVISOR, deviation_mm * half / (1 - half), np.inf)
    return np.sqrt(acceleration * radius)


def chain_time(
    lengths: _Floats,
    speeds: _Floats,
    corners: _Floats,
    acceleration: float,
    look_ahead: int | None = None,
) -> _Floats:
    """Return the time of each move of a chain that starts and ends at rest, (n,) s.

    Args:
        lengths: (n,) mm.
        speeds: (n,) mm/s, the speed that each move would keep.
        corners: (n - 1,) mm/s, the largest speed between neighbours.
        acceleration: mm/s².
        look_ahead: how many moves the controller knows, that under way included; None for all.

    """
    if not len(lengths):
        return np.empty(0)
    known = len(lengths) if look_ahead is None else look_ahead
    times: _Floats = _chain(lengths, speeds, corners, acceleration, known)
    return times


@njit(cache=True, nogil=True)
def _chain(
    lengths: _Floats, speeds: _Floats, corners: _Floats, acceleration: float, known: int
) -> _Floats:
    n = len(lengths)
    at = np.zeros(n + 1)
    ahead = 0.0
    for i in range(n - 1, 0, -1):
        ahead += lengths[i]
        if i + known < n:
            ahead -= lengths[i + known]
        stopping = math.sqrt(2 * acceleration * max(ahead, 0.0))
        at[i] = min(corners[i - 1], speeds[i - 1], speeds[i], stopping)
    for i in range(n):
        at[i + 1] = min(at[i + 1], math.sqrt(at[i] ** 2 + 2 * acceleration * lengths[i]))
    for i in range(n - 1, -1, -1):
        at[i] = min(at[i], math.sqrt(at[i + 1] ** 2 + 2 * acceleration * lengths[i]))
    times = np.zeros(n)
    for i in range(n):
        if lengths[i] <= 0:
            continue
        v0, v1 = at[i], at[i + 1]
        peak = math.sqrt(acceleration * lengths[i] + (v0 * v0 + v1 * v1) / 2)
        top = min(speeds[i], peak)
        spent = (top * top - v0 * v0) / (2 * acceleration) + (top * top - v1 * v1) / (
            2 * acceleration
        )
        times[i] = (2 * top - v0 - v1) / acceleration + max(lengths[i] - spent, 0.0) / top
    return times
