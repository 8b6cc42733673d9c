"""The plane, exactly: which cylinders cut into what must stay, and the area that a cutter sweeps.

A height field is blind below a cell. Walls that are cut by the side of a cylinder (flat cutter,
beam, the shank of a drill) are checked in the plane instead: the axis must keep its radius away
from every region that stays. Distances between segments and polygons are exact; arcs stand for
themselves through chords within the sagitta of the toolpath.

Swept areas are buffers of the path. Their round ends and corners are polygons inscribed in the
circle, so a swept area is never too large, and too small by at most `SWEEP_SAG_MM` at its edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import CutterKind
from letterply.proof.reading.moves import Boxed, Segments, clip_below
from letterply.proof.reading.toolpath import Toolpath
from letterply.proof.removal.raster import bucketed, edges_of, sides_near
from letterply.shapes import ROUNDING, SAME_MM
from letterply.stacks import Part

__all__ = [
    "ALLOWANCE_MM",
    "SWEEP_SAG_MM",
    "PlaneGouge",
    "SideCuts",
    "Sweep",
    "circle",
    "find_plane_gouge",
    "quad_segs",
    "side_cuts",
    "standing_face",
    "sweep",
    "through_sweeps",
]

ALLOWANCE_MM = 0.02
"""How far a wall may be cut into: twice the default tolerance of an arc that stands for a curve."""

SWEEP_SAG_MM = 0.004
_ROUNDING_MM = 0.001
"""A cut counts as reaching a level from this far above it: heights are written with 3 decimals."""
_SKIM_MM = 0.02
"""Depth from which on a cutter counts as cutting in the plane."""

_CYLINDERS = (CutterKind.FLAT, CutterKind.DRILL, CutterKind.BEAM)


def quad_segs(radius_mm: float, sagitta_mm: float) -> int:
    """Return the segments a quarter turn that keep a buffer within a sagitta.

    GEOS rounds the number of steps of an arc, so a step can be half as long again as asked for
    and the sagitta 2.25 times as large: measured, see the tests.
    """
    share = min(1.0, sagitta_mm / 2.25 / max(radius_mm, SAME_MM))
    return max(2, math.ceil(math.pi / 2 / (2 * math.acos(1 - share))))


def circle(x_mm: float, y_mm: float, radius_mm: float) -> shapely.Polygon:
    """Return a circle as a polygon, inscribed within `SWEEP_SAG_MM`."""
    found: shapely.Polygon = shapely.Point(x_mm, y_mm).buffer(
        radius_mm, quad_segs=quad_segs(radius_mm, SWEEP_SAG_MM)
    )
    return found


def standing_face(part: Part) -> BaseGeometry:
    """Return where the face of a part must stay untouched: its outline without all features."""
    gone: list[BaseGeometry] = [p.region for p in part.pockets]
    gone += [g.region for g in part.grooves]
    gone += [
        circle(h.x_mm, h.y_mm, h.diameter_mm / 2) for h in part.holes if h.depth_mm is not None
    ]
    return part.outline.difference(shapely.unary_union(gone)) if gone else part.outline


@dataclass(frozen=True, slots=True)
class PlaneGouge:
    """A cut into a wall.

    Attributes:
        depth_mm: how far into the part, in the plane.
        area_mm2: area cut away, the allowance left out.
        where: (x, y) near the deepest place.
        move: index of the move that goes deepest.

    """

    depth_mm: float
    area_mm2: float
    where: tuple[float, float]
    move: int


@dataclass(frozen=True, slots=True, eq=False)
class SideCuts:
    """What one cylinder cuts with its side.

    Attributes:
        radius_mm: its radius.
        cuts: its segments, from the depth on at which they are full width.

    """

    radius_mm: float
    cuts: Boxed


def side_cuts(toolpath: Toolpath) -> tuple[SideCuts, ...]:
    """Return what the cylinders of a toolpath cut with their sides."""
    found: list[SideCuts] = []
    for index, (cutter, profile) in enumerate(
        zip(toolpath.cutters, toolpath.profiles, strict=True)
    ):
        if cutter.kind not in _CYLINDERS:
            continue
        level = -_SKIM_MM - profile.tip_length_mm if profile.rise else -_SKIM_MM
        mine = clip_below(toolpath.segments.take(toolpath.seg_cutter == index), level)
        if len(mine):
            found.append(SideCuts(profile.radius_mm, Boxed.of(mine)))
    return tuple(found)


def find_plane_gouge(
    sides: Sequence[SideCuts], standing: BaseGeometry, *, allowance_mm: float = ALLOWANCE_MM
) -> PlaneGouge | None:
    """Return how cylinders cut into a region that stays, or None when they keep clear of it."""
    if standing.is_empty:
        return None
    shapely.prepare(standing)
    edges = bucketed(edges_of(standing))
    worst: tuple[float, int, tuple[float, float]] | None = None
    swept: list[BaseGeometry] = []
    for side in sides:
        radius = side.radius_mm
        near = side.cuts.segments.take(side.cuts.near(standing.bounds, radius))
        lines = _as_lines(near)
        allowed = min(allowance_mm, radius / 2)
        # What has no side of the region near and does not begin inside it keeps clear of it.
        within = sides_near(near.starts, near.ends, edges, radius - allowed + SAME_MM)
        within |= shapely.contains_xy(standing, near.starts[:, :2])
        bad = np.flatnonzero(within)
        bad = bad[shapely.dwithin(standing, lines[bad], radius - allowed)]
        if not len(bad):
            continue
        depths = radius - shapely.distance(standing, lines[bad])
        inside = depths >= radius
        if inside.any():
            middles = shapely.centroid(lines[bad[inside]])
            depths[inside] += shapely.distance(shapely.boundary(standing), middles)
        i = int(np.argmax(depths))
        if worst is None or depths[i] > worst[0]:
            at = shapely.shortest_line(standing, lines[bad[i]])
            x, y = shapely.get_coordinates(at)[0]
            worst = float(depths[i]), int(near.moves[bad[i]]), (float(x), float(y))
        # One by one and then united: thousands of them in one buffer take GEOS gigabytes.
        areas = shapely.buffer(lines[bad], radius, quad_segs=quad_segs(radius, SWEEP_SAG_MM))
        swept.append(shapely.union_all(areas))
    if worst is None:
        return None
    core = standing.buffer(-allowance_mm, join_style="mitre")
    area = shapely.unary_union(swept).intersection(core).area
    return PlaneGouge(worst[0], float(area), worst[2], worst[1])


def _as_lines(segments: Segments) -> NDArray[np.object_]:
    """Return segments as lines in the plane, vertical ones as points."""
    ends = np.stack([segments.starts[:, :2], segments.ends[:, :2]], axis=1)
    lines = np.asarray(shapely.linestrings(ends), dtype=object)
    still = np.hypot(*(ends[:, 1] - ends[:, 0]).T) < ROUNDING
    lines[still] = shapely.points(ends[still, 0])
    return lines


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """Paths of one cutter in the plane, at one radius, in order.

    Attributes:
        radius_mm: radius that it cuts at the level asked for.
        lines: (k,) object array of lines and points.
        stays: (k,) int64, number of the stay of each.
        swept: path as WKB -> the area that it sweeps, where that was asked for: rings that lie
            close to each other ask for the same paths, and so do levels between which a path does
            not rise.

    """

    radius_mm: float
    lines: NDArray[np.object_]
    stays: NDArray[np.int64]
    swept: dict[bytes, BaseGeometry] = field(default_factory=dict)

    def areas(self, chosen: NDArray[np.bool_]) -> list[BaseGeometry]:
        """Return the area that each of some paths sweeps."""
        lines = self.lines[chosen]
        keys: list[bytes] = shapely.to_wkb(lines).tolist()
        new = [k for k, key in enumerate(keys) if key not in self.swept]
        if new:
            self.swept.update(
                zip((keys[k] for k in new), _swept(lines[new], self.radius_mm), strict=True)
            )
        return [self.swept[key] for key in keys]


def through_sweeps(
    toolpath: Toolpath, level_mm: float, like: Sequence[Sweep] = ()
) -> tuple[Sweep, ...]:
    """Return the paths that cut at a level or below, chained, for each cutter and radius.

    Pointed cutters have the radius of their profile at the level; a sloping path of theirs
    counts with the radius of its higher end, which is too small rather than too large. `like`
    are the paths at another level: what is the same there is not swept again.
    """
    found: list[Sweep] = []
    known = {one.radius_mm: one.swept for one in like}
    for index, profile in enumerate(toolpath.profiles):
        chosen = np.flatnonzero(toolpath.seg_cutter == index)
        pieces = toolpath.segments.take(chosen)
        stays = toolpath.stays[chosen]
        numbered = clip_below(
            Segments(pieces.starts, pieces.ends, np.arange(len(chosen))), level_mm + _ROUNDING_MM
        )
        stays = stays[numbered.moves]
        if not len(numbered):
            continue
        if profile.tip_length_mm == 0:
            radii = np.full(len(numbered), profile.radius_mm)
        else:
            flat = np.hypot(*(numbered.ends - numbered.starts)[:, :2].T) < ROUNDING
            lower = np.minimum(numbered.starts[:, 2], numbered.ends[:, 2])
            upper = np.maximum(numbered.starts[:, 2], numbered.ends[:, 2])
            tips = np.where(flat, lower, upper)
            radii = np.array([round(profile.radius_at(level_mm - z), 4) for z in tips])
        for radius in np.unique(radii):
            mine = radii == radius
            if radius > 0:
                lines, owners = _chains(numbered.take(mine), stays[mine])
                # GEOS may note a box when it is first asked for: not by two threads at once.
                shapely.bounds(lines)
                swept = known.setdefault(float(radius), {})
                found.append(Sweep(float(radius), lines, owners, swept))
    return tuple(found)


def _chains(
    segments: Segments, stays: NDArray[np.int64]
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Join segments that follow each other in one stay into lines."""
    a, b = segments.starts[:, :2], segments.ends[:, :2]
    breaks = np.ones(len(segments), dtype=bool)
    breaks[1:] = (stays[1:] != stays[:-1]) | (np.abs(a[1:] - b[:-1]).max(axis=1) > SAME_MM)
    firsts = np.flatnonzero(breaks)
    lines: list[BaseGeometry] = []
    for first, stop in zip(firsts, [*firsts[1:], len(segments)], strict=True):
        points = np.vstack([a[first], b[first:stop]])
        moved = np.ones(len(points), dtype=bool)
        moved[1:] = np.abs(np.diff(points, axis=0)).max(axis=1) > ROUNDING
        points = points[moved]
        lines.append(shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0]))
    out = np.empty(len(lines), dtype=object)
    out[:] = lines
    return out, stays[firsts]


def sweep(
    sweeps: tuple[Sweep, ...],
    bounds: tuple[float, float, float, float],
    *,
    last_stay: int | None = None,
) -> BaseGeometry:
    """Return the area that the paths near a box sweep, up to and with a stay."""
    box = shapely.box(*bounds)
    shapely.prepare(box)
    areas: list[BaseGeometry] = []
    for one in sweeps:
        near = shapely.dwithin(box, one.lines, one.radius_mm)
        if last_stay is not None:
            near &= one.stays <= last_stay
        if near.any():
            areas += one.areas(near)
    return _united(areas) if areas else shapely.Polygon()


def _swept(lines: NDArray[np.object_], radius_mm: float) -> list[BaseGeometry]:
    """Return the area that each path sweeps.

    Where a path lies almost on itself or on another, round after round, GEOS may leave out a long
    piece of what they sweep together. Each is widened on its own, and again without its overlaps
    when its area does not hold it.
    """
    steps = quad_segs(radius_mm, SWEEP_SAG_MM)
    paths = shapely.simplify(lines, 0.001)
    areas = shapely.buffer([_once(path) for path in paths], radius_mm, quad_segs=steps)
    for k in np.flatnonzero(~shapely.covers(areas, paths)).tolist():
        areas[k] = shapely.buffer(shapely.unary_union(paths[k]), radius_mm, quad_segs=steps)
    found: list[BaseGeometry] = areas.tolist()
    return found


def _once(path: BaseGeometry) -> BaseGeometry:
    """Return a path without the sides that it goes along again, whichever way.

    A helix, or a stretch to and fro, lies on itself turn after turn, on which GEOS takes several
    times as long to widen it; the area is the same.
    """
    points = shapely.get_coordinates(path)
    if len(points) < 3:
        return path
    a, b = points[:-1], points[1:]
    back = (a[:, 0] > b[:, 0]) | ((a[:, 0] == b[:, 0]) & (a[:, 1] > b[:, 1]))
    sides = np.hstack((a, b))
    alike = np.where(back[:, None], np.hstack((b, a)), sides)
    _, first = np.unique(alike, axis=0, return_index=True)
    if len(first) == len(sides):
        return path
    kept = sides[np.sort(first)]
    breaks = np.flatnonzero((kept[1:, :2] != kept[:-1, 2:]).any(axis=1)) + 1
    runs = np.split(kept, breaks)
    return shapely.MultiLineString([np.vstack((run[:1, :2], run[:, 2:])) for run in runs])


def _united(areas: list[BaseGeometry]) -> BaseGeometry:
    """Return the union of areas; where GEOS stumbles over one of its own, after repairing that.

    Now and then a swept area comes out of `buffer` invalid. Repairing and snapping to a nanometre
    are slower, and so the second way.
    """
    try:
        return shapely.unary_union(areas)
    except GEOSException:
        return shapely.union_all(shapely.buffer(np.array(areas), 0), grid_size=SAME_MM)
