"""Paths that part the stock in, which pieces of it are loose when a later cut meets them out.

On a grid of cells every cell has the stay that takes it away. After a stay the stock is what later
stays take and what stays for good; a connected piece of it that does not reach the edge of the grid
holds on to nothing. Looked at backwards, from the last stay to the first, the pieces only grow, so
one pass of joining finds them all (union-find). A piece holds that is thinner than a cell only by
chance: tabs are wider.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.proof.removal.exact import Sweep
from letterply.proof.removal.kernels import Grid, kernel, root_of
from letterply.proof.removal.swept import columns_within

__all__ = ["LooseCut", "find_loose_cuts"]

_CELL_MM = 0.25
_MOST_CELLS = 3_000_000
_FOR_GOOD = 2**31 - 1


class LooseCut(NamedTuple):
    """A stay that cuts a piece of stock which is loose already.

    Attributes:
        stay: which.
        cut_mm2: area that it takes from loose pieces.
        piece_mm2: area of the largest of them.
        where: (x, y) of a place that is cut, mm.

    """

    stay: int
    cut_mm2: float
    piece_mm2: float
    where: tuple[float, float]


def find_loose_cuts(
    sweeps: Sequence[Sweep], bounds: tuple[float, float, float, float]
) -> tuple[LooseCut, ...]:
    """Return the stays that cut what is loose, in order.

    Args:
        sweeps: paths at the height of a tab.
        bounds: left, low, right and high edge of the grid: what reaches them is held.

    """
    left, low, right, high = bounds
    cell = max(_CELL_MM, math.sqrt((right - left) * (high - low) / _MOST_CELLS))
    nx, ny = math.ceil((right - left) / cell), math.ceil((high - low) / cell)
    taken = np.full((ny, nx), _FOR_GOOD, dtype=np.int32)
    for one in sweeps:
        pieces = [_segments(line) for line in one.lines]
        if not pieces:
            continue
        stays = np.repeat(one.stays.astype(np.int32), [len(p) for p in pieces])
        _take(taken, Grid(left, low, cell), np.vstack(pieces), stays, one.radius_mm)
    later = np.flatnonzero((taken < _FOR_GOOD) & (taken >= 0))
    if not len(later):
        return ()
    order = later[np.argsort(-taken.ravel()[later], kind="stable")]
    found = _join(taken, order)
    cuts = []
    for stay, count, size, at in found[:, :4].tolist():
        row, column = divmod(at, nx)
        where = left + (column + 0.5) * cell, low + (row + 0.5) * cell
        cuts.append(LooseCut(stay, count * cell**2, size * cell**2, where))
    return tuple(sorted(cuts))


def _segments(line: shapely.Geometry) -> NDArray[np.float64]:
    points = shapely.get_coordinates(line)
    if len(points) == 1:
        points = np.vstack((points, points))
    return np.hstack((points[:-1], points[1:]))


@kernel
def _take(
    taken: NDArray[np.int32],
    grid: Grid,
    segments: NDArray[np.float64],
    stays: NDArray[np.int32],
    radius: float,
) -> None:
    """Set for each cell the first stay that takes it away, in place."""
    ny, nx = taken.shape
    for i in range(segments.shape[0]):
        ax, ay, bx, by = segments[i]
        first = max(0, math.ceil((min(ay, by) - radius - grid.low) / grid.cell - 0.5))
        last = min(ny - 1, math.floor((max(ay, by) + radius - grid.low) / grid.cell - 0.5))
        for j in range(first, last + 1):
            y = grid.low + (j + 0.5) * grid.cell
            k0, k1 = columns_within(y, ax, ay, bx, by, radius, grid, nx)
            for k in range(k0, k1 + 1):
                taken[j, k] = min(taken[j, k], stays[i])


@kernel
def _unite(
    parent: NDArray[np.int32],
    size: NDArray[np.int32],
    held: NDArray[np.bool_],
    one: int,
    other: int,
) -> None:
    a, b = root_of(parent, one), root_of(parent, other)
    if a == b:
        return
    if size[a] < size[b]:
        a, b = b, a
    parent[b] = a
    size[a] += size[b]
    held[a] |= held[b]


@kernel
def _join(taken: NDArray[np.int32], order: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return stay, number of loose cells it takes, size of the largest piece and one cell."""
    ny, nx = taken.shape
    flat = taken.ravel()
    parent = np.full(ny * nx, -1, dtype=np.int32)
    size = np.ones(ny * nx, dtype=np.int32)
    held = np.zeros(ny * nx, dtype=np.bool_)
    for j in range(ny):
        for k in range(nx):
            c = j * nx + k
            held[c] = j == 0 or k == 0 or j == ny - 1 or k == nx - 1
            if flat[c] != 2**31 - 1:
                continue
            parent[c] = c
            if k and parent[c - 1] >= 0:
                _unite(parent, size, held, c, c - 1)
            if j and parent[c - nx] >= 0:
                _unite(parent, size, held, c, c - nx)
    found = np.zeros((len(order), 4), dtype=np.int64)
    count = 0
    begin = 0
    while begin < len(order):
        stay = flat[order[begin]]
        end = begin
        while end < len(order) and flat[order[end]] == stay:
            c = order[end]
            parent[c] = c
            k, j = c % nx, c // nx
            if k and parent[c - 1] >= 0:
                _unite(parent, size, held, c, c - 1)
            if k < nx - 1 and parent[c + 1] >= 0:
                _unite(parent, size, held, c, c + 1)
            if j and parent[c - nx] >= 0:
                _unite(parent, size, held, c, c - nx)
            if j < ny - 1 and parent[c + nx] >= 0:
                _unite(parent, size, held, c, c + nx)
            end += 1
        loose = 0
        for i in range(begin, end):
            root = root_of(parent, order[i])
            if not held[root]:
                loose += 1
                if size[root] > found[count, 2]:
                    found[count, 2] = size[root]
                    found[count, 3] = order[i]
        if loose:
            found[count, 0], found[count, 1] = stay, loose
            count += 1
        begin = end
    return found[:count]
