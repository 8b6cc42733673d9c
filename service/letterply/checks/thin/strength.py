"""The load that snaps a neck: the freed piece is a cantilever, the neck its root.

A load F at the far end of the freed piece, a reach L away, bends the root with the moment F L. A
root of width w in a sheet of thickness t bears M = f S, with f the material's bending strength
and the section modulus of a rectangle S = b h² / 6 (any text on strength of materials; the same
formula defines the modulus of rupture in bending tests such as ASTM D790, three points, M/S):

    in the plane of the sheet       S = t w² / 6
    out of the plane                S = w t² / 6

The lesser of the two governs. The figure is the breaking load; a safety factor goes on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from letterply.checks.thin.zones import Cut, Feet
from letterply.shapes import SAME_MM, SPECK_MM2

__all__ = ["Snap", "levers", "snap_load", "spanned_load"]


_OVER_MM = 1e-3
_BLADE_MM = 1e-4


@dataclass(frozen=True, slots=True)
class Snap:
    """What breaks a neck.

    Attributes:
        in_plane_n, out_of_plane_n: breaking loads.
        reach_mm: lever: from the neck to the far end of the freed piece.

    """

    in_plane_n: float
    out_of_plane_n: float
    reach_mm: float

    @property
    def load_n(self) -> float:
        """The lesser load."""
        return min(self.in_plane_n, self.out_of_plane_n)


def snap_load(width_mm: float, thickness_mm: float, reach_mm: float, strength_mpa: float) -> Snap:
    """Return the loads that snap a neck of this width.

    >>> snap_load(2.0, 3.0, 30.0, 97.0).in_plane_n  # 97 * (3 * 2² / 6) / 30
    6.466666666666667

    """
    in_plane = strength_mpa * thickness_mm * width_mm**2 / 6 / reach_mm
    out_of_plane = strength_mpa * width_mm * thickness_mm**2 / 6 / reach_mm
    return Snap(in_plane, out_of_plane, reach_mm)


def spanned_load(
    width_mm: float, thickness_mm: float, span_mm: float, strength_mpa: float
) -> float:
    """Return the load in its middle that breaks a bar held at both ends, N.

    Where a thin place belongs to a ring, nothing comes off when it breaks: it is a bar built in at
    both ends, with M = F L / 8 under a load in the middle (any text on strength of materials).

    >>> round(spanned_load(2.0, 3.0, 30.0, 97.0), 3) == round(8 * 97.0 * (3 * 2**2 / 6) / 30, 3)
    True

    """
    span = max(span_mm, width_mm)
    section = min(thickness_mm * width_mm**2, width_mm * thickness_mm**2) / 6
    return 8 * strength_mpa * section / span


def levers(outline: Polygon, cuts: Sequence[Cut]) -> tuple[tuple[Cut, float], ...]:
    """Return the cuts that free a piece, each with its reach in mm."""
    freed = _freed(outline, [cut.feet for cut in cuts])
    return tuple((c, f[1]) for c, f in zip(cuts, freed, strict=True) if f is not None)


def _freed(outline: Polygon, places: Sequence[Feet]) -> list[tuple[Polygon, float] | None]:
    found: list[tuple[Polygon, float] | None] = [None] * len(places)
    feet = np.array(places, dtype=np.float64).reshape(-1, 2, 2)
    along = feet[:, 1] - feet[:, 0]
    width = np.hypot(along[:, 0], along[:, 1])
    real = np.flatnonzero(width >= SAME_MM)
    if not len(real):
        return found
    # A hair over both feet, so that rounding does not leave the cut short, and a hair wide: at
    # the apex of a notch a mere line would pass beside the vertex and end inside.
    over = along[real] / width[real, None] * _OVER_MM
    ends = np.stack((feet[real, 0] - over, feet[real, 1] + over), axis=1)
    blades = shapely.buffer(shapely.linestrings(ends), _BLADE_MM, cap_style="flat", quad_segs=1)
    rests = np.asarray(shapely.difference(outline, blades))
    cut_through = shapely.get_num_geometries(rests) > 1
    for k in np.flatnonzero(cut_through).tolist():
        parts = shapely.get_parts(rests[k])
        areas = shapely.area(parts)
        parts, areas = parts[areas > SPECK_MM2], areas[areas > SPECK_MM2]
        if len(parts) < 2:
            continue
        smaller = parts[int(np.argmin(areas))]
        place = int(real[k])
        corners = shapely.get_coordinates(shapely.get_exterior_ring(smaller))
        away = corners - feet[place].mean(axis=0)
        reach = float(np.hypot(away[:, 0], away[:, 1]).max())
        found[place] = smaller, max(reach, float(width[place]) / 2)
    return found
