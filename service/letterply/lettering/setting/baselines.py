"""Baselines as curves by length: where a letter stands and how far it is turned.

Lengths along the curve in, places out, mm, y up. Letters are turned, never bent: each is placed by
the one point of the curve under the middle of its advance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from svgelements import Close, Move, Path

from letterply.errors import InputError
from letterply.shapes import ROUNDING
from letterply.units import format_mm

__all__ = ["Curve", "circle_curve", "path_points", "polyline_curve"]

_Floats = NDArray[np.float64]

_MAX_PATH_TEXT = 10_000
_MAX_POINTS = 20_000
_PATH_STEP_MM = 0.05
"""Chords that stand for the curves of a path are this long or shorter where it bends."""


class Curve(Protocol):
    """A baseline by length."""

    @property
    def length_mm(self) -> float:
        """Its whole length."""

    def at(self, s_mm: _Floats) -> tuple[_Floats, _Floats]:
        """Return points `(n, 2)` and angles `(n,)` in radians at lengths along the curve."""


@dataclass(frozen=True, slots=True)
class _Circle:
    """A circle about the origin, walked from `start_rad`; `turn` is -1 for clockwise."""

    radius_mm: float
    start_rad: float
    turn: int

    @property
    def length_mm(self) -> float:
        return 2 * math.pi * self.radius_mm

    def at(self, s_mm: _Floats) -> tuple[_Floats, _Floats]:
        theta = self.start_rad + self.turn * np.asarray(s_mm) / self.radius_mm
        points = self.radius_mm * np.column_stack((np.cos(theta), np.sin(theta)))
        return points, theta + self.turn * math.pi / 2


def circle_curve(radius_mm: float, *, inside: bool, middle_deg: float | None) -> Curve:
    """Return a circle about the origin; length 0 lies opposite to where the text has its middle.

    Outside, text runs clockwise with its heads outward; inside, counter-clockwise with its heads
    towards the centre. `middle_deg` None stands for the top outside, the bottom inside.
    """
    if middle_deg is None:
        middle_deg = 270.0 if inside else 90.0
    turn = 1 if inside else -1
    start = math.radians(middle_deg) - turn * math.pi
    return _Circle(radius_mm, start, turn)


@dataclass(frozen=True, slots=True, eq=False)
class _Polyline:
    """A chain of points; beyond its ends it runs straight on."""

    points: _Floats
    lengths: _Floats

    @property
    def length_mm(self) -> float:
        return float(self.lengths[-1])

    def at(self, s_mm: _Floats) -> tuple[_Floats, _Floats]:
        s = np.asarray(s_mm)
        i = np.clip(np.searchsorted(self.lengths, s, side="right") - 1, 0, len(self.lengths) - 2)
        step = self.points[i + 1] - self.points[i]
        unit = step / np.hypot(step[:, 0], step[:, 1])[:, None]
        points = self.points[i] + unit * (s - self.lengths[i])[:, None]
        return points, np.arctan2(unit[:, 1], unit[:, 0])


def polyline_curve(points: _Floats, shift_mm: float = 0.0) -> Curve:
    """Return a chain of points `(n, 2)` as a curve, moved sideways by `shift_mm` (left is above 0).

    The sideways move is by the mean normal at each point, which is exact on straight stretches
    and within the bend of a chord elsewhere.
    """
    step = np.diff(points, axis=0)
    points = points[np.concatenate(([True], np.any(step != 0, axis=1)))]
    step = np.diff(points, axis=0)
    if shift_mm:
        normal = np.column_stack((-step[:, 1], step[:, 0])) / np.hypot(*step.T)[:, None]
        mean = np.vstack((normal[:1], normal[:-1] + normal[1:], normal[-1:]))
        size = np.hypot(*mean.T)
        points = points + shift_mm * mean / np.maximum(size, ROUNDING)[:, None]
        step = np.diff(points, axis=0)
    lengths = np.concatenate(([0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))))
    return _Polyline(points, lengths)


def path_points(data: str, *, field: str) -> tuple[tuple[float, float], ...]:
    """Return the first stretch of an SVG path as points, y up; its units are read as mm.

    Raises:
        InputError: `bad-path` for text that is no path, or a path without length.

    """
    if len(data) > _MAX_PATH_TEXT:
        raise _bad_path(field, f"it has more than {_MAX_PATH_TEXT} characters")
    try:
        path = Path(data)
        points: list[tuple[float, float]] = []
        for segment in path:
            if isinstance(segment, Move):
                if points:
                    break
                points.append((float(segment.end.x), float(segment.end.y)))
                continue
            steps = 1
            if type(segment).__name__ not in ("Line", "Close"):
                length = float(segment.length(error=1e-3, min_depth=3))
                steps = min(max(8, math.ceil(length / _PATH_STEP_MM)), _MAX_POINTS)
            if isinstance(segment, Close) and segment.end is None:
                continue
            for t in range(1, steps + 1):
                point = segment.point(t / steps)
                points.append((float(point.x), float(point.y)))
            if len(points) > _MAX_POINTS:
                raise _bad_path(
                    field, f"it has more than {format_mm(_MAX_POINTS * _PATH_STEP_MM)} of curves"
                )
    except InputError:
        raise
    except Exception as exc:  # the parser raises errors of any kind
        raise _bad_path(field, "it is not SVG path data") from exc
    flipped = tuple((x, -y) for x, y in points)
    if not all(math.isfinite(v) and abs(v) <= 10_000 for p in flipped for v in p):
        raise _bad_path(field, "it goes beyond 10 m")
    if len(set(flipped)) < 2:
        raise _bad_path(field, "it has no length")
    return flipped


def _bad_path(field: str, what: str) -> InputError:
    return InputError(
        f"The path of the baseline cannot be used: {what}.",
        code="bad-path",
        field=field,
        expected="SVG path data in mm, as 'M0 0 C40 -30 80 -30 120 0'",
    )
