"""Ridges: what stands between the lines of one carving, as high as they are deep.

Two strokes of a letter, or two letters, leave a ridge of the face between them, as high as the
shallower of the grooves beside it. It is held against the rule for a sheet of its height, by its
mean width, for its walls lean away from each other by half the angle of the bit: of crest w and
height h it is w + h tan(angle / 2) wide at half its height. A crest as wide as the least width of
the material is never told. A V-groove is as deep at a wall as the radius of the disc that touches
that wall, over the tangent of the bit's half angle; the bluntest bit that may carve it is assumed.
What tapers to a point in a crotch is no ridge. All mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.catalogue import Cutter, CutterRack, Material, Work
from letterply.checks.thin.zones import Feet, Zone, thin_zones
from letterply.shapes import DEFAULT_TOLERANCES, MedialAxis, both_axes
from letterply.stacks import Groove, Layer

__all__ = ["Ridge", "bluntest_bit", "ridges_of"]

_TIP_DEG = 40.0
"""Walls of a ridge that meet at less than this are followed to their end."""

_POINTED_SHARE = 0.2
"""What ends narrower than this share of the least width tapers to a point."""

_STEP_MM = 0.25

_TOUCHES_MM = 0.05
"""How far a wall may seem to lie off a disc that touches it: discs are a step apart."""

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ridge:
    """A ridge that is too thin.

    Attributes:
        feet: its crest where it is thinnest for its height, from wall to wall.
        width_mm: how wide it is there.
        height_mm: how high it stands over the shallower groove beside it.
        limit_mm: how wide its crest should be at that height.

    """

    feet: Feet
    width_mm: float
    height_mm: float
    limit_mm: float

    @property
    def share(self) -> float:
        """How wide it is, as a share of how wide it should be."""
        return self.width_mm / self.limit_mm


def bluntest_bit(groove: Groove, rack: CutterRack) -> Cutter | None:
    """Return the bluntest V-bit that may carve a groove, or None: it carves the least deep."""
    bits = rack.able(Work.GROOVE, groove.start_mm, angle_deg=groove.angle_deg)
    return max(bits, key=lambda c: c.included_angle_deg, default=None)


def ridges_of(
    groove: Groove, layer: Layer, material: Material, rack: CutterRack
) -> Iterator[Ridge]:
    """Yield the ridges between the lines of one carving that are thinner than they should be."""
    bit = bluntest_bit(groove, rack)
    if bit is None:
        return
    inside, around = both_axes(groove.whole, 2 * material.min_web_mm)
    tolerance = DEFAULT_TOLERANCES.flatten_mm
    zones = thin_zones(around.strokes(_TIP_DEG), material.min_web_mm, tolerance)
    found = [zone for zone in zones if not _is_crotch(zone, material.min_web_mm)]
    if not found:
        return
    centres, radii = _discs(inside, tolerance)
    most = math.inf if groove.max_depth_mm is None else groove.max_depth_mm
    floor = min(most, layer.thickness_mm - groove.start_mm)
    for zone in found:
        worst: Ridge | None = None
        for cut in (*zone.cuts, *zone.along):
            depths = [_radius_at(foot, centres, radii) / bit.half_angle_tan for foot in cut.feet]
            height = min(*depths, floor)
            upright = (material.min_web_factor - bit.half_angle_tan) * height
            ridge = Ridge(cut.feet, cut.width_mm, height, min(material.min_web_mm, upright))
            if cut.width_mm < ridge.limit_mm and (worst is None or ridge.share < worst.share):
                worst = ridge
        if worst is not None:
            yield worst


def _is_crotch(zone: Zone, limit_mm: float) -> bool:
    pointed = zone.exits == 1 and zone.width_mm < _POINTED_SHARE * limit_mm
    return pointed or zone.is_corner(limit_mm, _TIP_DEG)


def _discs(axis: MedialAxis, tolerance_mm: float) -> tuple[_Floats, _Floats]:
    """Return centres (n, 2) and radii (n,) of the discs of an axis, `_STEP_MM` apart at most."""
    points, radii, starts, sizes = axis.sample(tolerance_mm)
    first = np.setdiff1d(np.arange(len(points)), starts + sizes - 1, assume_unique=True)
    steps = np.ceil(np.hypot(*(points[first + 1] - points[first]).T) / _STEP_MM).astype(np.intp)
    steps = np.maximum(steps, 1)
    rows = np.repeat(first, steps)
    nth = np.arange(len(rows)) - np.repeat(np.cumsum(steps) - steps, steps)
    share = (nth + 0.5) / np.repeat(steps, steps)
    centres = points[rows] + (points[rows + 1] - points[rows]) * share[:, None]
    return centres, radii[rows] + (radii[rows + 1] - radii[rows]) * share


def _radius_at(foot: tuple[float, float], centres: _Floats, radii: _Floats) -> float:
    """Return the radius of the largest disc of a groove that touches its wall at a point."""
    away = np.hypot(*(centres - np.array(foot)).T) - radii
    return float(radii[away <= max(_TOUCHES_MM, float(away.min()))].max())
