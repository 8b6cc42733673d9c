"""Paths that part the stock in, which pieces of it are loose when a later cut meets them out.

On a grid of cells every cell has the stay that takes it away at the height of a tab. After a stay
the stock is what later stays take and what stays for good; a connected piece of it that does not
reach the edge of the grid holds on to nothing. Looked at backwards, from the last stay to the
first, the pieces only grow, so one pass of joining tells for every cell from which stay on it is
loose (union-find; each piece keeps a list of its cells, told once, when it is joined to the held).
Then all cuts are run over these cells, in order: one that lowers a cell that is loose by then, and
still stands, cuts loose stock, however shallow. A piece holds that is thinner than a cell only by
chance: tabs are wider.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.proof.reading.toolpath import Toolpath
from letterply.proof.removal.exact import Sweep
from letterply.proof.removal.kernels import Grid, kernel, root_of
from letterply.proof.removal.strokes import (
    Profile,
    columns,
    columns_within,
    lowest_over,
    reach_of,
    stroke_of,
)

__all__ = ["LooseCut", "find_loose_cuts"]

_CELL_MM = 0.25
_MOST_CELLS = 3_000_000
_FOR_GOOD = 2**31 - 1
_BITE_MM = 0.05
"""A cut that lowers a cell by less only follows an earlier one: heights have three decimals."""


class LooseCut(NamedTuple):
    """A stay that cuts a piece of stock which is loose already.

    Attributes:
        stay: which.
        cut_mm2: area of loose pieces that it cuts, at any depth.
        piece_mm2: area of the largest of them, as it came loose.
        where: (x, y) of a place of that piece that is cut, mm.
        segment: index of the segment of the toolpath that cuts there.

    """

    stay: int
    cut_mm2: float
    piece_mm2: float
    where: tuple[float, float]
    segment: int


class _Loose(NamedTuple):
    """When cells come loose, (ny, nx) int32 each, as compiled code takes it.

    Attributes:
        taken: stay that takes a cell away at the height of a tab, `_FOR_GOOD` where none.
        freed: stay after which a cell is loose, `_FOR_GOOD` where it never is.
        size: cells of the piece that comes loose with it.

    """

    taken: NDArray[np.int32]
    freed: NDArray[np.int32]
    size: NDArray[np.int32]


def find_loose_cuts(
    sweeps: Sequence[Sweep], toolpath: Toolpath, bounds: tuple[float, float, float, float]
) -> tuple[LooseCut, ...]:
    """Return the stays that cut what is loose, in order.

    Args:
        sweeps: paths at the height of a tab.
        toolpath: all cuts.
        bounds: left, low, right and high edge of the grid: what reaches them is held.

    """
    left, low, right, high = bounds
    cell = max(_CELL_MM, math.sqrt((right - left) * (high - low) / _MOST_CELLS))
    nx, ny = math.ceil((right - left) / cell), math.ceil((high - low) / cell)
    grid = Grid(left, low, cell)
    taken = np.full((ny, nx), _FOR_GOOD, dtype=np.int32)
    for one in sweeps:
        pieces = [_segments(line) for line in one.lines]
        if not pieces:
            continue
        stays = np.repeat(one.stays.astype(np.int32), [len(p) for p in pieces])
        _take(taken, grid, np.vstack(pieces), stays, one.radius_mm)
    later = np.flatnonzero((taken < _FOR_GOOD) & (taken >= 0))
    order = later[np.argsort(-taken.ravel()[later], kind="stable")]
    freed, size = np.full_like(taken, _FOR_GOOD), np.zeros_like(taken)
    loose = _Loose(taken, freed, size)
    _loosen(loose, order)
    if (freed == _FOR_GOOD).all():
        return ()
    return _met(toolpath, loose, grid)


def _met(toolpath: Toolpath, loose: _Loose, grid: Grid) -> tuple[LooseCut, ...]:
    """Return what the cuts of a toolpath meet of cells that are loose by then."""
    segments, stays = toolpath.segments, toolpath.stays
    found = np.zeros((len(segments), 3), dtype=np.int64)
    z = np.zeros(loose.taken.shape, dtype=np.float32)
    cutting = np.flatnonzero((stays >= 0) & (toolpath.seg_cutter >= 0))
    changes = np.flatnonzero(np.diff(toolpath.seg_cutter[cutting])) + 1
    for run in np.split(cutting, changes):
        if len(run):
            profile = toolpath.profiles[int(toolpath.seg_cutter[run[0]])]
            mine, owners = segments.take(run), stays[run].astype(np.int32)
            found[run] = _meet(z, grid, mine.starts, mine.ends, owners, profile, loose)
    met = np.flatnonzero(found[:, 0])
    cuts = []
    for stay in np.unique(stays[met]).tolist():
        mine = met[stays[met] == stay]
        largest = int(mine[int(np.argmax(found[mine, 1]))])
        row, column = divmod(int(found[largest, 2]), loose.taken.shape[1])
        where = grid.left + (column + 0.5) * grid.cell, grid.low + (row + 0.5) * grid.cell
        count, size = int(found[mine, 0].sum()), int(found[largest, 1])
        cuts.append(LooseCut(stay, count * grid.cell**2, size * grid.cell**2, where, largest))
    return tuple(cuts)


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
def _join_near(
    parent: NDArray[np.int32],
    size: NDArray[np.int32],
    held: NDArray[np.bool_],
    cell: int,
    nx: int,
    back_only: bool,
) -> None:
    """Unite a cell with those beside it that stand; the later ones not, when only backwards."""
    k, j = cell % nx, cell // nx
    if k and parent[cell - 1] >= 0:
        _unite(parent, size, held, cell, cell - 1)
    if j and parent[cell - nx] >= 0:
        _unite(parent, size, held, cell, cell - nx)
    if back_only:
        return
    if k < nx - 1 and parent[cell + 1] >= 0:
        _unite(parent, size, held, cell, cell + 1)
    if cell + nx < len(parent) and parent[cell + nx] >= 0:
        _unite(parent, size, held, cell, cell + nx)


@kernel
def _loose_pieces_at(
    parent: NDArray[np.int32],
    held: NDArray[np.bool_],
    seen: NDArray[np.bool_],
    cells: NDArray[np.int64],
    nx: int,
) -> NDArray[np.int64]:
    """Return the roots of the loose pieces beside cells that do not stand yet."""
    roots = np.empty(4 * len(cells), dtype=np.int64)
    count = 0
    for c in cells:
        for beside in (c - 1, c + 1, c - nx, c + nx):
            if beside < 0 or beside >= len(parent) or parent[beside] < 0:
                continue
            if abs(beside % nx - c % nx) > 1:
                continue
            root = root_of(parent, beside)
            if not (held[root] or seen[root]):
                seen[root] = True
                roots[count] = root
                count += 1
    for i in range(count):
        seen[roots[i]] = False
    return roots[:count]


@kernel
def _loosen(loose: _Loose, order: NDArray[np.int64]) -> None:
    """Set for each cell when and with how many others it comes loose, in place.

    `order` are the cells that are taken, those of the last stay first.
    """
    ny, nx = loose.taken.shape
    flat, freed, told = loose.taken.ravel(), loose.freed.ravel(), loose.size.ravel()
    parent = np.full(ny * nx, -1, dtype=np.int32)
    size = np.ones(ny * nx, dtype=np.int32)
    held = np.zeros(ny * nx, dtype=np.bool_)
    seen = np.zeros(ny * nx, dtype=np.bool_)
    after = np.arange(ny * nx).astype(np.int32)  # the next cell of the same loose piece, round
    for c in range(ny * nx):
        k, j = c % nx, c // nx
        held[c] = j == 0 or k == 0 or j == ny - 1 or k == nx - 1
        if flat[c] == 2**31 - 1:
            parent[c] = c
            _join_near(parent, size, held, c, nx, True)
    for c in range(ny * nx):
        if parent[c] >= 0:
            root = root_of(parent, c)
            if root != c and not held[root]:
                after[c], after[root] = after[root], after[c]
    begin = 0
    while begin < len(order):
        stay, end = flat[order[begin]], begin
        while end < len(order) and flat[order[end]] == stay:
            end += 1
        cells = order[begin:end]
        pieces = _loose_pieces_at(parent, held, seen, cells, nx)
        sizes = np.empty(len(pieces), dtype=np.int32)
        for i in range(len(pieces)):
            sizes[i] = size[pieces[i]]
        for c in cells:
            parent[c] = c
            _join_near(parent, size, held, c, nx, False)
        for i in range(len(pieces)):
            piece = pieces[i]
            root = root_of(parent, piece)
            if held[root]:
                c = piece
                while True:
                    freed[c], told[c] = stay, sizes[i]
                    c = after[c]
                    if c == piece:
                        break
            elif root != piece:
                after[piece], after[root] = after[root], after[piece]
        for c in cells:
            root = root_of(parent, c)
            if root != c and not held[root]:
                after[c], after[root] = after[root], after[c]
        begin = end


@kernel
def _meet(
    z: NDArray[np.float32],
    grid: Grid,
    starts: NDArray[np.float64],
    ends: NDArray[np.float64],
    stays: NDArray[np.int32],
    profile: Profile,
    loose: _Loose,
) -> NDArray[np.int64]:
    """Lower the cells that ever come loose, in place; what each segment meets of loose ones.

    Returns:
        (m, 3): number of cells, size of the largest piece and a cell of that.

    """
    ny, nx = z.shape
    found = np.zeros((starts.shape[0], 3), dtype=np.int64)
    for i in range(starts.shape[0]):
        ay, by = starts[i, 1], ends[i, 1]
        reach = reach_of(profile, max(0.0, -min(starts[i, 2], ends[i, 2])))
        first = max(0, math.ceil((min(ay, by) - reach - grid.low) / grid.cell - 0.5))
        last = min(ny - 1, math.floor((max(ay, by) + reach - grid.low) / grid.cell - 0.5))
        stroke = stroke_of(starts, ends, i, profile, reach)
        ax, ux, uy = stroke.line.ax, stroke.line.ux, stroke.line.uy
        for j in range(first, last + 1):
            y = grid.low + (j + 0.5) * grid.cell
            k0, k1 = columns(y, stroke.line, reach, grid, nx)
            for k in range(k0, k1 + 1):
                freed = loose.freed[j, k]
                if freed == 2**31 - 1:
                    continue
                px, py = grid.left + (k + 0.5) * grid.cell - ax, y - ay
                u, d = px * ux + py * uy, abs(px * uy - py * ux)
                height = lowest_over(stroke, profile, u, d)
                was = z[j, k]
                if height >= was:
                    continue
                z[j, k] = height
                if freed < stays[i] <= loose.taken[j, k] and was - height > _BITE_MM:
                    found[i, 0] += 1
                    if loose.size[j, k] > found[i, 1]:
                        found[i, 1], found[i, 2] = loose.size[j, k], j * nx + k
    return found
