"""The grid against the same search cell by cell."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from letterply.sheets.layouts.grid import Grid, Shape


def shape_of(cells):
    """Return a shape from a table of cells, a row a column of the grid."""
    spans = []
    for column, rows in enumerate(cells):
        edges = np.flatnonzero(np.diff(np.concatenate(([0], rows, [0]))))
        spans += [(column, low, high - low) for low, high in edges.reshape(-1, 2)]
    return Shape(np.array(spans, dtype=np.int64).reshape(-1, 3))


def first_free_by_hand(taken, cells, columns, last_row):
    wide, high = cells.shape
    for column in range(columns[0], columns[1] + 1):
        for row in range(last_row + 1):
            if not (taken[column : column + wide, row : row + high] & cells).any():
                return column, row
    return -1, -1


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000), st.integers(20, 200), st.sampled_from([0.05, 0.4, 0.8]))
def test_the_first_free_place_is_the_one_found_cell_by_cell(seed, rows, density):
    rng = np.random.default_rng(seed)
    grid, taken = Grid(40, rows), np.zeros((40, rows), dtype=bool)
    for _ in range(12):
        wide, high = int(rng.integers(1, 9)), int(rng.integers(1, min(rows, 90)))
        cells = rng.random((wide, high)) < density
        cells[0, 0] = cells[-1, -1] = True
        shape = shape_of(cells)
        columns = (int(rng.integers(0, 5)), 40 - wide)
        last_row = int(rng.integers(0, rows - high + 1))
        found = grid.first_free(shape, columns, last_row)
        assert found == first_free_by_hand(taken, cells, columns, last_row)
        if found[0] >= 0:
            grid.take(shape, *found)
            taken[found[0] : found[0] + wide, found[1] : found[1] + high] |= cells


@pytest.mark.parametrize("rows", [63, 64, 65, 128, 129])
def test_words_of_64_cells_leave_no_seam(rows):
    """A full column but for a gap of three cells, wherever it lies, takes three and not four."""
    for low in range(rows - 3):
        grid = Grid(1, rows)
        full = np.ones((1, rows), dtype=bool)
        full[0, low : low + 3] = False
        grid.take(shape_of(full), 0, 0)
        three, four = (shape_of(np.ones((1, n), dtype=bool)) for n in (3, 4))
        assert grid.first_free(three, (0, 0), rows - 3) == (0, low)
        assert grid.first_free(four, (0, 0), rows - 4) == (-1, -1)


def test_no_column_to_try_is_no_place():
    assert Grid(5, 5).first_free(shape_of(np.ones((1, 1), dtype=bool)), (3, 2), 4) == (-1, -1)
