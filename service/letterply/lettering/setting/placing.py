"""Where letters stand: lines of clusters in, a place and an angle for each, mm, y up.

Straight lines go down the page; on circles the lines below have their own radius; along a path
they are moved sideways; columns stand beside each other. Spacing is even along the baseline:
letters are turned about the point of the baseline under their middle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.errors import GeometryError
from letterply.lettering.setting.baselines import Curve, circle_curve, polyline_curve
from letterply.lettering.setting.clusters import Line
from letterply.lettering.setting.spec import LetteringSpec
from letterply.shapes import ROUNDING
from letterply.units import format_sides

__all__ = ["Places", "TooLong", "place_lines"]

_Floats = NDArray[np.float64]

_SHARE = {"left": 0.0, "centre": 0.5, "right": 1.0, "justify": 0.0}


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """The places of all clusters, line after line in the order seen.

    Attributes:
        points: (n, 2), where each anchor stands.
        angles: (n,) radians, counter-clockwise.

    """

    points: _Floats
    angles: _Floats


class TooLong(Exception):
    """The text is longer than its baseline: what it needs and what there is, mm."""

    def __init__(self, needed_mm: float, available_mm: float) -> None:
        super().__init__(needed_mm, available_mm)
        self.needed_mm = needed_mm
        self.available_mm = available_mm

    def error(self, field: str) -> GeometryError:
        """Return it as an error that names the baseline."""
        return GeometryError(
            f"The text needs {format_sides(self.needed_mm)} of baseline, and there are only "
            f"{format_sides(max(self.available_mm, 0))}.",
            code="baseline-too-short",
            field=f"{field}.baseline",
            expected="a longer baseline, smaller letters or less text",
            data={
                "needed_mm": round(self.needed_mm, 3),
                "available_mm": round(max(self.available_mm, 0), 3),
            },
        )


def place_lines(
    lines: Sequence[Line],
    spec: LetteringSpec,
    scale: float,
    em_mm: float,
    nudges_mm: Sequence[_Floats] | None = None,
) -> Places:
    """Return the places of all clusters.

    Args:
        lines: as composed.
        spec: alignment, tracking, line gap and baseline.
        scale: mm a font unit.
        em_mm: size of the em.
        nudges_mm: for each line, how much each cluster moves along it, besides.

    Raises:
        TooLong: for a closed or finite baseline that does not hold the text.

    """
    pitch = spec.line_gap * em_mm
    tracking = spec.tracking_mm
    if spec.baseline.kind == "vertical":
        tracking += spec.baseline.gap_mm or 0.0
    count = [len(line.clusters) for line in lines]
    widths = [
        line.advance * scale + tracking * max(n - 1, 0)
        for line, n in zip(lines, count, strict=True)
    ]
    widest = max(widths, default=0.0)
    points: list[_Floats] = []
    angles: list[_Floats] = []
    for number, line in enumerate(lines):
        n = count[number]
        pens = line.pens * scale + tracking * np.arange(n)
        width = widths[number]
        if spec.align == "justify" and spec.baseline.kind != "circle":
            pens = pens + _justified(line, widest - width)
            width = widest
        if nudges_mm is not None:
            pens = pens + nudges_mm[number]
        middles = pens + line.advances * scale / 2
        if spec.baseline.kind == "straight":
            x = middles + _SHARE[spec.align] * (widest - width)
            points.append(np.column_stack((x, np.full(n, -number * pitch))))
            angles.append(np.zeros(n))
        elif spec.baseline.kind == "vertical":
            y = -(pens + _SHARE[spec.align] * (widest - width))
            beside = (-1 if line.runs_right_to_left else 1) * number * pitch
            points.append(np.column_stack((np.full(n, beside), y)))
            angles.append(np.zeros(n))
        else:
            curve, along = _on_curve(spec, number, pitch, middles, width)
            at, turned = curve.at(along)
            points.append(at)
            angles.append(turned)
    return Places(np.vstack(points), np.concatenate(angles))


def _justified(line: Line, room: float) -> _Floats:
    """Return how far each cluster moves so that the line fills the room it has.

    The word spaces inside the line take all of it; a line of one word shares it between letters.
    """
    n = len(line.clusters)
    if n < 2:
        return np.zeros(n)
    inked = np.flatnonzero(~line.spaces)
    inside = np.zeros(n, dtype=bool)
    if len(inked):
        inside[inked[0] : inked[-1]] = line.spaces[inked[0] : inked[-1]]
    grows = inside if inside.any() else np.concatenate((np.ones(n - 1, dtype=bool), [False]))
    before = np.concatenate(([0.0], np.cumsum(grows)[:-1]))
    shares: _Floats = before * (room / grows.sum())
    return shares


def _on_curve(
    spec: LetteringSpec, number: int, pitch: float, middles: _Floats, width: float
) -> tuple[Curve, _Floats]:
    """Return the curve of a line and the lengths along it at which its letters stand."""
    baseline = spec.baseline
    share = _SHARE["centre" if spec.align == "justify" else spec.align]
    if baseline.kind == "path":
        curve = polyline_curve(np.array(baseline.points), -number * pitch)
        if width > curve.length_mm * (1 + ROUNDING):
            raise TooLong(width, curve.length_mm)
        return curve, middles + share * (curve.length_mm - width)
    inside = baseline.side == "inside"
    radius = baseline.radius_mm + (number if inside else -number) * pitch
    around = 2 * math.pi * radius
    if radius <= 0 or width > around * (1 + ROUNDING):
        raise TooLong(width, around)
    curve = circle_curve(radius, inside=inside, middle_deg=baseline.angle_deg)
    if baseline.kind == "arc":
        return curve, middles + around / 2 - share * width
    n = len(middles)
    if not n:
        return curve, middles
    gap = (around - width) / n
    # The gap behind the last letter counts as well: the middle of the text is that of its ink.
    return curve, middles + gap * np.arange(n) + (around - width - gap * (n - 1)) / 2
