"""A field and a height in, which places stand on stock that reaches the field's edge out.

What stands above the height falls into pieces of cells that share a side. Row by row, each run of
such cells joins those of the row before that it touches (union-find), so that a field is read once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from letterply.proof.model import HeightField
from letterply.proof.removal.kernels import kernel, root_of

__all__ = ["CUT_AWAY", "HELD", "LOOSE", "how_held"]

CUT_AWAY, LOOSE, HELD = 0, 1, 2


def how_held(
    field: HeightField, level_mm: float, rows: NDArray[np.int64], columns: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Return for each of some cells, (n,), whether it is cut away, loose or held.

    A cell stands when it is higher than the level; it is held when its piece reaches the edge of
    the field.
    """
    found: NDArray[np.int64] = _how_held(field.z, np.float32(level_mm), rows, columns)
    return found


@kernel
def _how_held(
    z: NDArray[np.float32],
    level: np.float32,
    rows: NDArray[np.int64],
    columns: NDArray[np.int64],
) -> NDArray[np.int64]:
    ny, nx = z.shape
    begins = np.zeros(ny + 1, dtype=np.int64)
    runs = np.empty((1024, 2), dtype=np.int64)
    count = 0
    for j in range(ny):
        k = 0
        while k < nx:
            if z[j, k] > level:
                first = k
                while k < nx and z[j, k] > level:
                    k += 1
                if count == len(runs):
                    more = np.empty((2 * count, 2), dtype=np.int64)
                    more[:count] = runs
                    runs = more
                runs[count, 0], runs[count, 1] = first, k
                count += 1
            else:
                k += 1
        begins[j + 1] = count
    parent = np.arange(count).astype(np.int32)
    for j in range(1, ny):
        before = begins[j - 1]
        for i in range(begins[j], begins[j + 1]):
            while before < begins[j] and runs[before, 1] <= runs[i, 0]:
                before += 1
            other = before
            while other < begins[j] and runs[other, 0] < runs[i, 1]:
                a, b = root_of(parent, i), root_of(parent, other)
                if a != b:
                    parent[max(a, b)] = min(a, b)
                other += 1
    held = np.zeros(count, dtype=np.bool_)
    for j in range(ny):
        for i in range(begins[j], begins[j + 1]):
            if j == 0 or j == ny - 1 or runs[i, 0] == 0 or runs[i, 1] == nx:
                held[root_of(parent, i)] = True
    found = np.zeros(len(rows), dtype=np.int64)
    for number in range(len(rows)):
        for i in range(begins[rows[number]], begins[rows[number] + 1]):
            if runs[i, 0] <= columns[number] < runs[i, 1]:
                found[number] = 2 if held[root_of(parent, i)] else 1
    return found
