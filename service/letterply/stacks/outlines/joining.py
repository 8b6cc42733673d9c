"""Pieces made one: links where pieces of a joined outline come closest.

A link is a capsule along the shortest line between two pieces, a little into both, its corners
filled so that it looks grown rather than stuck on. Links follow the minimum spanning tree of the
gaps: no link is longer than it must be, and none is superfluous.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from letterply.shapes import ROUNDING, Region, as_region, normalise, offset, polygons

__all__ = ["Link", "join_letters", "join_pieces"]

_TOUCH_MM = 1e-4
"""Shapes nearer than this touch, but for rounding."""


@dataclass(frozen=True, slots=True)
class Link:
    """A link that was put in: its line (mm) and how long the gap was."""

    line: LineString
    gap_mm: float


def join_pieces(
    region: Region, width_mm: float, tolerance_mm: float
) -> tuple[Region, tuple[Link, ...]]:
    """Return the region in one piece, and the links that made it so.

    A region in one piece comes back as it is. Each link is `width_mm` wide or a little more.
    """
    links: list[Link] = []
    pieces = polygons(region)
    while len(pieces) > 1:
        lines = _closest_pairs(pieces)
        links += [Link(line, line.length) for line in lines]
        region = _linked(pieces, lines, width_mm, tolerance_mm)
        pieces = polygons(region)
    return region, tuple(links)


def _linked(
    pieces: Sequence[Polygon],
    lines: Sequence[LineString],
    width_mm: float,
    tolerance_mm: float,
    own: BaseGeometry | None = None,
) -> Region:
    """Return the pieces with a link along every line, its corners filled.

    `own` is what corners are looked for in, None for all pieces: without a neighbour in it, the
    gap to that neighbour is not taken for a corner.
    """
    bars = [
        shapely.buffer(_lengthened(line, width_mm / 2), width_mm / 2, quad_segs=16)
        for line in lines
    ]
    bar = shapely.union_all(bars)
    joined = as_region(shapely.union_all([*pieces, bar]))
    shape = joined if own is None else as_region(shapely.union(own, bar))
    closed = offset(offset(shape, width_mm / 2, tolerance_mm), -width_mm / 2, tolerance_mm)
    # Corners beside the links, and nowhere else.
    near = shapely.intersection(closed, bar.buffer(width_mm))
    fillets = polygons(shapely.difference(near, joined))
    touching = [f for f in fillets if f.distance(bar) < _TOUCH_MM]
    return normalise(shapely.union_all([joined, *touching]))


def join_letters(
    region: Region,
    letters: Sequence[Region],
    width_mm: float,
    tolerance_mm: float,
    *,
    reach_mm: float = 0.0,
) -> tuple[Region, tuple[Link, ...]]:
    """Return the region with the pieces of each letter made one, and the links that did it.

    Pieces belong together when there is a letter that both of them touch: a dot and its stem,
    the halves of a colon. A link runs from letter to letter, though a neighbour that hangs on
    one of its pieces may be nearer. Letters apart from each other stay apart. `reach_mm` is how
    far the region stands out over its letters.
    """
    links: list[Link] = []
    tree = STRtree(letters)
    for number, letter in enumerate(letters):
        while True:
            every = polygons(region)
            pieces = [p for p in every if shapely.intersects(p, letter)]
            if len(pieces) < 2:
                break
            ink = [shapely.intersection(p, letter) for p in pieces]
            gaps = [_outside(line, region) for line in _closest_pairs(ink)]
            links += [Link(line, line.length) for line in gaps]
            around = letter.buffer(reach_mm + 2 * width_mm)
            others = [letters[k] for k in sorted(tree.query(around).tolist()) if k != number]
            foreign = shapely.union_all(others).buffer(reach_mm + _TOUCH_MM)
            mine = shapely.intersection(region, letter.buffer(reach_mm + _TOUCH_MM))
            own = shapely.union_all([shapely.difference(mine, foreign), *ink])
            region = _linked(every, gaps, width_mm, tolerance_mm, own)
    return region, tuple(links)


def _outside(line: LineString, region: Region) -> LineString:
    """Return the longest part of a line that lies outside of a region, the line where none does."""
    parts = shapely.get_parts(shapely.difference(line, region)).tolist()
    gaps = [p for p in parts if isinstance(p, LineString) and p.length > 0]
    return max(gaps, key=lambda g: g.length, default=line)


def _closest_pairs(pieces: Sequence[BaseGeometry]) -> list[LineString]:
    """Return the shortest lines along the minimum spanning tree of the gaps.

    The shortest gap that joins what is not joined yet comes next (Kruskal 1956). A gap is measured
    only when the distance of the boxes, which it is never below, is the shortest that is left.
    """
    boxes = np.array([shapely.box(*piece.bounds) for piece in pieces], dtype=object)
    i, j = np.triu_indices(len(pieces), 1)
    least = np.asarray(shapely.distance(boxes[i], boxes[j]))
    waiting: list[tuple[float, int, int, LineString | None]] = [
        (gap, a, b, None) for gap, a, b in zip(least.tolist(), i.tolist(), j.tolist(), strict=True)
    ]
    heapq.heapify(waiting)
    group = list(range(len(pieces)))
    found: list[tuple[int, int, LineString]] = []
    while len(found) < len(pieces) - 1:
        _, a, b, line = heapq.heappop(waiting)
        if group[a] == group[b]:
            continue
        if line is None:
            line = shapely.shortest_line(pieces[a], pieces[b])
            heapq.heappush(waiting, (line.length, a, b, line))
            continue
        found.append((a, b, line))
        group = [group[a] if g == group[b] else g for g in group]
    return [line for *_, line in sorted(found, key=lambda pair: pair[:2])]


def _lengthened(line: LineString, by_mm: float) -> LineString:
    (x0, y0), (x1, y1) = line.coords[0][:2], line.coords[-1][:2]
    length = line.length
    if length < ROUNDING:
        return LineString([(x0 - by_mm, y0), (x0 + by_mm, y0)])
    ux, uy = (x1 - x0) / length * by_mm, (y1 - y0) / length * by_mm
    return LineString([(x0 - ux, y0 - uy), (x1 + ux, y1 + uy)])
