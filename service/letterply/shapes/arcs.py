"""Chains of chords in, lines and circular arcs out, within a tolerance.

Greedy: from each start the longest run that one line or one arc replaces. An arc passes through
both ends of its run; its centre lies on the bisector of their chord where the squared algebraic
distances of the run's points are least, or where the run strays as far outwards as inwards. It
must keep within the tolerance of every vertex and of the point of every chord that is nearest to
its centre (so of the whole chain), turn one way only, and sweep less than half a circle. No arc
crosses a corner.

The total error is that of the flattening plus that of the fit: flatten at half the fit's
tolerance or finer, or chord middles alone exceed it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from letterply.shapes.tolerances import LEAST_SQUARE_MM2, ROUNDING, SAME_MM

__all__ = ["ArcChain", "fit_arcs"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class ArcChain:
    """Moves from a start point.

    Attributes:
        start: (2,) float64.
        ends: (n, 2) float64, end of each move.
        centres: (n, 2) float64, centre of an arc; NaN for a line.
        senses: (n,) int8, 0 line, +1 counter-clockwise, -1 clockwise.

    """

    start: _Floats
    ends: _Floats
    centres: _Floats
    senses: NDArray[np.int8]

    def __len__(self) -> int:
        """Return the number of moves."""
        return len(self.ends)


def fit_arcs(
    points: _Floats, tolerance_mm: float, *, corner_deg: float = 25.0, arcs: bool = True
) -> ArcChain:
    """Return lines and arcs that follow a chain of points `(n, 2)` within the tolerance.

    A closed chain repeats its first point at the end. `arcs=False` merges lines only. A chain of
    one point gives no moves.
    """
    points = np.ascontiguousarray(points, dtype=np.float64)
    if len(points) > 1:
        moved = np.any(np.diff(points, axis=0) != 0, axis=1)
        points = points[np.concatenate(([True], moved))]
    if len(points) < 2:
        start = points[0] if len(points) else np.zeros(2)
        none = np.empty((0, 2))
        return ArcChain(start, none, none, np.empty(0, dtype=np.int8))
    stops = _corners(points, math.cos(math.radians(corner_deg)))
    last, centres, senses = _fit(points, stops, tolerance_mm, arcs)
    return ArcChain(points[0], points[last], centres, senses)


def _corners(points: _Floats, cos_limit: float) -> NDArray[np.int64]:
    """Return the indices at which the chain turns by more than the limit, and the last one."""
    d = np.diff(points, axis=0)
    d /= np.hypot(d[:, 0], d[:, 1])[:, None]
    turn = np.einsum("ij,ij->i", d[:-1], d[1:])
    return np.append(np.flatnonzero(turn < cos_limit) + 1, len(points) - 1)


@njit(cache=True, nogil=True)
def _line_fits(p: _Floats, i: int, j: int, tol: float) -> bool:
    dx, dy = p[j, 0] - p[i, 0], p[j, 1] - p[i, 1]
    length = math.hypot(dx, dy)
    if length == 0.0:
        return False
    before = 0.0
    for k in range(i + 1, j):
        x, y = p[k, 0] - p[i, 0], p[k, 1] - p[i, 1]
        if abs(x * dy - y * dx) > tol * length:
            return False
        along = (x * dx + y * dy) / length
        if along < before or along > length:
            return False
        before = along
    return True


@njit(cache=True, nogil=True)
def _arc_fits(p: _Floats, i: int, j: int, tol: float) -> tuple[bool, float, float, int]:
    """Try one arc from point i to point j: whether it fits, its centre and its sense."""
    dx, dy = p[j, 0] - p[i, 0], p[j, 1] - p[i, 1]
    chord = math.hypot(dx, dy)
    if chord < SAME_MM:
        return False, 0.0, 0.0, 0
    mx, my = (p[i, 0] + p[j, 0]) / 2, (p[i, 1] + p[j, 1]) / 2
    nx, ny = -dy / chord, dx / chord
    over = 0.0
    under = 0.0
    for k in range(i + 1, j):
        qx, qy = p[k, 0] - mx, p[k, 1] - my
        qn = qx * nx + qy * ny
        over += (qx * qx + qy * qy - chord * chord / 4) * qn
        under += qn * qn
    if under < LEAST_SQUARE_MM2:
        return False, 0.0, 0.0, 0
    h = over / (2 * under)
    for attempt in range(2):
        if abs(h) > 1e5:
            return False, 0.0, 0.0, 0
        cx, cy = mx + h * nx, my + h * ny
        radius = math.hypot(h, chord / 2)
        sense, most, least = _strays(p, i, j, cx, cy, radius)
        if sense == 0:
            return False, 0.0, 0.0, 0
        if most <= tol and least >= -tol:
            return True, cx, cy, sense
        if attempt or most - least > 2 * tol:
            return False, 0.0, 0.0, 0
        # Chords lie inside the curve that they stand for: push the arc to the middle of what
        # strays to either side. Its height over the chord changes, its ends stay.
        side = 1.0 if h > 0 else -1.0
        height = radius - abs(h) + (most + least) / 2
        if height <= ROUNDING:
            return False, 0.0, 0.0, 0
        h = side * ((chord * chord / 4 + height * height) / (2 * height) - height)
    return False, 0.0, 0.0, 0


@njit(cache=True, nogil=True)
def _strays(
    p: _Floats, i: int, j: int, cx: float, cy: float, radius: float
) -> tuple[int, float, float]:
    """Return the way the chain goes round a centre, and how far it strays out and in.

    The way is 0 where it turns back or goes round by half a circle or more.
    """
    sense = 0
    turned = 0.0
    most = 0.0
    least = 0.0
    for k in range(i, j):
        ax, ay = p[k, 0] - cx, p[k, 1] - cy
        bx, by = p[k + 1, 0] - cx, p[k + 1, 1] - cy
        cross = ax * by - ay * bx
        way = 1 if cross > 0 else -1
        if sense == 0:
            sense = way
        elif way != sense:
            return 0, 0.0, 0.0
        turned += math.atan2(abs(cross), ax * bx + ay * by)
        if turned > 3.1:
            return 0, 0.0, 0.0
        out = math.hypot(bx, by) - radius
        most = max(most, out)
        least = min(least, out)
        ex, ey = bx - ax, by - ay
        # Points a rounding apart are one, seen from a centre far away.
        square = ex * ex + ey * ey
        t = -(ax * ex + ay * ey) / square if square > 0.0 else 0.0
        if 0.0 < t < 1.0:
            least = min(least, math.hypot(ax + t * ex, ay + t * ey) - radius)
    return sense, most, least


@njit(cache=True, nogil=True)
def _reach(p: _Floats, i: int, stop: int, tol: float, arc: bool) -> int:
    """Return the farthest point that one line or arc from i replaces: gallop, then bisect."""
    good = i + 1
    step = 2 if arc else 1
    if arc:
        if i + 2 > stop:
            return good
        if not _arc_fits(p, i, i + 2, tol)[0]:
            return good
        good = i + 2
    while True:
        trial = min(i + 2 * step, stop)
        if trial <= good:
            break
        fits = _arc_fits(p, i, trial, tol)[0] if arc else _line_fits(p, i, trial, tol)
        if not fits:
            low, high = good, trial
            while high - low > 1:
                middle = (low + high) // 2
                fits = _arc_fits(p, i, middle, tol)[0] if arc else _line_fits(p, i, middle, tol)
                if fits:
                    low = middle
                else:
                    high = middle
            return low
        good = trial
        step *= 2
    return good


@njit(cache=True, nogil=True)
def _fit(
    p: _Floats, stops: NDArray[np.int64], tol: float, arcs: bool
) -> tuple[NDArray[np.int64], _Floats, NDArray[np.int8]]:
    n = len(p)
    last = np.empty(n, dtype=np.int64)
    centres = np.full((n, 2), np.nan)
    senses = np.zeros(n, dtype=np.int8)
    count = 0
    i = 0
    s = 0
    while i < n - 1:
        while stops[s] <= i:
            s += 1
        stop = stops[s]
        by_line = _reach(p, i, stop, tol, False)
        best = by_line
        if arcs:
            by_arc = _reach(p, i, stop, tol, True)
            # An arc for two chords saves nothing that a line does not, and reads worse.
            if by_arc > by_line and by_arc > i + 2:
                fits, cx, cy, sense = _arc_fits(p, i, by_arc, tol)
                if fits:
                    best = by_arc
                    centres[count, 0], centres[count, 1] = cx, cy
                    senses[count] = sense
        last[count] = best
        count += 1
        i = best
    return last[:count], centres[:count], senses[:count]
