"""Segments and a cutter in, removed material out: exact swept volumes on a height field.

The lowest point of the cutter's surface over the centre of each cell has a closed form
(`letterply.proof.removal.strokes`), so there is no step length and no scallop of the simulation's
own.

What the field cannot show: anything narrower than a cell, walls nearer than half a cell, and
undercuts, which these cutters do not make. Cutting areas are exact in the plane elsewhere
(`letterply.proof.removal.exact`).
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from letterply.proof.model import HeightField
from letterply.proof.reading.moves import Segments
from letterply.proof.removal.kernels import Grid, kernel
from letterply.proof.removal.strokes import (
    Profile,
    Stroke,
    columns,
    lowest_over,
    reach_of,
    stroke_of,
)
from letterply.shapes import ROUNDING

__all__ = [
    "CHORD_SHARE",
    "GRAZE_MM",
    "Bites",
    "blank_field",
    "carve",
]

GRAZE_MM = 0.02
"""A cutter counts as biting only this far inside its rim: rounding to three decimals makes a
path that runs along an earlier wall graze it."""

CHORD_SHARE = 50
"""Sagitta of the chords of an arc: a cell over this. At a twentieth of a cell, 8 of 36,800 cells
came out wrong; at a fifth of that, none."""

CORE_SHARE = 0.5
"""Share of the radius round the axis: a cutter that bites there is engaged over more than a quarter
of its width, and one that only takes a thin layer off a wall is not."""

_BANDS = 4
_THREADS = 2


class Bites(NamedTuple):
    """How far segments cut below what they met, (m,) float64 each, mm; 0 where they met nothing.

    Attributes:
        most: at the cell where that is most, those near the rim left out.
        core: the same near the axis alone (`CORE_SHARE`).

    """

    most: NDArray[np.float64]
    core: NDArray[np.float64]


def blank_field(bounds: tuple[float, float, float, float], cell_mm: float) -> HeightField:
    """Return an untouched field that covers a box (left, low, right, high), at least one cell."""
    left, low, right, high = bounds
    nx = max(1, math.ceil((right - left) / cell_mm - ROUNDING))
    ny = max(1, math.ceil((high - low) / cell_mm - ROUNDING))
    return HeightField(cell_mm, (left, low), np.zeros((ny, nx), dtype=np.float32))


def carve(
    field: HeightField, segments: Segments, profile: Profile, *, graze_mm: float = GRAZE_MM
) -> Bites:
    """Remove what a cutter sweeps, in order, from a field, which is changed in place.

    Segments are in the frame of the field, all coordinates known. Every cell comes out the same
    whatever the number of threads.

    Returns:
        What each segment bit. Cells within `graze_mm` of the rim are left out.

    """
    total = np.zeros((len(segments), 2), dtype=np.float64)
    with np.errstate(invalid="ignore"):
        deep = np.minimum(segments.starts[:, 2], segments.ends[:, 2]) < 0
    chosen = np.flatnonzero(deep)
    if not len(chosen):
        return Bites(total[:, 0], total[:, 1])
    starts = np.ascontiguousarray(segments.starts[chosen])
    ends = np.ascontiguousarray(segments.ends[chosen])
    ny = field.z.shape[0]
    edges = np.linspace(0, ny, min(_BANDS, ny) + 1).astype(np.int64)
    bites = np.zeros((len(edges) - 1, len(chosen), 2), dtype=np.float64)
    graze = min(graze_mm, profile.radius_mm / 10)
    grid = Grid(*field.origin, field.cell_mm)

    def run(band: int) -> None:
        rows = field.z, grid, edges[band], edges[band + 1]
        _carve_rows(*rows, starts, ends, profile, graze, bites[band])

    if ny * field.z.shape[1] < 40_000:
        for band in range(len(edges) - 1):
            run(band)
    else:
        with ThreadPoolExecutor(_THREADS) as pool:
            list(pool.map(run, range(len(edges) - 1)))
    total[chosen] = bites.max(axis=0)
    return Bites(total[:, 0], total[:, 1])


@kernel
def _carve_rows(
    z: NDArray[np.float32],
    grid: Grid,
    row_from: int,
    row_to: int,
    starts: NDArray[np.float64],
    ends: NDArray[np.float64],
    profile: Profile,
    graze: float,
    bites: NDArray[np.float64],
) -> None:
    for i in range(starts.shape[0]):
        ay, by = starts[i, 1], ends[i, 1]
        reach = reach_of(profile, -min(starts[i, 2], ends[i, 2]))
        span = (min(ay, by) - reach - grid.low) / grid.cell - 0.5
        first = max(row_from, math.ceil(span)) if span > row_from else row_from
        span = (max(ay, by) + reach - grid.low) / grid.cell - 0.5
        last = math.floor(span) if span < row_to - 1 else row_to - 1
        if first > last:
            continue
        stroke = stroke_of(starts, ends, i, profile, reach)
        for j in range(first, last + 1):
            if stroke.level:
                bite, core = _level_row(z, j, grid, stroke, profile.radius_mm, graze)
            else:
                bite, core = _sloped_row(z, j, grid, stroke, profile, graze)
            bites[i, 0] = max(bites[i, 0], bite)
            bites[i, 1] = max(bites[i, 1], core)


@kernel
def _level_row(
    z: NDArray[np.float32], j: int, grid: Grid, stroke: Stroke, radius: float, graze: float
) -> tuple[float, float]:
    """Carve one row to a level, in place; return its bites inside the grazing rim and the core."""
    nx = z.shape[1]
    y = grid.low + (j + 0.5) * grid.cell
    k0, k1 = columns(y, stroke.line, radius, grid, nx)
    if k0 > k1:
        return 0.0, 0.0
    level = np.float32(stroke.deepest)
    bite, core = 0.0, 0.0
    i0, i1 = columns(y, stroke.line, radius - graze, grid, nx)
    if i0 <= i1:
        top = level
        for k in range(i0, i1 + 1):
            top = max(top, z[j, k])
        bite = float(top) - float(level)
    if bite > 0:
        i0, i1 = columns(y, stroke.line, radius * CORE_SHARE, grid, nx)
        if i0 <= i1:
            top = level
            for k in range(i0, i1 + 1):
                top = max(top, z[j, k])
            core = float(top) - float(level)
    for k in range(k0, k1 + 1):
        z[j, k] = min(z[j, k], level)
    return bite, core


@kernel
def _sloped_row(
    z: NDArray[np.float32], j: int, grid: Grid, stroke: Stroke, profile: Profile, graze: float
) -> tuple[float, float]:
    """Carve one row by the lowest point over each cell, in place; return its bites likewise."""
    ax, ay, ux, uy = stroke.line.ax, stroke.line.ay, stroke.line.ux, stroke.line.uy
    y = grid.low + (j + 0.5) * grid.cell
    k0, k1 = columns(y, stroke.line, stroke.reach, grid, z.shape[1])
    bite, core = 0.0, 0.0
    solid2 = (profile.radius_mm - graze) ** 2
    core2 = (profile.radius_mm * CORE_SHARE) ** 2
    for k in range(k0, k1 + 1):
        px = grid.left + (k + 0.5) * grid.cell - ax
        py = y - ay
        u = px * ux + py * uy
        d = abs(px * uy - py * ux)
        height = lowest_over(stroke, profile, u, d)
        was = z[j, k]
        if height < was:
            z[j, k] = height
            near = min(max(u, 0.0), stroke.length)
            beside2 = (u - near) ** 2 + d * d
            if beside2 <= solid2:
                bite = max(bite, was - height)
            if beside2 <= core2:
                core = max(core, was - height)
    return bite, core
