"""Points and a region's outline in, how far each point lies from the outline out. All mm.

The sides of the outline lie in a grid of squares. A point asks the squares round its own, ring by
ring, until no farther one can hold a nearer side; the side that was nearest to the point before
bounds the search at once, for points come in order along a line. The distance is the same to the
last bit as GEOS tells it for the nearest side (`geos::algorithm::Distance::pointToSegment`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.shapes.regions import Region, rings

__all__ = ["NearSides", "distances_of_groups", "outline_distances", "side_distances", "sides_of"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_SQUARES_A_SIDE = 1.0
_ROUNDING = 1e-9
"""What a bound may be wrong by, as a share."""


class _Squares(NamedTuple):
    """Sides by the squares that their boxes touch.

    Attributes:
        left, low: corner of the first square.
        size: width of a square.
        columns, rows: how many there are.
        begins: (columns * rows + 1,) where each square begins among the members.
        members: rows of sides.

    """

    left: float
    low: float
    size: float
    columns: int
    rows: int
    begins: _Ints
    members: _Ints


def outline_distances(region: Region, points: _Floats) -> _Floats:
    """Return the distance of each point, (m, 2), to the nearest side of a region's outline, (m,).

    A point on the outline is 0 away, one inside is as far as the outline is.

    Raises:
        ValueError: the region is empty.

    """
    every = rings(region)
    if not every:
        raise ValueError("an empty region has no outline")
    sides = np.vstack([np.hstack((ring, np.roll(ring, -1, axis=0))) for ring in every])
    return side_distances(sides, points)


def sides_of(lines: BaseGeometry) -> _Floats:
    """Return the sides of lines from end to end, (n, 4).

    >>> sides_of(shapely.LineString([(0, 0), (1, 0), (1, 2)])).tolist()
    [[0.0, 0.0, 1.0, 0.0], [1.0, 0.0, 1.0, 2.0]]

    """
    points, owner = shapely.get_coordinates(shapely.get_parts(lines), return_index=True)
    same = owner[1:] == owner[:-1]
    sides: _Floats = np.hstack((points[:-1], points[1:]))[same]
    return sides


def side_distances(sides: _Floats, points: _Floats) -> _Floats:
    """Return the distance of each point, (m, 2), to the nearest of some sides, (n, 4), (m,).

    Sides run from end to end, one or more of them.
    """
    return NearSides.of(sides).nearest(points)[0]


@dataclass(frozen=True, slots=True, eq=False)
class NearSides:
    """Sides, (n, 4) from end to end, one or more of them, ready to be asked for the nearest one."""

    sides: _Floats
    squares: _Squares

    @classmethod
    def of(cls, sides: _Floats) -> NearSides:
        """Lay sides into squares."""
        return cls(sides, _squares_of(sides))

    def nearest(self, points: _Floats) -> tuple[_Floats, _Ints]:
        """Return the distance of each point, (m, 2), to the nearest side, (m,), and its row."""
        found: tuple[_Floats, _Ints] = _nearest(
            np.ascontiguousarray(points), self.sides, self.squares
        )
        return found


def _squares_of(sides: _Floats) -> _Squares:
    x, y = sides[:, 0::2], sides[:, 1::2]
    left, low = float(x.min()), float(y.min())
    wide, tall = float(x.max()) - left, float(y.max()) - low
    size = math.sqrt(max(wide * tall, 1e-12) / (_SQUARES_A_SIDE * len(sides)))
    size = max(size, (wide + tall) / (8 * len(sides)))
    columns, rows = int(wide / size) + 1, int(tall / size) + 1
    squares: _Squares = _into_squares(sides, left, low, size, columns, rows)
    return squares


def distances_of_groups(
    points: _Floats, of_point: _Ints, sides: _Floats, of_side: _Ints, groups: int
) -> _Floats:
    """Return the distance of each point, (m, 2), to the nearest side of its own group, (m,).

    Sides are (n, 4), from end to end, in the order of their groups, which are numbered from 0;
    inf for a point whose group has none.
    """
    begins = np.searchsorted(of_side, np.arange(groups + 1))
    found: _Floats = _within_groups(np.ascontiguousarray(points), of_point, sides, begins)
    return found


@njit(cache=True, nogil=True)
def _within_groups(points: _Floats, of_point: _Ints, sides: _Floats, begins: _Ints) -> _Floats:
    found = np.full(points.shape[0], np.inf)
    for number in range(points.shape[0]):
        x, y = points[number, 0], points[number, 1]
        for i in range(begins[of_point[number]], begins[of_point[number] + 1]):
            found[number] = min(found[number], _to_side(x, y, sides, i))
    return found


@njit(cache=True, nogil=True)
def _into_squares(
    sides: _Floats, left: float, low: float, size: float, columns: int, rows: int
) -> _Squares:
    begins = np.zeros(columns * rows + 1, dtype=np.int64)
    members = np.zeros(0, dtype=np.int64)
    nexts = begins
    for placing in (False, True):  # counted first, so that each square has its room
        for i in range(sides.shape[0]):
            xa, ya, xb, yb = sides[i, 0], sides[i, 1], sides[i, 2], sides[i, 3]
            k0 = min(int((min(xa, xb) - left) / size), columns - 1)
            k1 = min(int((max(xa, xb) - left) / size), columns - 1)
            j0 = min(int((min(ya, yb) - low) / size), rows - 1)
            j1 = min(int((max(ya, yb) - low) / size), rows - 1)
            for j in range(j0, j1 + 1):
                for k in range(k0, k1 + 1):
                    square = j * columns + k
                    if placing:
                        members[nexts[square]] = i
                        nexts[square] += 1
                    else:
                        begins[square + 1] += 1
        if not placing:
            begins = np.cumsum(begins)
            nexts = begins.copy()
            members = np.zeros(begins[-1], dtype=np.int64)
    return _Squares(left, low, size, columns, rows, begins, members)


@njit(cache=True, nogil=True)
def _to_side(x: float, y: float, sides: _Floats, i: int) -> float:
    xa, ya, xb, yb = sides[i, 0], sides[i, 1], sides[i, 2], sides[i, 3]
    dx, dy = xb - xa, yb - ya
    long2 = dx * dx + dy * dy
    if long2 == 0.0:
        return math.sqrt((x - xa) * (x - xa) + (y - ya) * (y - ya))
    along = ((x - xa) * dx + (y - ya) * dy) / long2
    if along <= 0.0:
        return math.sqrt((x - xa) * (x - xa) + (y - ya) * (y - ya))
    if along >= 1.0:
        return math.sqrt((x - xb) * (x - xb) + (y - yb) * (y - yb))
    beside = ((ya - y) * dx - (xa - x) * dy) / long2
    away: float = abs(beside) * math.sqrt(long2)
    return away


@njit(cache=True, nogil=True)
def _nearest(points: _Floats, sides: _Floats, squares: _Squares) -> tuple[_Floats, _Ints]:
    left, low, size, columns, rows, begins, members = squares
    found = np.empty(points.shape[0])
    nearest = np.empty(points.shape[0], dtype=np.int64)
    near = 0
    for number in range(points.shape[0]):
        x, y = points[number, 0], points[number, 1]
        best = _to_side(x, y, sides, near)
        k, j = math.floor((x - left) / size), math.floor((y - low) / size)
        # Rings that lie beside the grid hold nothing.
        ring = max(0, -k, k - columns + 1, -j, j - rows + 1)
        last = max(abs(k), abs(k - columns + 1), abs(j), abs(j - rows + 1))
        while ring <= last and (ring - 1) * size * (1 - _ROUNDING) <= best:
            for q in range(max(j - ring, 0), min(j + ring, rows - 1) + 1):
                first, beyond, step = k - ring, k + ring + 1, max(2 * ring, 1)
                if q in (j - ring, j + ring):  # a whole row, as far as there are squares
                    first, beyond, step = max(first, 0), min(beyond, columns), 1
                for p in range(first, beyond, step):
                    if not 0 <= p < columns:
                        continue
                    square = q * columns + p
                    begin, end = begins[square], begins[square + 1]
                    if begin == end:
                        continue
                    gap_x = max(0.0, left + p * size - x, x - (left + (p + 1) * size))
                    gap_y = max(0.0, low + q * size - y, y - (low + (q + 1) * size))
                    if (gap_x * gap_x + gap_y * gap_y) * (1 - _ROUNDING) > best * best:
                        continue
                    for m in range(begin, end):
                        away = _to_side(x, y, sides, members[m])
                        if away < best:
                            best, near = away, members[m]
            ring += 1
        found[number], nearest[number] = best, near
    return found, nearest
