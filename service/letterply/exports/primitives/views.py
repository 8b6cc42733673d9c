"""How a stack is looked at: a parallel projection, and the walls that it lets be seen.

Points are (n, 2) float64, mm, y up. A view maps a point of a face and its height to the picture;
straight lines stay straight, so an outline is mapped corner by corner.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.exports.cutfiles.svg import path_data

__all__ = ["FRONT", "TILTED", "Frame", "View", "visible_walls"]

Points = NDArray[np.float64]

_LIGHT = np.array([-0.6, 0.8])
"""Where the light comes from, in the plane of the faces: above, from the left."""

_SHADES = 16
_DECIMALS = 2


@dataclass(frozen=True, slots=True)
class View:
    """A parallel projection.

    Attributes:
        x_axis, y_axis: where one millimetre along x and y of a face goes.
        up: where one millimetre of height goes.

    """

    x_axis: tuple[float, float]
    y_axis: tuple[float, float]
    up: tuple[float, float]

    def project(self, points: Points, z_mm: float) -> Points:
        """Return where points of a face at height `z_mm` are seen, (n, 2) float64, y up."""
        plane = np.array([self.x_axis, self.y_axis])
        return np.asarray(points @ plane + z_mm * np.array(self.up))


FRONT = View((1.0, 0.0), (0.0, 1.0), (-0.32, 0.32))
"""Straight from the front; a higher face is a little further to the upper left."""

TILTED = View((1.0, 0.0), (0.22, 0.52), (0.0, 0.86))
"""From above and in front, for layers that float over one another."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the picture lies: what is added to x, and the height of its upper edge, mm."""

    left_mm: float
    top_mm: float

    def path(self, rings: Iterable[Points], lines: Iterable[Points] = ()) -> str:
        """Return path data, y down, of rings and lines in the picture, y up."""
        return path_data(
            tuple(rings),
            tuple(lines),
            left_mm=self.left_mm,
            top_mm=self.top_mm,
            decimals=_DECIMALS,
        )


def visible_walls(
    rings: tuple[Points, ...], view: View, low_mm: float, high_mm: float
) -> Iterator[tuple[float, Points]]:
    """Yield the walls that are seen, as (brightness from 0 to 1, ring in the picture).

    Args:
        rings: closed outlines with material on the left, first point not repeated.
        view: how it is looked at.
        low_mm: height of the lower edge of the walls, and
        high_mm: of the upper.

    Neighbouring wall pieces of like brightness are yielded as one.
    """
    down = np.array(view.up) * (low_mm - high_mm)
    for ring in rings:
        after = np.roll(ring, -1, axis=0)
        along = after - ring
        normal = np.column_stack((along[:, 1], -along[:, 0]))
        length = np.hypot(normal[:, 0], normal[:, 1])
        lit = (normal @ _LIGHT) / np.where(length > 0, length, 1.0)
        shade = np.rint((lit + 1) / 2 * _SHADES).astype(int)
        top = view.project(ring, high_mm)
        seen_along = np.roll(top, -1, axis=0) - top
        seen = seen_along[:, 1] * down[0] - seen_along[:, 0] * down[1] > 0
        key = np.where(seen, shade, -1)
        yield from _strips(top, key, down)


def _strips(top: Points, key: NDArray[np.int64], down: Points) -> Iterator[tuple[float, Points]]:
    count = len(top)
    changes = np.flatnonzero(key != np.roll(key, 1))
    if not len(changes):
        starts, lengths = [0], [count]
    else:
        starts = changes.tolist()
        lengths = np.diff(np.append(changes, changes[0] + count)).tolist()
    for start, length in zip(starts, lengths, strict=True):
        if key[start] < 0:
            continue
        upper = top[np.arange(start, start + length + 1) % count]
        yield float(key[start] / _SHADES), np.vstack((upper, upper[::-1] + down))
