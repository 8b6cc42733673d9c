"""Curves in, chords out, to an explicit tolerance.

A *segment table* holds the Bezier segments of one closed contour: `(n, 4, 2) float64` control
points and `(n,) int8` degrees (1 line, 2 quadratic, 3 cubic; unused control points are ignored).
The number of chords follows from the second differences of the control points and is never too
small: the chords stay within the tolerance of the curve.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from letterply.shapes.regions import Contour

__all__ = ["SegmentTable", "chord_count", "circle", "circle_sides", "flatten_segments"]

SegmentTable = tuple[NDArray[np.float64], NDArray[np.int8]]

_MAX_CHORDS = 4096
"""Chords a segment: a curve of several metres at the finest tolerance needs fewer."""


def chord_count(
    points: NDArray[np.float64], degrees: NDArray[np.int8], tolerance_mm: float
) -> NDArray[np.int64]:
    """Return how many equal parameter steps keep each segment within the tolerance.

    For a cubic `ceil(sqrt(0.75 M / e))` with M the longest second difference of its control
    points, for a quadratic `ceil(sqrt(0.25 M / e))`: the error of a chord is at most h²/8 times
    the largest second derivative, which is 6 M and 2 M (Wang 1984; Sederberg, Computer Aided
    Geometric Design, course notes).
    """
    second_a = np.linalg.norm(points[:, 0] - 2 * points[:, 1] + points[:, 2], axis=1)
    second_b = np.linalg.norm(points[:, 1] - 2 * points[:, 2] + points[:, 3], axis=1)
    bent = np.where(
        degrees == 3,
        0.75 * np.maximum(second_a, second_b),
        np.where(degrees == 2, 0.25 * second_a, 0.0),
    )
    counts = np.ceil(np.sqrt(bent / tolerance_mm)).astype(np.int64)
    return np.clip(counts, 1, _MAX_CHORDS)


def flatten_segments(segments: SegmentTable, tolerance_mm: float) -> Contour:
    """Return one contour `(m, 2)`: the start of every chord, the end of the last not repeated.

    An empty table gives an empty contour.
    """
    points, degrees = segments
    if not len(points):
        return np.empty((0, 2))
    counts = chord_count(points, degrees, tolerance_mm)
    which = np.repeat(np.arange(len(points)), counts)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    t = ((np.arange(counts.sum()) - first) / counts[which])[:, None]
    p0, p1, p2, p3 = (points[which, i] for i in range(4))
    s = 1 - t
    line = s * p0 + t * p1
    quadratic = s * s * p0 + 2 * s * t * p1 + t * t * p2
    cubic = s * s * s * p0 + 3 * s * s * t * p1 + 3 * s * t * t * p2 + t * t * t * p3
    degree = degrees[which][:, None]
    flat: Contour = np.where(degree == 3, cubic, np.where(degree == 2, quadratic, line))
    return flat


def circle_sides(radius_mm: float, tolerance_mm: float) -> int:
    """Return how many sides keep a regular polygon within the tolerance of its circle.

    `ceil(pi / acos(1 - e / r))`, rounded up to a multiple of four so that the extremes are met.

    >>> circle_sides(10, 0.01)  # 71 by the formula
    72

    """
    if radius_mm <= tolerance_mm:
        return 8
    sides = math.ceil(math.pi / math.acos(1 - tolerance_mm / radius_mm))
    return max(8, 4 * math.ceil(sides / 4))


def circle(x_mm: float, y_mm: float, radius_mm: float, tolerance_mm: float) -> Contour:
    """Return a counter-clockwise circle as a contour with its vertices on the circle."""
    n = circle_sides(radius_mm, tolerance_mm)
    turn = np.arange(n) * (2 * np.pi / n)
    return np.column_stack((x_mm + radius_mm * np.cos(turn), y_mm + radius_mm * np.sin(turn)))
