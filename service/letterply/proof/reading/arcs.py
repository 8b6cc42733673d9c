"""Arcs in the XY plane: from the words of a program to centre and sweep, and to chords.

Angles are radians, lengths mm, counter-clockwise positive. An arc in *centre format* gives the
offset of its centre from its start (I, J); in *radius format* its radius (R), negative for an arc
of more than a half turn. The rules are those of RS274/NGC as commonly described (NISTIR 6556
clause 3.5.3, its wording not checked).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from letterply.proof.reading.words import ProgramError
from letterply.shapes import ROUNDING
from letterply.units import format_exact

__all__ = ["MAX_CHORDS", "centre_from_offsets", "centre_from_radius", "chord_counts", "sweep_of"]

MAX_CHORDS = 4096
"""Chords of one arc. A full circle of 100 m at a sagitta of 0.002 mm would need more; such an arc
is outside any machine and reported as that."""


def centre_from_offsets(
    start: tuple[float, float],
    end: tuple[float, float],
    offset: tuple[float, float],
    *,
    tolerance_mm: float,
) -> tuple[float, float]:
    """Return the centre of an arc in centre format.

    Raises:
        ProgramError: `arc-mismatch` when start and end lie at distances from the centre that
            differ by more than `tolerance_mm`, or the radius is nothing.

    """
    centre = start[0] + offset[0], start[1] + offset[1]
    radius = math.hypot(*offset)
    far = math.hypot(end[0] - centre[0], end[1] - centre[1])
    if radius <= ROUNDING:
        raise ProgramError("arc-mismatch", "an arc without radius")
    if abs(radius - far) > tolerance_mm:
        raise ProgramError(
            "arc-mismatch",
            f"the arc starts {format_exact(radius, 4)} from its centre and ends "
            f"{format_exact(far, 4)} from it",
        )
    return centre


def centre_from_radius(
    start: tuple[float, float],
    end: tuple[float, float],
    radius_mm: float,
    *,
    clockwise: bool,
    tolerance_mm: float,
) -> tuple[float, float]:
    """Return the centre of an arc in radius format; a negative radius takes the long way.

    Raises:
        ProgramError: `arc-mismatch` when the ends coincide or lie farther apart than two radii
            and the tolerance.

    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord <= ROUNDING:
        raise ProgramError("arc-mismatch", "an arc given by its radius ends where it starts")
    if chord / 2 > abs(radius_mm) + tolerance_mm:
        raise ProgramError(
            "arc-mismatch",
            f"ends {format_exact(chord, 4)} apart are too far for a radius of "
            f"{format_exact(abs(radius_mm), 4)}",
        )
    rise = math.sqrt(max(radius_mm * radius_mm - chord * chord / 4, 0.0))
    # Seen from start to end the centre of a short counter-clockwise arc lies on the left.
    side = 1.0 if (radius_mm > 0) != clockwise else -1.0
    middle_x, middle_y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    return middle_x - side * rise * dy / chord, middle_y + side * rise * dx / chord


def sweep_of(
    start: tuple[float, float],
    end: tuple[float, float],
    centre: tuple[float, float],
    *,
    clockwise: bool,
) -> float:
    """Return the signed angle that an arc turns through; a full turn when the ends coincide.

    >>> round(math.degrees(sweep_of((7, 7), (10, 16), (10, 11), clockwise=True)), 6)
    -143.130102

    """
    if math.hypot(end[0] - start[0], end[1] - start[1]) <= ROUNDING:
        turn = 2 * math.pi
    else:
        first = math.atan2(start[1] - centre[1], start[0] - centre[0])
        last = math.atan2(end[1] - centre[1], end[0] - centre[0])
        turn = (first - last if clockwise else last - first) % (2 * math.pi)
    return -turn if clockwise else turn


def chord_counts(
    radii_mm: NDArray[np.float64], sweeps: NDArray[np.float64], sagitta_mm: float
) -> NDArray[np.int64]:
    """Return for each arc the number of equal chords that keep the sagitta, at least one.

    The sagitta of a chord of angle u on radius r is r (1 - cos(u / 2)): plane geometry.
    """
    ratio = np.clip(1 - sagitta_mm / np.maximum(radii_mm, sagitta_mm), -1.0, 1.0)
    step = 2 * np.arccos(ratio)
    counts = np.ceil(np.abs(sweeps) / step)
    bounded: NDArray[np.int64] = np.clip(counts, 1, MAX_CHORDS).astype(np.int64)
    return bounded
