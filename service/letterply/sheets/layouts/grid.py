"""The cells of one sheet as bits, and the first place in it where a shape meets none that is taken.

A column of the grid is a row of 64-bit words, bit by bit from low to high. Beside the taken cells
stand their doublings: bit r of level p says whether any of the 2**p cells from r on is taken. A run
of cells in a shape is then two look-ups, for all rows of a column at once.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from letterply.shapes import ROUNDING

__all__ = ["Grid", "Shape", "Spans"]

Spans = NDArray[np.int64]
"""Runs of cells in the grid's columns, (n, 3): column, first row, number of rows."""

_Words = NDArray[np.uint64]
_BITS = 64
_BANDS = 8


class Shape:
    """Cells that are laid together, ready to be looked up.

    Attributes:
        spans: the cells.
        columns: number of columns that they reach over.

    """

    def __init__(self, spans: Spans) -> None:
        self.spans = spans
        self.columns = int(spans[:, 0].max()) + 1 if len(spans) else 0
        count = spans[:, 2]
        level = np.floor(np.log2(np.maximum(count, 1)) + ROUNDING).astype(np.int64)
        first = np.column_stack((spans[:, 0], spans[:, 1], level, count))
        second = np.column_stack((spans[:, 0], spans[:, 1] + count - (1 << level), level, count))
        both = np.concatenate((first, second[(1 << level) < count]))
        # Long runs rule out most places, runs far from each other most places together: by turns
        # the next longest of each of some bands of columns. That halved the time.
        both = both[np.argsort(-both[:, 3], kind="stable")]
        band = both[:, 0] * _BANDS // max(self.columns, 1)
        turn = np.zeros(len(both), dtype=np.int64)
        for number in range(_BANDS):
            turn[band == number] = np.arange(np.count_nonzero(band == number))
        both = both[np.argsort(turn, kind="stable")]
        self._look_ups = np.ascontiguousarray(both[:, :3])


class Grid:
    """Cells, all free at first.

    Attributes:
        columns: number of columns.
        rows: number of rows.

    """

    def __init__(self, columns: int, rows: int) -> None:
        self.columns = columns
        self.rows = rows
        levels = math.floor(math.log2(max(rows, 2))) + 1
        # Two words more than needed: a look-up reads the word after its last, too.
        words = -(-rows // _BITS) + 2
        self._levels: _Words = np.zeros((levels, columns, words), dtype=np.uint64)

    def take(self, shape: Shape, column: int, row: int) -> None:
        """Take the cells of a shape laid at `column` and `row`; all must lie on the grid."""
        _take(self._levels, shape.spans, column, row)

    def first_free(self, shape: Shape, columns: tuple[int, int], last_row: int) -> tuple[int, int]:
        """Return the place farthest left, then lowest, at which a shape meets no taken cell.

        Args:
            shape: what is to be laid.
            columns: first and last column to try.
            last_row: last row to try; wherever the shape is tried, it must lie on the grid.

        Returns:
            Column and row, or (-1, -1) where there is none.

        """
        column, row = _first_free(self._levels, shape._look_ups, columns[0], columns[1], last_row)
        return int(column), int(row)


@njit(cache=True, nogil=True)
def _take(levels: _Words, spans: Spans, column: int, row: int) -> None:
    words = levels.shape[2]
    one = np.uint64(1)
    first, last = levels.shape[1], -1
    low, high = words * 64, 0
    for k in range(len(spans)):
        at = column + spans[k, 0]
        begin = row + spans[k, 1]
        end = begin + spans[k, 2]
        first, last = min(first, at), max(last, at)
        low, high = min(low, begin), max(high, end)
        for r in range(begin, end):
            levels[0, at, r >> 6] |= one << np.uint64(r & 63)
    for p in range(1, levels.shape[0]):
        step = 1 << (p - 1)
        skip, shift = step >> 6, np.uint64(step & 63)
        # A cell is seen from as far below as a level looks up, and from nowhere above.
        lowest = max(low - 2 * step + 1, 0) >> 6
        for at in range(first, last + 1):
            for w in range(lowest, min((high >> 6) + 1, words)):
                above = np.uint64(0)
                if w + skip < words:
                    above = levels[p - 1, at, w + skip] >> shift
                if shift and w + skip + 1 < words:
                    above |= levels[p - 1, at, w + skip + 1] << (np.uint64(64) - shift)
                levels[p, at, w] = levels[p - 1, at, w] | above


@njit(cache=True, nogil=True)
def _first_free(
    levels: _Words, look_ups: NDArray[np.int64], first: int, last: int, last_row: int
) -> tuple[int, int]:
    one, all_but_one = np.uint64(1), np.uint64(63)
    words = (last_row >> 6) + 1
    free = np.empty(words, dtype=np.uint64)
    top = ~np.uint64(0) >> np.uint64(words * 64 - 1 - last_row)
    for column in range(first, last + 1):
        free[:] = ~np.uint64(0)
        free[words - 1] = top
        low, high = 0, words  # words that still have a free place
        for k in range(len(look_ups)):
            row = look_ups[k, 1]
            shift = np.uint64(row & 63)
            taken = levels[look_ups[k, 2], column + look_ups[k, 0], (row >> 6) :]
            for w in range(low, high):
                # Shifted in two steps: by 64 at once is not defined.
                blocked = (taken[w] >> shift) | ((taken[w + 1] << one) << (all_but_one - shift))
                free[w] &= ~blocked
            while low < high and not free[low]:
                low += 1
            while low < high and not free[high - 1]:
                high -= 1
            if low == high:
                break
        if low < high:
            bit = 0
            while not (free[low] >> np.uint64(bit)) & one:
                bit += 1
            return column, low * 64 + bit
    return -1, -1
