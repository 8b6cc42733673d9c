"""Corners rounded in which what was added to an outline meets what was there. All mm."""

from __future__ import annotations

import numpy as np
import shapely

from letterply.shapes import Region, as_region, offset, polygons

__all__ = ["rounded"]

_LITTLE = 0.02
"""Share of a region up to which what was added is looked at by itself."""

_RADII = 8.0
"""So many radii round what was added: its corners are rounded within five of them."""


def rounded(
    thick: Region, region: Region, open_: Region, radius: float, tolerance: float
) -> Region:
    """Return the region with the corners rounded in which an addition meets the old outline."""
    if radius <= 0:
        return thick
    fresh = shapely.difference(thick, region)
    beside = _beside(thick, as_region(fresh), _RADII * radius)
    closed = offset(offset(beside, radius, tolerance), -radius, tolerance)
    # As with a leftover: outlines that nearly coincide are cut near what is no thread alone.
    cores = shapely.difference(shapely.buffer(closed, -tolerance, quad_segs=4), beside)
    if cores.is_empty:
        return thick
    near = shapely.buffer(cores, 24 * tolerance, quad_segs=4)
    around = shapely.intersection(fresh, shapely.buffer(cores, 3 * radius, quad_segs=4))
    reach = shapely.intersection(near, shapely.buffer(around, 2 * radius, quad_segs=4))
    fillets = shapely.difference(shapely.intersection(reach, closed), open_)
    fillets = shapely.difference(fillets, shapely.intersection(beside, near))
    pieces = np.array(polygons(fillets), dtype=object)
    solid = pieces[shapely.area(pieces) > tolerance * radius] if len(pieces) else pieces
    return as_region(shapely.union_all([thick, *solid.tolist()]))


def _beside(thick: Region, fresh: Region, far_mm: float) -> Region:
    """Return what of a region lies in boxes so far round what is fresh; all of it for much of that.

    After the first round little is added, and nothing is rounded farther off.
    """
    if fresh.area > _LITTLE * thick.area:
        return thick
    x0, y0, x1, y1 = shapely.bounds(list(fresh.geoms)).reshape(-1, 4).T
    boxes = shapely.box(x0 - far_mm, y0 - far_mm, x1 + far_mm, y1 + far_mm)
    return as_region(shapely.intersection(thick, shapely.union_all(boxes)))
