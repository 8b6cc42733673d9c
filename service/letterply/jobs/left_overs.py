"""What is left of a sheet when its programs have been run: sheets with parts in, left-overs out.

Where cutters went is read off the proof, which knows it from the text of the programs alone. All
mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from letterply.catalogue import Rings, Stock, rings_of
from letterply.proof import Motion
from letterply.shapes import Region, as_region, polygons
from letterply.sheets import Sheet

__all__ = ["LeftOver", "left_overs"]

_BELOW_MM = 0.01
"""From here on a cutter is below the face."""

_CHORD_MM = 0.1
"""How far the moves that a proof tells stray from arcs (`letterply.proof.Motion`)."""

_SIMPLER_MM = 0.1
"""Outlines of left-overs are drawn by so much simpler, and by twice as much smaller."""

_GRID_MM = 0.01
_QUAD_SEGS = 8


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What is left in one piece, in a frame of its own: its width along the width of its sheet.

    Attributes:
        width_mm, height_mm: of the box round it.
        outline_mm: its edge, then its holes; empty for an oblong.
        area_mm2: of it.

    """

    width_mm: float
    height_mm: float
    outline_mm: Rings
    area_mm2: float


def left_overs(sheet: Sheet, motion: Motion, least_mm: float) -> tuple[LeftOver, ...]:
    """Return what is left of a sheet, the largest first.

    Parts are gone with all that lies within their edge, and so is what a cutter touched below the
    face, through or not; screw holes and places that were cut out before are no material either.
    An outline is up to 0.4 mm smaller than what is there, never larger.

    Args:
        sheet: as it was cut.
        motion: where cutters went over it.
        least_mm: a disc of this diameter lies in what is worth keeping.

    """
    stock = sheet.stock
    edges = [Polygon(p.part.outline.exterior) for p in sheet.parts]
    solids = as_region(shapely.union_all(edges))
    holes = [k.area for k in stock.keep_clear if k.kind in ("cut", "screw")]
    gone = shapely.union_all([solids, *holes, *_swept(motion, solids)])
    gone = gone.buffer(2 * _SIMPLER_MM, quad_segs=_QUAD_SEGS).simplify(_SIMPLER_MM)
    left = shapely.set_precision(stock.material_area.difference(gone), _GRID_MM)
    found = [
        _left_over(piece, stock)
        for piece in polygons(as_region(left))
        if not piece.buffer(-least_mm / 2, quad_segs=_QUAD_SEGS).is_empty
    ]
    return tuple(sorted(found, key=lambda f: (-f.area_mm2, f.outline_mm)))


def _swept(motion: Motion, solids: Region) -> list[Region]:
    """Return what each cutter covers of a sheet below its face, beside the parts."""
    ends = np.asarray(motion.points, dtype=np.float64)
    if len(ends) < 2:
        return []
    pairs = np.stack([ends[:-1], ends[1:]], axis=1)
    # A piece that takes no time is only where the next one begins.
    down = (pairs[:, :, 2].min(axis=1) < -_BELOW_MM) & (motion.seconds[1:] > 0)
    swept: list[Region] = []
    for number, (_, _, radius, _, _) in enumerate(motion.profiles):
        mine = pairs[down & (motion.cutters[1:] == number)]
        lines = shapely.linestrings(mine[:, :, :2])
        inside = solids.buffer(-radius)
        shapely.prepare(inside)
        beside = lines[~shapely.contains(inside, lines)]
        if len(beside):
            reach = radius + _CHORD_MM
            swept.append(as_region(shapely.union_all(beside).buffer(reach, quad_segs=_QUAD_SEGS)))
    return swept


def _left_over(piece: Polygon, stock: Stock) -> LeftOver:
    if stock.turned:  # back by a quarter, clockwise, its width along that of the sheet again
        high = stock.width_mm
        piece = shapely.transform(piece, lambda xy: np.column_stack([xy[:, 1], high - xy[:, 0]]))
    left, low, right, top = piece.bounds
    piece = shapely.transform(piece, lambda xy: xy - (left, low))
    width, height = round(right - left, 2), round(top - low, 2)
    oblong = width * height - piece.area < 1.0
    return LeftOver(width, height, () if oblong else rings_of(piece), round(piece.area, 1))
