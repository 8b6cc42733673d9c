"""Lines for a drag point: the rings of a region, and level lines that fill it. All mm."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString

from letterply.shapes.offsets import offset
from letterply.shapes.regions import Region, rings

__all__ = ["hatch_lines", "outline_lines"]


def outline_lines(region: Region) -> tuple[LineString, ...]:
    """Return the rings of a region as closed lines."""
    return tuple(LineString(np.vstack((r, r[:1]))) for r in rings(region))


def hatch_lines(region: Region, gap_mm: float) -> tuple[LineString, ...]:
    """Return level lines `gap_mm` apart that fill the region, drawn to and fro.

    They keep half a gap away from the outline, which has a line of its own.
    """
    inner = offset(region, -gap_mm / 2, gap_mm / 50)
    if inner.is_empty:
        return ()
    left, low, right, high = inner.bounds
    rows = np.arange(np.ceil(low / gap_mm), np.floor(high / gap_mm) + 1) * gap_mm
    level = [LineString([(left - 1, y), (right + 1, y)]) for y in rows]
    found: list[LineString] = []
    for number, cut in enumerate(shapely.intersection(np.array(level, dtype=object), inner)):
        every = shapely.get_parts(cut).tolist()
        parts = [g for g in every if isinstance(g, LineString) and g.length > 0]
        parts.sort(key=lambda g: g.bounds[0], reverse=bool(number % 2))
        for part in parts:
            a, b = sorted(part.coords)
            found.append(LineString([b, a] if number % 2 else [a, b]))
    return tuple(found)
