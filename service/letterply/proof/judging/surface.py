"""Carved and wanted surface in, what was cut too deep and what was left out.

Two fields on one grid are compared cell by cell. A cell is too deep when it lies below what is
wanted by more than the tolerance and what its feature allows, too high likewise. Along a vertical
wall the centre of a cell may fall on either side by rounding: where the wanted surface jumps
between a cell and one of its eight neighbours, anything between the two heights is right, and
next to free cells nothing is asked. So the field is blind for one cell along walls; cylinders are
checked there in the plane (`letterply.proof.removal.exact`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from letterply.proof.judging.target import Target
from letterply.proof.model import HeightField
from letterply.proof.removal.kernels import kernel

__all__ = ["Misfit", "compare"]

_JUMP_MM = 0.02


@dataclass(frozen=True, slots=True)
class Misfit:
    """Where a feature differs from what is wanted, in one direction.

    Attributes:
        feature: index of the feature.
        too_deep: True when cut too deep, False when left too high.
        most_mm: largest difference.
        area_mm2: area over the tolerance.
        where: (x, y) of the largest difference.

    """

    feature: int
    too_deep: bool
    most_mm: float
    area_mm2: float
    where: tuple[float, float]


def compare(carved: HeightField, target: Target) -> tuple[Misfit, ...]:
    """Return the differences between carved and wanted surface, a feature at a time."""
    n = len(target.features)
    allowed = _Allowed(
        rise=np.array([f.rise for f in target.features]),
        below=np.array([f.below_mm for f in target.features]),
        above=np.array([f.above_mm for f in target.features]),
        tolerance=np.array([f.tolerance_mm for f in target.features]),
    )
    most, cells, where = tally = _Tally(
        most=np.zeros((2, n)),
        cells=np.zeros((2, n), dtype=np.int64),
        where=np.zeros((2, n, 2), dtype=np.int64),
    )
    _compare(carved.z, target.wanted.z, target.owner, carved.cell_mm, allowed, tally)
    xs, ys = carved.centres
    cell = carved.cell_mm**2
    return tuple(
        Misfit(
            feature=f,
            too_deep=side == 0,
            most_mm=float(most[side, f]),
            area_mm2=float(cells[side, f] * cell),
            where=(float(xs[where[side, f, 1]]), float(ys[where[side, f, 0]])),
        )
        for f in range(1, n)
        for side in (0, 1)
        if cells[side, f]
    )


class _Allowed(NamedTuple):
    """What each feature allows, (n,) float64: slope of its surface, mm below, above and either."""

    rise: NDArray[np.float64]
    below: NDArray[np.float64]
    above: NDArray[np.float64]
    tolerance: NDArray[np.float64]


class _Tally(NamedTuple):
    """What is found, by direction (deep, high) and feature.

    Attributes:
        most: (2, n) float64, largest difference, mm.
        cells: (2, n) int64, how many differ.
        where: (2, n, 2) int64, row and column of the largest difference.

    """

    most: NDArray[np.float64]
    cells: NDArray[np.int64]
    where: NDArray[np.int64]


@kernel
def _compare(
    carved: NDArray[np.float32],
    wanted: NDArray[np.float32],
    owner: NDArray[np.int32],
    cell: float,
    allowed: _Allowed,
    tally: _Tally,
) -> None:
    """Compare cell by cell and add to the tally, in place."""
    rise, below, above, tolerances = allowed
    most, cells, where = tally
    ny, nx = carved.shape
    for j in range(ny):
        for k in range(nx):
            f = owner[j, k]
            if f == 0:
                continue
            w = wanted[j, k]
            c = carved[j, k]
            tolerance = tolerances[f]
            # Most cells are right at once: the neighbours are asked only for the others.
            if w - tolerance - below[f] <= c <= w + tolerance + above[f]:
                continue
            lowest, highest = w, w
            under, over = below[f], above[f]
            free = False
            for q in range(max(0, j - 1), min(ny, j + 2)):
                for p in range(max(0, k - 1), min(nx, k + 2)):
                    g = owner[q, p]
                    if g == 0:
                        free = True
                        continue
                    other = wanted[q, p]
                    # Where one feature meets another there is a wall, however low.
                    slope = rise[f] if f == g else 0.0
                    if abs(other - w) > _JUMP_MM + 1.5 * cell * slope:
                        lowest = min(lowest, other)
                        highest = max(highest, other)
                    # Next to a slope, or to what cannot be reached, its allowance holds too.
                    under = max(under, below[g])
                    over = max(over, above[g])
                    tolerance = max(tolerance, tolerances[g])
            if free:
                continue
            side, by = 0, 0.0
            if c < lowest - tolerance - under:
                side, by = 0, lowest - c
            elif c > highest + tolerance + over:
                side, by = 1, c - highest
            else:
                continue
            cells[side, f] += 1
            if by > most[side, f]:
                most[side, f] = by
                where[side, f, 0] = j
                where[side, f, 1] = k
