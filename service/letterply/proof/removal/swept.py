"""Segments and a cutter in, removed material out: exact swept volumes on a height field.

For every cell of the grid and every straight segment the lowest point of the cutter's surface
over the cell's centre has a closed form, so there is no step length and no scallop of the
simulation's own. With u the position of the cell along the segment, d its distance beside it, s
the slope dz/dl and rho the distance from the cutter's axis, the height over the cell is

    z(t) = z0 + s t + h(sqrt((u - t)^2 + d^2)),   t in [0, length],

with h the profile of the cutter: 0 for a flat one, R - sqrt(R^2 - rho^2) for a ball, and
max(0, rho - tip) / tan(half angle) for a cone. All are convex, so the minimum is at the
stationary point or at an end of the interval of contact. Each minimum is derived from h alone.

What the field cannot show: anything narrower than a cell, walls nearer than half a cell, and
undercuts, which these cutters do not make. Cutting areas are exact in the plane elsewhere
(`letterply.proof.removal.exact`).
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, CutterKind
from letterply.proof.model import HeightField
from letterply.proof.reading.moves import Segments
from letterply.proof.removal.kernels import kernel
from letterply.shapes import ROUNDING

__all__ = ["CHORD_SHARE", "GRAZE_MM", "Profile", "blank_field", "carve", "profile_of"]

GRAZE_MM = 0.02
"""A cutter counts as biting only this far inside its rim: rounding to three decimals makes a
path that runs along an earlier wall graze it."""

CHORD_SHARE = 50
"""Sagitta of the chords of an arc: a cell over this. At a twentieth of a cell, 8 of 36,800 cells
came out wrong; at a fifth of that, none."""

_FLAT, _BALL, _CONE = 0, 1, 2
_BANDS = 4
_THREADS = 2
_SHORT_MM = 1e-9


@dataclass(frozen=True, slots=True)
class Profile:
    """The cutting surface of a cutter, as its radius against the height above its tip.

    Attributes:
        shape: 0 flat, 1 ball, 2 cone.
        radius_mm: radius of the cylinder above.
        tip_mm: radius of the flat at the tip of a cone, 0 when sharp.
        rise: height gained a unit of radius on the cone, 1 / tan(half angle); 0 for the others.

    """

    shape: int
    radius_mm: float
    tip_mm: float = 0.0
    rise: float = 0.0

    def radius_at(self, height_mm: float) -> float:
        """Return the radius at a height above the tip; negative heights give 0."""
        if height_mm < 0:
            return 0.0
        if self.shape == _BALL:
            h = min(height_mm, self.radius_mm)
            return math.sqrt(max(0.0, h * (2 * self.radius_mm - h)))
        if self.shape == _CONE:
            return min(self.radius_mm, self.tip_mm + height_mm / self.rise)
        return self.radius_mm

    @property
    def tip_length_mm(self) -> float:
        """Height above the tip from which on the radius is full."""
        if self.shape == _BALL:
            return self.radius_mm
        return (self.radius_mm - self.tip_mm) * self.rise


def profile_of(cutter: Cutter) -> Profile:
    """Return the profile of a cutter; a beam is a cylinder of its kerf."""
    if cutter.kind in (CutterKind.VBIT, CutterKind.DRAG, CutterKind.DRILL):
        return Profile(
            _CONE, cutter.radius_mm, cutter.tip_diameter_mm / 2, 1 / cutter.half_angle_tan
        )
    if cutter.kind is CutterKind.BALL:
        return Profile(_BALL, cutter.radius_mm)
    return Profile(_FLAT, cutter.radius_mm)


def blank_field(bounds: tuple[float, float, float, float], cell_mm: float) -> HeightField:
    """Return an untouched field that covers a box (left, low, right, high), at least one cell."""
    left, low, right, high = bounds
    nx = max(1, math.ceil((right - left) / cell_mm - ROUNDING))
    ny = max(1, math.ceil((high - low) / cell_mm - ROUNDING))
    return HeightField(cell_mm, (left, low), np.zeros((ny, nx), dtype=np.float32))


def carve(
    field: HeightField, segments: Segments, profile: Profile, *, graze_mm: float = GRAZE_MM
) -> NDArray[np.float64]:
    """Remove what a cutter sweeps, in order, from a field, which is changed in place.

    Segments are in the frame of the field, all coordinates known. Every cell comes out the same
    whatever the number of threads.

    Returns:
        (m,) float64, mm: for each segment, how far it cut below what it met, at the cell where
        that is most; 0 where it met nothing. Cells within `graze_mm` of the rim are left out.

    """
    m = len(segments)
    total = np.zeros(m, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        deep = np.minimum(segments.starts[:, 2], segments.ends[:, 2]) < 0
    chosen = np.flatnonzero(deep)
    if not len(chosen):
        return total
    starts = np.ascontiguousarray(segments.starts[chosen])
    ends = np.ascontiguousarray(segments.ends[chosen])
    ny = field.z.shape[0]
    edges = np.linspace(0, ny, min(_BANDS, ny) + 1).astype(np.int64)
    bites = np.zeros((len(edges) - 1, len(chosen)), dtype=np.float64)
    graze = min(graze_mm, profile.radius_mm / 10)
    left, low = field.origin

    def run(band: int) -> None:
        _carve_rows(
            field.z, left, low, field.cell_mm, edges[band], edges[band + 1], starts, ends,
            profile.shape, profile.radius_mm, profile.tip_mm, profile.rise, graze, bites[band],
        )  # fmt: skip

    if ny * field.z.shape[1] < 40_000:
        for band in range(len(edges) - 1):
            run(band)
    else:
        with ThreadPoolExecutor(_THREADS) as pool:
            list(pool.map(run, range(len(edges) - 1)))
    total[chosen] = bites.max(axis=0)
    return total


@kernel
def _carve_rows(
    z: NDArray[np.float32],
    left: float,
    low: float,
    cell: float,
    row_from: int,
    row_to: int,
    starts: NDArray[np.float64],
    ends: NDArray[np.float64],
    shape: int,
    radius: float,
    tip: float,
    rise: float,
    graze: float,
    bites: NDArray[np.float64],
) -> None:
    for i in range(starts.shape[0]):
        ax, ay, az = starts[i, 0], starts[i, 1], starts[i, 2]
        bx, by, bz = ends[i, 0], ends[i, 1], ends[i, 2]
        deepest = min(az, bz)
        reach = _reach(shape, radius, tip, rise, -deepest)
        span = (min(ay, by) - reach - low) / cell - 0.5
        first = max(row_from, math.ceil(span)) if span > row_from else row_from
        span = (max(ay, by) + reach - low) / cell - 0.5
        last = math.floor(span) if span < row_to - 1 else row_to - 1
        if first > last:
            continue
        length = math.hypot(bx - ax, by - ay)
        if length < _SHORT_MM:
            length = 0.0
            ux, uy, slope = 1.0, 0.0, 0.0
            az = deepest
        else:
            ux, uy, slope = (bx - ax) / length, (by - ay) / length, (bz - az) / length
        for j in range(first, last + 1):
            y = low + (j + 0.5) * cell
            if shape == 0 and (az == bz or length == 0.0):
                bite = _level_row(
                    z, j, left, cell, y, ax, ay, bx, by, ux, uy, deepest, radius, radius - graze
                )
            else:
                bite = _sloped_row(
                    z, j, left, cell, y, ax, ay, az, ux, uy, slope, length, reach,
                    shape, radius, tip, rise, graze,
                )  # fmt: skip
            if bite > bites[i]:
                bites[i] = bite


@kernel
def _reach(shape: int, radius: float, tip: float, rise: float, depth: float) -> float:
    """Radius at the top face, beyond which nothing is cut."""
    if shape == 1:
        if depth >= radius:
            return radius
        return math.sqrt(depth * (2 * radius - depth))
    if shape == 2:
        return min(radius, tip + depth / rise)
    return radius


@kernel
def _capsule_row(
    y: float, ax: float, ay: float, bx: float, by: float, ux: float, uy: float, r: float
) -> tuple[float, float]:
    """Where a row crosses the points within r of a segment: one interval, as they are convex."""
    lo, hi = math.inf, -math.inf
    a2 = r * r - (y - ay) ** 2
    if a2 >= 0:
        w = math.sqrt(a2)
        lo, hi = min(lo, ax - w), max(hi, ax + w)
    b2 = r * r - (y - by) ** 2
    if b2 >= 0:
        w = math.sqrt(b2)
        lo, hi = min(lo, bx - w), max(hi, bx + w)
    if by != ay:
        for side in (-1.0, 1.0):
            share = (y - (ay + side * r * ux)) / (by - ay)
            if 0.0 <= share <= 1.0:
                x = ax - side * r * uy + share * (bx - ax)
                lo, hi = min(lo, x), max(hi, x)
    return lo, hi


@kernel
def _columns(interval: tuple[float, float], left: float, cell: float, nx: int) -> tuple[int, int]:
    """First and last column whose centre lies in an interval; last before first when none."""
    lo, hi = interval
    if lo > hi:  # also the way in which an empty interval, from inf to -inf, never meets an int
        return 0, -1
    first = math.ceil(max(0.0, (lo - left) / cell - 0.5))
    last = math.floor(min(nx - 1.0, (hi - left) / cell - 0.5))
    return first, last


@kernel
def _level_row(
    z: NDArray[np.float32],
    j: int,
    left: float,
    cell: float,
    y: float,
    ax: float,
    ay: float,
    bx: float,
    by: float,
    ux: float,
    uy: float,
    depth: float,
    radius: float,
    inner: float,
) -> float:
    nx = z.shape[1]
    k0, k1 = _columns(_capsule_row(y, ax, ay, bx, by, ux, uy, radius), left, cell, nx)
    if k0 > k1:
        return 0.0
    level = np.float32(depth)
    bite = 0.0
    i0, i1 = _columns(_capsule_row(y, ax, ay, bx, by, ux, uy, inner), left, cell, nx)
    if i0 <= i1:
        top = level
        for k in range(i0, i1 + 1):
            top = max(top, z[j, k])
        bite = float(top) - float(level)
    for k in range(k0, k1 + 1):
        z[j, k] = min(z[j, k], level)
    return bite


@kernel
def _sloped_row(
    z: NDArray[np.float32],
    j: int,
    left: float,
    cell: float,
    y: float,
    ax: float,
    ay: float,
    az: float,
    ux: float,
    uy: float,
    slope: float,
    length: float,
    reach: float,
    shape: int,
    radius: float,
    tip: float,
    rise: float,
    graze: float,
) -> float:
    nx = z.shape[1]
    bx, by = ax + length * ux, ay + length * uy
    k0, k1 = _columns(_capsule_row(y, ax, ay, bx, by, ux, uy, reach), left, cell, nx)
    bite = 0.0
    reach2 = reach * reach
    solid2 = (radius - graze) ** 2
    # sin of the climb seen by the profile: where the stationary point lies, per unit of rho
    lean = 0.0
    if shape == 1:
        lean = slope / math.sqrt(1 + slope * slope)
    elif shape == 2:
        steep = slope / rise
        if abs(steep) >= 1:
            lean = math.copysign(math.inf, slope)
        else:
            lean = steep / math.sqrt(1 - steep * steep)
    for k in range(k0, k1 + 1):
        px = left + (k + 0.5) * cell - ax
        py = y - ay
        u = px * ux + py * uy
        d = abs(px * uy - py * ux)
        d2 = d * d
        half = math.sqrt(max(0.0, reach2 - d2))
        t0, t1 = max(0.0, u - half), min(length, u + half)
        if t0 > t1:
            continue
        if shape == 0:
            t = t0 if slope > 0 else t1
        elif slope == 0.0:
            t = min(max(u, t0), t1)
        elif shape == 1:
            t = min(max(u - math.sqrt(max(0.0, radius * radius - d2)) * lean, t0), t1)
        else:
            back = abs(d * lean) if d > 0 or abs(lean) < math.inf else math.inf
            if d < tip:
                back = max(back, math.sqrt(tip * tip - d2))
            t = min(max(u - math.copysign(back, slope), t0), t1)
        rho2 = (u - t) ** 2 + d2
        height = az + slope * t
        if shape == 1:
            height += radius - math.sqrt(max(0.0, radius * radius - rho2))
        elif shape == 2:
            height += max(0.0, math.sqrt(rho2) - tip) * rise
        was = z[j, k]
        if height < was:
            z[j, k] = height
            near = min(max(u, 0.0), length)
            if (u - near) ** 2 + d2 <= solid2:
                bite = max(bite, was - height)
    return bite
