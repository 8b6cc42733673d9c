"""What is swept and what a finer cutter of the rack could reach in, what it should have cut out.

A large cutter leaves inside corners and narrow passages; a smaller one of the rack gets into them.
What it reaches may stay as far behind what is cut as the job lets its corners be round (`detail`),
and no farther.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.findings import Severity
from letterply.proof.model import Fault
from letterply.shapes import as_region, outline_distances
from letterply.units import about_mm, format_mm

__all__ = [
    "CORNER_SLACK_MM",
    "FIT_MM",
    "Left",
    "bears",
    "edge_points",
    "find_left",
    "thick_rest",
    "uncut_corners",
    "why_round",
]

CORNER_SLACK_MM = 0.05
"""How much deeper than the detail a corner may be: clearance, arcs and sagitta add up to half."""

FIT_MM = 0.02
"""What is narrower is no corner: arcs that stand for curves stray as far."""
_LEAST_MM2 = 1e-3

_STEP_MM = 0.05
"""So close lie the places at which a distance is measured: no more than half of it is missed."""


@dataclass(frozen=True, slots=True)
class Left:
    """What a cutter of the rack reaches and none cut.

    Attributes:
        depth_mm: how far behind what is cut it lies, at most.
        area_mm2: area of the pieces that lie too far behind.
        where: (x, y) of the farthest place.

    """

    depth_mm: float
    area_mm2: float
    where: tuple[float, float]


def bears(own_mm: float | None, usual_mm: float) -> float:
    """Return how deep corners may stay round: what a part or feature says, or the job."""
    return usual_mm if own_mm is None else own_mm


def edge_points(
    pieces: BaseGeometry | NDArray[np.object_],
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return points along the edges of pieces, (n, 2) mm, and the number of the piece of each.

    Along a straight wall the place that is farthest from all cuts lies between two corners.
    """
    parts, of_part = shapely.get_parts(
        np.atleast_1d(np.asarray(pieces, dtype=object)), return_index=True
    )
    # GEOS densifies lines: of a polygon that touches itself it would leave nothing.
    rings, of_ring = shapely.get_rings(parts, return_index=True)
    dense = shapely.segmentize(rings, _STEP_MM)
    points, owner = shapely.get_coordinates(dense, return_index=True)
    return points, of_part[of_ring[owner]]


def thick_rest(whole: BaseGeometry, gone: BaseGeometry) -> BaseGeometry:
    """Return what a region is without another, only near where that is thicker than `FIT_MM`.

    The outlines nearly coincide, and overlays are slow where they do. Shrunk and grown by half of
    that they do not: what is left of one without the other is where the rest holds a disc so wide.
    """
    half = FIT_MM / 2
    # Round ends are polygons inside the circle: too much is kept rather than too little.
    cores = whole.buffer(-half, quad_segs=4).difference(gone.buffer(half, quad_segs=4))
    near = cores.buffer(4 * half, quad_segs=4)
    return near.intersection(whole).difference(near.intersection(gone))


def find_left(
    missed: BaseGeometry,
    swept: BaseGeometry,
    detail_mm: float,
    *,
    wall: BaseGeometry | None = None,
) -> Left | None:
    """Return what of a region that a cutter of the rack reaches lies too far from what is swept.

    Args:
        missed: what a cutter of the rack reaches and the one that was used does not.
        swept: what is cut, by any.
        detail_mm: how far behind it a place may lie.
        wall: where all is cut through, the edge that is laid bare: what is left in the middle
            between two cuts drops out, and is no matter. None for a floor.

    """
    left = missed.difference(swept)
    left = left.buffer(-FIT_MM / 2).buffer(FIT_MM / 2)
    pieces = np.array([p for p in shapely.get_parts(left) if p.area > _LEAST_MM2], dtype=object)
    if wall is not None and len(pieces):
        shapely.prepare(wall)
        pieces = pieces[shapely.dwithin(wall, pieces, CORNER_SLACK_MM)]
    if not len(pieces):
        return None
    corners, owner = edge_points(pieces)
    if swept.is_empty:
        x0, y0, x1, y1 = shapely.total_bounds(pieces)
        where = float(corners[0, 0]), float(corners[0, 1])
        return Left(float(np.hypot(x1 - x0, y1 - y0)), float(shapely.area(pieces).sum()), where)
    far = outline_distances(as_region(swept), corners)
    if far.max() <= detail_mm + CORNER_SLACK_MM:
        return None
    bad = np.unique(owner[far > detail_mm + CORNER_SLACK_MM])
    i = int(np.argmax(far))
    where = float(corners[i, 0]), float(corners[i, 1])
    return Left(float(far[i]), float(shapely.area(pieces[bad]).sum()), where)


def uncut_corners(left: Left, what: str, mark: str, words: str, detail_mm: float) -> Fault:
    """Return the fault of corners that a cutter of the rack gets into and none cut."""
    return Fault(
        "uncut",
        Severity.BLOCKER,
        f"{what} stay uncut up to {about_mm(left.depth_mm)} deep in {words}: a cutter of the rack "
        f"gets into them, and no more than {format_mm(detail_mm)} may stay.",
        where=left.where,
        measured=round(left.depth_mm, 3),
        limit=detail_mm,
        mark=mark,
    )


def why_round(depth_mm: float, detail_mm: float) -> str:
    """Return why corners may stay round so deep, in a clause."""
    if depth_mm <= detail_mm + CORNER_SLACK_MM:
        return f"no more than the {format_mm(detail_mm)} that may stay"
    return "no cutter of the rack gets into them"
