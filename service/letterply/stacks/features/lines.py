"""Lines for a drag point: the rings of a region, level lines that fill it, or its middle line.

All mm.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from letterply.requests import hatch_gap
from letterply.shapes import Region, axis_chains, medial_axis, offset, rings

__all__ = ["centre_lines", "hatch_lines", "outline_lines", "scribed_lines"]

_CORNER_DEG = 80.0
"""Corners of this angle and more send no branch of the middle line into them."""

_MIDDLE_MM = 0.005
"""How far chords of the middle line may stray from it."""


def scribed_lines(
    region: Region,
    style: str,
    depth_mm: float,
    hatch_gap_mm: float | None,
    line: tuple[float, float] | None = None,
) -> tuple[LineString, ...]:
    """Return the lines of a style: `outline`, `hatch` (filled, with its outline) or `centre`.

    Without a gap the lines of a hatching lie as far apart as is usual at their depth, or as the
    `line` of a measured point asks (`letterply.requests.hatch_gap`).
    """
    if style == "centre":
        return centre_lines(region)
    if style == "hatch":
        gap = hatch_gap_mm or hatch_gap(depth_mm, line)
        return (*outline_lines(region), *hatch_lines(region, gap))
    return outline_lines(region)


def outline_lines(region: Region) -> tuple[LineString, ...]:
    """Return the rings of a region as closed lines."""
    return tuple(LineString(np.vstack((r, r[:1]))) for r in rings(region))


_DOT_MM = 0.2


def centre_lines(region: Region) -> tuple[LineString, ...]:
    """Return one line along the middle of each stroke, ended half its width before its end.

    The medial axis without the branches that run into corners; empty for an empty region. What
    has no stroke, as a disc or a square, has a dot in its middle: a line of `_DOT_MM`.
    """
    axis = medial_axis(region).strokes(_CORNER_DEG)
    found: list[LineString] = []
    for points, _ in axis_chains(axis, _MIDDLE_MM):
        line = LineString(points)
        if line.length < _DOT_MM:
            x, y = points[0].tolist()
            line = LineString([(x - _DOT_MM / 2, y), (x + _DOT_MM / 2, y)])
        found.append(line)
    return tuple(found)


def hatch_lines(region: Region, gap_mm: float) -> tuple[LineString, ...]:
    """Return level lines `gap_mm` apart that fill the region, drawn to and fro.

    They keep half a gap away from the outline, which has a line of its own. Where the end of one
    lies beside that of the next, with nothing between but the region, they are one line: the point
    stays down.
    """
    inner = offset(region, -gap_mm / 2, gap_mm / 50)
    if inner.is_empty:
        return ()
    left, low, right, high = inner.bounds
    rows = np.arange(np.ceil(low / gap_mm), np.floor(high / gap_mm) + 1) * gap_mm
    level = [LineString([(left - 1, y), (right + 1, y)]) for y in rows]
    free = shapely.buffer(inner, gap_mm / 4, quad_segs=4)
    shapely.prepare(free)
    done: list[list[tuple[float, float]]] = []
    open_ends: list[list[tuple[float, float]]] = []
    for number, cut in enumerate(shapely.intersection(np.array(level, dtype=object), inner)):
        every = shapely.get_parts(cut).tolist()
        parts = [g for g in every if isinstance(g, LineString) and g.length > 0]
        parts.sort(key=lambda g: g.bounds[0], reverse=bool(number % 2))
        now: list[list[tuple[float, float]]] = []
        for part in parts:
            a, b = sorted((float(x), float(y)) for x, y in part.coords)
            chain = next((c for c in open_ends if _linked(c[-1], (a, b), gap_mm, free)), None)
            if chain is None:
                chain = []
                done.append(chain)
                ends = (b, a) if number % 2 else (a, b)
            else:
                open_ends.remove(chain)
                ends = (a, b) if math.dist(chain[-1], a) <= math.dist(chain[-1], b) else (b, a)
            chain.extend(ends)
            now.append(chain)
        open_ends = now
    return tuple(LineString(chain) for chain in done)


_LONGEST_LINK = 3.0
"""A way to the next line that is longer than so many gaps is no link."""


def _linked(
    end: tuple[float, float],
    ends: tuple[tuple[float, float], tuple[float, float]],
    gap_mm: float,
    free: BaseGeometry,
) -> bool:
    """Whether the way from an end to the nearer of two others is short and free."""
    to = min(ends, key=lambda e: math.dist(end, e))
    short = math.dist(end, to) <= _LONGEST_LINK * gap_mm
    return short and bool(shapely.covers(free, LineString([end, to])))
