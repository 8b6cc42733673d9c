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

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.ops import split

from letterply.shapes.regions import polygons

__all__ = ["Snap", "freed_piece", "snap_load"]


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


def freed_piece(
    outline: Polygon, feet: tuple[tuple[float, float], tuple[float, float]]
) -> tuple[Polygon, float] | None:
    """Return the smaller piece that a cut across the neck frees, and its reach in mm.

    None when the cut frees nothing: the neck is part of a loop that is held from both sides.
    """
    (x0, y0), (x1, y1) = feet
    length = float(np.hypot(x1 - x0, y1 - y0))
    if length < 1e-6:
        return None
    # A hair over both feet, so that rounding does not leave the cut short.
    ux, uy = (x1 - x0) / length * 1e-3, (y1 - y0) / length * 1e-3
    blade = LineString([(x0 - ux, y0 - uy), (x1 + ux, y1 + uy)])
    pieces = [p for p in polygons(split(outline, blade)) if p.area > 1e-6]
    if len(pieces) < 2:
        return None
    smaller = min(pieces, key=lambda p: float(p.area))
    corners = shapely.get_coordinates(smaller.exterior)
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    reach = float(np.hypot(corners[:, 0] - middle[0], corners[:, 1] - middle[1]).max())
    return smaller, max(reach, length / 2)
