"""How much of a cutter's edge is in the stock, and where along a loop that is too much.

The *engaged angle* is that of the leading half of the cutter's circle whose edge is in stock. On a
straight run at stepover s it is arccos(1 - s/r) for a cutter of radius r; at an inside corner of
interior angle b it grows by 180 degrees - b (plane geometry); in a slot it is 180 degrees. Chips,
heat and the pull on a thin cutter grow with it, so the feed is reduced there.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.cutting.paths import ParametricPath
from letterply.shapes import Region

__all__ = ["engaged_deg", "full_stretches"]

_Floats = NDArray[np.float64]

_EDGE_DEG = np.arange(-87.5, 90.0, 5.0)
"""Where the leading edge is looked at, from the direction of the move."""

_GRAZE = 0.9
"""The edge is looked at so far out, in radii: thinner bites are none."""

_SAMPLES_A_RADIUS = 6


def engaged_deg(points: _Floats, headings: _Floats, cleared: Region, radius_mm: float) -> _Floats:
    """Return the engaged angle of a cutter at each point, (n,) degrees.

    Args:
        points: (n, 2) middle of the cutter.
        headings: (n,) direction of the move, radians.
        cleared: where there is no stock.
        radius_mm: of the cutter.

    """
    angles = headings[:, None] + np.radians(_EDGE_DEG)
    edge = points[:, None] + radius_mm * np.stack((np.cos(angles), np.sin(angles)), axis=-1)
    shapely.prepare(cleared)
    clear = shapely.contains_xy(cleared, edge[..., 0].ravel(), edge[..., 1].ravel())
    share: _Floats = 1 - clear.reshape(angles.shape).mean(axis=1)
    return 180 * share


def full_stretches(
    walk: ParametricPath, cleared: Region | None, radius_mm: float, most_deg: float
) -> _Floats:
    """Return the stretches of a loop where the cutter is engaged too far, (m, 2) lengths.

    Args:
        walk: the loop.
        cleared: where there is no stock when it is cut, but for its own cut; nowhere for the first
            cut into solid stock, a slot all along. None where that is not known.
        radius_mm: of the cutter.
        most_deg: the angle to which the cutter may be engaged.

    """
    step = radius_mm / _SAMPLES_A_RADIUS
    n = math.ceil(walk.length / step)
    if cleared is None or n < 3:
        return np.empty((0, 2))
    step = walk.length / n
    points = walk.at(np.arange(n + 1, dtype=np.float64) * step)
    hops = np.diff(points, axis=0)
    headings = np.arctan2(hops[:, 1], hops[:, 0])
    full = np.zeros(n + 2, dtype=bool)
    middles = (points[:-1] + points[1:]) / 2
    engaged = engaged_deg(middles, headings, cleared, _GRAZE * radius_mm)
    full[1:-1] = engaged > most_deg
    edges = np.flatnonzero(full[1:] != full[:-1])
    return np.asarray(edges.reshape(-1, 2) * step, dtype=np.float64)
