"""Which rigid moves map a region onto itself within a tolerance. All mm and degrees.

A move that maps a region onto itself keeps its centroid, so only turns about the centroid and
mirrors through it come into question. How far a move misses is the Hausdorff distance of the
outline, holes included, from its image.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from letterply.shapes.likeness import Fit, Likeness, find_fits, misfit_mm
from letterply.shapes.regions import Region

__all__ = ["Symmetry", "mirror_misfit", "rotation_misfit", "symmetries"]

_MOST_FOLD = 180
"""Highest order of a turn: turns less than about two degrees apart are found as one."""


@dataclass(frozen=True, slots=True)
class Symmetry:
    """The moves that map a region onto itself.

    Attributes:
        turns: turns about the centroid, degrees counter-clockwise, above 0 and below 360, rising;
            the turn by nothing is left out.
        mirrors: directions of the mirror axes through the centroid, degrees from the x axis, from
            0 up to 180, rising.
        round: True for discs and round washers: every turn and every mirror does, and the two
            tuples are empty.

    """

    turns: tuple[float, ...] = ()
    mirrors: tuple[float, ...] = ()
    round: bool = False

    @property
    def none(self) -> bool:
        """Whether the region has no symmetry at all."""
        return not (self.turns or self.mirrors or self.round)


def rotation_misfit(region: Region, angle_deg: float) -> float:
    """Return how far a region turned about its centroid misses itself, mm.

    Raises:
        ValueError: the region is empty.

    >>> import shapely
    >>> from letterply.shapes.regions import as_region
    >>> strip = as_region(shapely.box(0, 0, 30, 10))
    >>> round(rotation_misfit(strip, 180), 6), round(rotation_misfit(strip, 90), 3)
    (0.0, 10.0)

    """
    shape = Likeness(region)
    return misfit_mm(shape, shape, angle_deg)


def mirror_misfit(region: Region, axis_deg: float) -> float:
    """Return how far a region mirrored in an axis through its centroid misses itself, mm.

    Raises:
        ValueError: the region is empty.

    """
    shape = Likeness(region)
    return misfit_mm(shape, shape, _turn_of_axis(axis_deg), flipped=True)


def symmetries(region: Region, tolerance_mm: float) -> Symmetry:
    """Return the turns and mirrors that map a region onto itself within the tolerance.

    An empty region has none. Turns less than about two degrees apart are found as one.

    Raises:
        ValueError: the tolerance is not above 0.

    """
    if region.is_empty:
        return Symmetry()
    shape = Likeness(region)
    if shape.wobble_mm <= tolerance_mm:
        return Symmetry(round=True)
    turns = _kept(shape, find_fits(shape, shape, tolerance_mm), tolerance_mm)
    mirrors = _kept(shape, find_fits(shape, shape, tolerance_mm, flipped=True), tolerance_mm)
    return Symmetry(
        turns=tuple(t for t in turns if t > 0),
        mirrors=tuple(sorted(_axis_of_turn(t) for t in mirrors)),
    )


def _kept(shape: Likeness, fits: tuple[Fit, ...], tolerance_mm: float) -> list[float]:
    """Return the turns of the fits that hold about the centroid, without any shift."""
    found = []
    for fit in fits:
        turn = fit.turn_deg if fit.flipped else _whole_part(fit.turn_deg, shape, tolerance_mm)
        turn = round(turn, 3) % 360
        miss = misfit_mm(shape, shape, turn, flipped=fit.flipped, stop_above_mm=tolerance_mm)
        if miss <= tolerance_mm:
            found.append(turn)
    return sorted(found)


def _whole_part(turn_deg: float, shape: Likeness, tolerance_mm: float) -> float:
    """Return the turn as a whole part of a full one, as every turn of a symmetry is.

    Where the tolerance leaves the angle open, the one of the lowest order is meant.
    """
    slack = math.degrees(tolerance_mm / shape.reach_mm)
    for order in range(1, _MOST_FOLD + 1):
        step = 360 / order
        nearest = step * round(turn_deg / step)
        if abs(nearest - turn_deg) <= slack:
            return nearest
    return turn_deg


def _turn_of_axis(axis_deg: float) -> float:
    """Return the turn that makes a left-to-right flip a mirror in an axis of this direction."""
    return (2 * (axis_deg - 90)) % 360


def _axis_of_turn(turn_deg: float) -> float:
    return round((90 + turn_deg / 2) % 180, 3) % 180
