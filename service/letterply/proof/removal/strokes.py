"""One straight stroke of a cutter in, which places it covers and how low it goes over each, out.

For every place and every straight segment the lowest point of the cutter's surface over the place
has a closed form. With u the position of the place along the segment, d its distance beside it, s
the slope dz/dl and rho the distance from the cutter's axis, the height over the place is

    z(t) = z0 + s t + h(sqrt((u - t)^2 + d^2)),   t in [0, length],

with h the profile of the cutter: 0 for a flat one, R - sqrt(R^2 - rho^2) for a ball, and
max(0, rho - tip) / tan(half angle) for a cone. All are convex, so the minimum is at the
stationary point or at an end of the interval of contact. Each minimum is derived from h alone.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, CutterKind
from letterply.proof.removal.kernels import Grid, kernel
from letterply.shapes import ROUNDING

__all__ = [
    "Line",
    "Profile",
    "Stroke",
    "columns",
    "columns_within",
    "lowest_over",
    "profile_of",
    "reach_of",
    "stroke_of",
]

_FLAT, _BALL, _CONE = 0, 1, 2


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


class Line(NamedTuple):
    """A segment in the plane: both ends and its unit direction."""

    ax: float
    ay: float
    bx: float
    by: float
    ux: float
    uy: float


class Stroke(NamedTuple):
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

    line: Line
    az: float
    slope: float
    length: float
    deepest: float
    reach: float
    level: bool
    lean: float


@kernel
def stroke_of(
    starts: NDArray[np.float64], ends: NDArray[np.float64], i: int, profile: Profile, reach: float
) -> Stroke:
    """Return one of the segments, (m, 3) mm, as a stroke; the reach is its radius at the face."""
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
    line, lean = Line(ax, ay, bx, by, ux, uy), _lean(profile, slope)
    return Stroke(line, az, slope, length, deepest, reach, level, lean)


@kernel
def reach_of(profile: Profile, depth: float) -> float:
    """Return the radius of a cutter at the face while its tip is so far below it, mm."""
    radius = profile.radius_mm
    if profile.shape == _BALL:
        if depth >= radius:
            return radius
        return math.sqrt(depth * (2 * radius - depth))
    if profile.shape == _CONE:
        return min(radius, profile.tip_mm + depth / profile.rise)
    return radius


@kernel
def columns(y: float, line: Line, r: float, grid: Grid, nx: int) -> tuple[int, int]:
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
    return columns(y, Line(ax, ay, bx, by, ux, uy), r, grid, nx)


@kernel
def lowest_over(stroke: Stroke, profile: Profile, u: float, d: float) -> float:
    """Return how low a stroke goes over the place at u along it and d beside it; inf where not."""
    d2 = d * d
    half = math.sqrt(max(0.0, stroke.reach * stroke.reach - d2))
    t0, t1 = max(0.0, u - half), min(stroke.length, u + half)
    if t0 > t1:
        return math.inf
    t = min(max(u - _behind(profile, stroke.slope, stroke.lean, d), t0), t1)
    return stroke.az + stroke.slope * t + _rise(profile, (u - t) ** 2 + d2)


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
