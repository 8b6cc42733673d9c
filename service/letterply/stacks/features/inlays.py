"""Inlays: a recess and the plug that goes into it, shaped so that round cutters make them fit.

A cutter leaves the inside corners of a recess round, and the inside corners of the plug round the
other way. So both get the same round corners beforehand: outer corners of the plug are rounded by
an opening, inner ones by a closing, and the recess is that shape grown by the clearance. Any cutter
of this radius or less then cuts both as drawn (plane geometry). All mm.
"""

from __future__ import annotations

import shapely

from letterply.errors import GeometryError
from letterply.shapes import Region, Tolerances, normalise, offset, opening, polygons
from letterply.units import format_mm, format_sides

__all__ = ["inlay_shape"]

_ROOM_MM = 0.02
"""What the radius is more than the cutter's, so that paths a tolerance off the walls get in."""


_CORNER_SHARE = 1.5
"""How far the tip of a corner may lie from its round, in radii: corners of 47 degrees or more
(1 / sin(b/2) - 1), anything sharper is a stroke or a point that would be lost."""


def inlay_shape(plug: Region, corner_mm: float, tolerances: Tolerances, *, field: str) -> Region:
    """Return the plug with its corners rounded both ways.

    Raises:
        GeometryError: `inlay-too-fine` when a stroke is narrower than twice the radius.

    """
    radius = corner_mm + _ROOM_MM
    opened = opening(plug, radius, tolerances.offset_mm)
    lost = shapely.difference(plug, shapely.buffer(opened, _CORNER_SHARE * radius))
    if opened.is_empty or not lost.is_empty:
        at = (plug if opened.is_empty else lost).representative_point()
        raise GeometryError(
            f"Corners of {format_mm(corner_mm)} do not fit into the inlay at "
            f"{format_sides(at.x, at.y, times=',')}: "
            "it is narrower there, or pointed.",
            code="inlay-too-fine",
            field=field,
            expected="a smaller corner with a smaller cutter, larger lettering, or soften",
        )
    closed = offset(offset(opened, radius, tolerances.offset_mm), -radius, tolerances.offset_mm)
    return normalise(shapely.MultiPolygon(polygons(shapely.union(closed, opened))))
