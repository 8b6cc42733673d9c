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
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, CutterKind
from letterply.proof.model import HeightField
from letterply.proof.reading.moves import Segments
from letterply.proof.removal.kernels import Grid, kernel
from letterply.shapes import ROUNDING

__all__ = [
    "CHORD_SHARE",
    "GRAZE_MM",
    "Bites",
    "Profile",
    "blank_field",
    "carve",
    "columns_within",
    "profile_of",
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

_FLAT, _BALL, _CONE = 0, 1, 2
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


class Profile(NamedTuple):
    """The cutting surface of a cutter, as its radius against the height above its tip.

    Compiled code takes it as it is.

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


class _Line(NamedTuple):
    """A segment in the plane: both ends and its unit direction."""

    ax: float
    ay: float
    bx: float
    by: float
    ux: float
    uy: float


class _Stroke(NamedTuple):
    """A segment in space.

    Attributes:
        line: the same in the plane; a plunge has no length and points along x.
        az: height of its start, for a plunge that of its lower end.
        slope: dz/dl.
        length: in the plane.
        deepest: height of its lower end.
        reach: radius at the top face, beyond which nothing is cut.
        level: whether it cuts a floor of one height.
        lean: sine of the climb seen by the profile: where the lowest point over a cell lies, per
            unit of the distance from the axis.

    """

    line: _Line
    az: float
    slope: float
    length: float
    deepest: float
    reach: float
    level: bool
    lean: float


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
        reach = _reach(profile, -min(starts[i, 2], ends[i, 2]))
        span = (min(ay, by) - reach - grid.low) / grid.cell - 0.5
        first = max(row_from, math.ceil(span)) if span > row_from else row_from
        span = (max(ay, by) + reach - grid.low) / grid.cell - 0.5
        last = math.floor(span) if span < row_to - 1 else row_to - 1
        if first > last:
            continue
        stroke = _stroke(starts, ends, i, profile, reach)
        for j in range(first, last + 1):
            if stroke.level:
                bite, core = _level_row(z, j, grid, stroke, profile.radius_mm, graze)
            else:
                bite, core = _sloped_row(z, j, grid, stroke, profile, graze)
            bites[i, 0] = max(bites[i, 0], bite)
            bites[i, 1] = max(bites[i, 1], core)


@kernel
def _stroke(
    starts: NDArray[np.float64], ends: NDArray[np.float64], i: int, profile: Profile, reach: float
) -> _Stroke:
    ax, ay, az = starts[i, 0], starts[i, 1], starts[i, 2]
    bx, by, bz = ends[i, 0], ends[i, 1], ends[i, 2]
    deepest = min(az, bz)
    length = math.hypot(bx - ax, by - ay)
    level = profile.shape == _FLAT and (az == bz or length < ROUNDING)
    ux, uy, slope = 1.0, 0.0, 0.0
    if length < ROUNDING:
        length, az = 0.0, deepest
    else:
        ux, uy, slope = (bx - ax) / length, (by - ay) / length, (bz - az) / length
    if not level:  # ends where the places along it, by the unit direction, do
        bx, by = ax + length * ux, ay + length * uy
    line, lean = _Line(ax, ay, bx, by, ux, uy), _lean(profile, slope)
    return _Stroke(line, az, slope, length, deepest, reach, level, lean)


@kernel
def _reach(profile: Profile, depth: float) -> float:
    radius = profile.radius_mm
    if profile.shape == _BALL:
        if depth >= radius:
            return radius
        return math.sqrt(depth * (2 * radius - depth))
    if profile.shape == _CONE:
        return min(radius, profile.tip_mm + depth / profile.rise)
    return radius


@kernel
def _columns(y: float, line: _Line, r: float, grid: Grid, nx: int) -> tuple[int, int]:
    """First and last column of a row within r of a segment; last before first when none.

    The points within r are convex: a row crosses them in one interval.
    """
    lo, hi = math.inf, -math.inf
    a2 = r * r - (y - line.ay) ** 2
    if a2 >= 0:
        w = math.sqrt(a2)
        lo, hi = min(lo, line.ax - w), max(hi, line.ax + w)
    b2 = r * r - (y - line.by) ** 2
    if b2 >= 0:
        w = math.sqrt(b2)
        lo, hi = min(lo, line.bx - w), max(hi, line.bx + w)
    if line.by != line.ay:
        for side in (-1.0, 1.0):
            share = (y - (line.ay + side * r * line.ux)) / (line.by - line.ay)
            if 0.0 <= share <= 1.0:
                x = line.ax - side * r * line.uy + share * (line.bx - line.ax)
                lo, hi = min(lo, x), max(hi, x)
    if lo > hi:  # also the way in which an empty interval, from inf to -inf, never meets an int
        return 0, -1
    first = math.ceil(max(0.0, (lo - grid.left) / grid.cell - 0.5))
    last = math.floor(min(nx - 1.0, (hi - grid.left) / grid.cell - 0.5))
    return first, last


@kernel
def columns_within(
    y: float, ax: float, ay: float, bx: float, by: float, r: float, grid: Grid, nx: int
) -> tuple[int, int]:
    """First and last column of the row at `y` within r of a segment; last before first if none."""
    length = math.hypot(bx - ax, by - ay)
    ux, uy = (1.0, 0.0) if length < ROUNDING else ((bx - ax) / length, (by - ay) / length)
    return _columns(y, _Line(ax, ay, bx, by, ux, uy), r, grid, nx)


@kernel
def _level_row(
    z: NDArray[np.float32], j: int, grid: Grid, stroke: _Stroke, radius: float, graze: float
) -> tuple[float, float]:
    """Carve one row to a level, in place; return its bites inside the grazing rim and the core."""
    nx = z.shape[1]
    y = grid.low + (j + 0.5) * grid.cell
    k0, k1 = _columns(y, stroke.line, radius, grid, nx)
    if k0 > k1:
        return 0.0, 0.0
    level = np.float32(stroke.deepest)
    bite, core = 0.0, 0.0
    i0, i1 = _columns(y, stroke.line, radius - graze, grid, nx)
    if i0 <= i1:
        top = level
        for k in range(i0, i1 + 1):
            top = max(top, z[j, k])
        bite = float(top) - float(level)
    if bite > 0:
        i0, i1 = _columns(y, stroke.line, radius * CORE_SHARE, grid, nx)
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
    z: NDArray[np.float32], j: int, grid: Grid, stroke: _Stroke, profile: Profile, graze: float
) -> tuple[float, float]:
    """Carve one row by the lowest point over each cell, in place; return its bites likewise."""
    ax, ay, ux, uy = stroke.line.ax, stroke.line.ay, stroke.line.ux, stroke.line.uy
    length, slope, reach = stroke.length, stroke.slope, stroke.reach
    y = grid.low + (j + 0.5) * grid.cell
    k0, k1 = _columns(y, stroke.line, reach, grid, z.shape[1])
    bite, core = 0.0, 0.0
    reach2 = reach * reach
    solid2 = (profile.radius_mm - graze) ** 2
    core2 = (profile.radius_mm * CORE_SHARE) ** 2
    for k in range(k0, k1 + 1):
        px = grid.left + (k + 0.5) * grid.cell - ax
        py = y - ay
        u = px * ux + py * uy
        d = abs(px * uy - py * ux)
        d2 = d * d
        half = math.sqrt(max(0.0, reach2 - d2))
        t0, t1 = max(0.0, u - half), min(length, u + half)
        if t0 > t1:
            continue
        t = min(max(u - _behind(profile, slope, stroke.lean, d), t0), t1)
        height = stroke.az + slope * t + _rise(profile, (u - t) ** 2 + d2)
        was = z[j, k]
        if height < was:
            z[j, k] = height
            near = min(max(u, 0.0), length)
            beside2 = (u - near) ** 2 + d2
            if beside2 <= solid2:
                bite = max(bite, was - height)
            if beside2 <= core2:
                core = max(core, was - height)
    return bite, core


@kernel
def _lean(profile: Profile, slope: float) -> float:
    if profile.shape == _BALL:
        return slope / math.sqrt(1 + slope * slope)
    if profile.shape == _CONE:
        steep = slope / profile.rise
        if abs(steep) >= 1:
            return math.copysign(math.inf, slope)
        return steep / math.sqrt(1 - steep * steep)
    return 0.0


@kernel
def _behind(profile: Profile, slope: float, lean: float, d: float) -> float:
    """How far behind a cell the axis stands when the cutter is lowest over it.

    On an endless line at the distance d; infinite where that is at an end of the contact.
    """
    if profile.shape == _FLAT:
        return math.inf if slope > 0 else -math.inf
    if slope == 0.0:
        return 0.0
    if profile.shape == _BALL:
        return math.sqrt(max(0.0, profile.radius_mm * profile.radius_mm - d * d)) * lean
    back = abs(d * lean) if d > 0 or abs(lean) < math.inf else math.inf
    if d < profile.tip_mm:
        back = max(back, math.sqrt(profile.tip_mm * profile.tip_mm - d * d))
    return math.copysign(back, slope)


@kernel
def _rise(profile: Profile, rho2: float) -> float:
    """Height of the cutting surface above the tip, at the squared distance from the axis."""
    if profile.shape == _BALL:
        radius = profile.radius_mm
        return radius - math.sqrt(max(0.0, radius * radius - rho2))
    if profile.shape == _CONE:
        return max(0.0, math.sqrt(rho2) - profile.tip_mm) * profile.rise
    return 0.0
