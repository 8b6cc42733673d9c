"""Scribed lines and drag paths in, what was not drawn and what was drawn elsewhere out.

A scribed line is thinner than most cells of a field, so it is judged as a line: it must lie
within `LINE_MM` of a path that goes to its depth, and a drag point inside a part must stay within
`LINE_MM` of a line of that part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import CutterKind
from letterply.proof.reading.moves import Segments
from letterply.proof.reading.toolpath import Toolpath
from letterply.shapes import side_distances, sides_of
from letterply.stacks import Part

__all__ = ["LINE_MM", "LineFault", "find_stray", "find_undrawn"]

LINE_MM = 0.05
"""How far a scribed line may lie beside its place."""

_DEPTH_MM = 0.03
_SHORT_MM = 0.1
"""What lies within `LINE_MM` of the end of a path counts as drawn, so a line that is 0.2 mm short
shows 0.15 mm."""

_STEP_MM = 0.03
_SURELY_MM = 0.03
"""Where no place on a line, `_STEP_MM` apart, lies farther than this from a path, all of it lies
within `LINE_MM`: what lies between is half a step farther at most, and 0.003 mm are what the round
ends of `_cover`, which are polygons, may lack."""

_SUM_MM = 0.15
_SPECK_MM = 0.02
_STRAY_MM = 0.2
_LIFT_MM = 0.005


@dataclass(frozen=True, slots=True)
class LineFault:
    """Lines that are missing, or that are where none should be.

    Attributes:
        length_mm: summed length.
        depth_mm: depth of the line, wanted or drawn.
        where: (x, y) on the longest piece.
        move: index of the move that draws it, None for a missing line.

    """

    length_mm: float
    depth_mm: float
    where: tuple[float, float]
    move: int | None = None


def find_undrawn(toolpath: Toolpath, part: Part) -> tuple[LineFault, ...]:
    """Return for each scribe of a part what of its lines no pointed cutter draws deep enough."""
    found: list[LineFault] = []
    for scribe in part.scribes:
        lines = shapely.MultiLineString(list(scribe.lines))
        if lines.is_empty:
            continue
        level = -scribe.depth_mm + min(_DEPTH_MM, scribe.depth_mm / 3)
        rest: BaseGeometry = lines
        for kind in (CutterKind.DRAG, CutterKind.VBIT):
            if not rest.is_empty:
                drawn = _paths(toolpath, (kind,), level, rest.bounds)
                if _surely_near(rest, drawn):
                    rest = shapely.LineString()
                else:
                    rest = rest.difference(_cover(drawn, rest))
        left = _longer(rest)
        if left and (left[-1].length > _SHORT_MM or sum(p.length for p in left) > _SUM_MM):
            total = sum(p.length for p in left)
            found.append(LineFault(total, scribe.depth_mm, _middle(left[-1])))
    return tuple(found)


def find_stray(toolpath: Toolpath, part: Part) -> LineFault | None:
    """Return what a drag point draws on a part where no line is wanted."""
    drawn = _paths(toolpath, (CutterKind.DRAG,), -_LIFT_MM, part.outline.bounds)
    wanted = shapely.MultiLineString([line for s in part.scribes for line in s.whole])
    drawn = drawn.take(~_surely_on(drawn, wanted))
    if not len(drawn) or not shapely.intersects(part.outline, _as_lines(drawn)).any():
        return None
    solid = part.outline.buffer(-LINE_MM).difference(wanted.buffer(LINE_MM, quad_segs=4))
    shapely.prepare(solid)
    lines = _as_lines(drawn)
    hits = np.flatnonzero(shapely.intersects(solid, lines))
    if not len(hits):
        return None
    pieces = shapely.intersection(solid, lines[hits])
    lengths = shapely.length(pieces)
    total = float(lengths.sum())
    if total <= _STRAY_MM:
        return None
    i = int(np.argmax(lengths))
    depth = float(-np.minimum(drawn.starts[hits, 2], drawn.ends[hits, 2]).min())
    return LineFault(total, depth, _middle(pieces[i]), int(drawn.moves[hits[i]]))


def _paths(
    toolpath: Toolpath,
    kinds: tuple[CutterKind, ...],
    level_mm: float,
    bounds: tuple[float, float, float, float],
) -> Segments:
    cutters = [index for index, c in enumerate(toolpath.cutters) if c.kind in kinds]
    mine = toolpath.below(cutters, level_mm)
    return mine.segments.take(mine.near(bounds, 1.0))


def _surely_on(segments: Segments, lines: BaseGeometry) -> NDArray[np.bool_]:
    """Tell which segments lie near lines all along; False also where that is not plain, (m,)."""
    sides = sides_of(lines)
    if not (len(sides) and len(segments)):
        return np.zeros(len(segments), dtype=np.bool_)
    starts, along = segments.starts[:, :2], (segments.ends - segments.starts)[:, :2]
    counts = np.ceil(np.hypot(*along.T) / _STEP_MM).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(segments)), counts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = step / np.maximum(counts - 1, 1)[owner]
    away = np.zeros(len(segments))
    places = starts[owner] + share[:, None] * along[owner]
    np.maximum.at(away, owner, side_distances(sides, places))
    near: NDArray[np.bool_] = away <= _SURELY_MM
    return near


def _as_lines(segments: Segments) -> NDArray[np.object_]:
    ends = np.stack([segments.starts[:, :2], segments.ends[:, :2]], axis=1)
    return np.asarray(shapely.linestrings(ends), dtype=object)


def _surely_near(lines: BaseGeometry, segments: Segments) -> bool:
    """Tell whether lines lie near segments all along; False also where that is not plain."""
    if not len(segments):
        return False
    places = shapely.get_coordinates(shapely.segmentize(lines, _STEP_MM))
    sides = np.hstack((segments.starts[:, :2], segments.ends[:, :2]))
    return float(side_distances(sides, places).max()) <= _SURELY_MM


def _cover(segments: Segments, lines: BaseGeometry) -> BaseGeometry:
    """Return the area within `LINE_MM` of those segments that come near the lines.

    One by one and then united: thousands of segments in one buffer take GEOS minutes.
    """
    paths = _as_lines(segments)
    tree = shapely.STRtree(paths)
    found = tree.query(shapely.get_parts(lines), predicate="dwithin", distance=LINE_MM)
    near = np.unique(found[1])
    return shapely.union_all(shapely.buffer(paths[near], LINE_MM, quad_segs=4))


def _longer(line: BaseGeometry) -> list[BaseGeometry]:
    """Return the connected pieces of a line but for specks, the longest last."""
    parts = [g for g in shapely.get_parts(line).tolist() if g.length > 0]
    if not parts:
        return []
    merged = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(parts))).tolist()
    return sorted((g for g in merged if g.length > _SPECK_MM), key=lambda g: float(g.length))


def _middle(line: BaseGeometry) -> tuple[float, float]:
    point = shapely.centroid(line)
    return float(point.x), float(point.y)
