"""Thin places made sturdy: an outline in, the same outline grown where it is thinner than a limit.

Discs of half the limit along the thin part of the medial axis are added: the outline moves by
just what is missing on either side. What is added fades out into the strokes beside it, or the
whole outline is made heavier by what the thinnest stroke lacks, as asked. Gaps and counters keep
the width of a cutter in their middle where they have it, and stay as they are where they have
not; beside such a gap the discs move over, and the stroke grows on its other side. Blunt ends stay
blunt.
Corners that the cutter would leave round in an addition are rounded. All mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from letterply.shapes import (
    EMPTY,
    SAME_MM,
    MedialAxis,
    Region,
    ThinRuns,
    as_region,
    both_axes,
    largest_disc,
    normalise,
    offset,
    polygons,
    quad_segments,
    thin_runs,
)
from letterply.stacks.repairs.blunt_ends import blunt_ends
from letterply.stacks.repairs.tapering import Taper, tapered

__all__ = ["Growth", "strengthen"]

_Floats = NDArray[np.float64]

_JUDGED_DEG = 60.0
"""Separation angle below which a branch of an axis is a corner, as the checks judge it."""

_BODY_DEG = 110.0
"""The same for what discs follow: branches into right angles are not."""

_ROUNDS = 4
"""One round does what has room on both sides, the others what had to be shifted."""

_CLEFT_DEG = 12.0
"""A gap that opens under a wider angle may fill at its bottom."""

_HEART = 0.7
"""Share of its greatest width down to which a counter is kept open."""

_STEP = 1 / 8
"""Spacing of discs of different sizes, in limits."""


_NONE = np.empty(0, dtype=np.int64)
_NO_RUNS = ThinRuns(np.empty((0, 2, 2)), np.empty((0, 2)), _NONE, _NONE)


@dataclass(frozen=True, slots=True)
class Growth:
    """A thin place that was made sturdy.

    Attributes:
        at: where it was thinnest.
        width_mm: how wide it was there.
        region: what was added.

    """

    at: tuple[float, float]
    width_mm: float
    region: Region


def strengthen(
    region: Region, limit_mm: float, gap_mm: float, tolerance_mm: float, way: str = "taper"
) -> tuple[Region, tuple[Growth, ...]]:
    """Return the region with necks and strokes of at least the limit, and what was added where.

    Args:
        region: the outline.
        limit_mm: least width of a stroke; plain corners and tips stay pointed.
        gap_mm: width of a cutter: what gaps and counters keep in their middle.
        tolerance_mm: how far offsets may stray, to the sturdy side.
        way: `taper` lets growth fade out into what is wide enough, `even` moves the whole outline
            by what the thinnest stroke lacks.

    Where gaps leave no room on either side, a place stays thinner than the limit. A region
    without thin places comes back as it is.

    """
    wish = _Wish(limit_mm, gap_mm, tolerance_mm)
    grown, thin, open_ = region, _NO_RUNS, EMPTY
    for number in range(_ROUNDS):
        inside, outside = both_axes(grown, 2 * limit_mm + gap_mm)
        judged, body = inside.peel(_JUDGED_DEG), inside.peel(_BODY_DEG)
        runs = thin_runs(judged, limit_mm, tolerance_mm, reach_mm=wish.half, body=body)
        whole = thin_runs(judged, limit_mm, tolerance_mm, reach_mm=0, body=body)
        specks = _specks(grown, wish.half)
        if not len(whole.ends) and not specks:
            break
        first = _First()
        if not number:
            # Of the outline as it was: what growth leaves of a gap must not be taken by more.
            thin = whole
            if len(runs.ends):
                taper = tapered(body, runs, limit_mm, _STEP * limit_mm, tolerance_mm)
                first = _evenly(grown, taper, wish) if way == "even" else _fading(taper, wish)
            thin_part = [_band(whole.ends, 0.1, 0.1), *(s for _, s in specks), first.extent]
            near = shapely.buffer(shapely.union_all(thin_part), 2 * limit_mm, quad_segs=4)
            kept = _kept_open(outside, near, wish), _hearts(region, near, wish)
            open_ = as_region(shapely.union(*kept))
        more = [*blunt_ends(grown, whole, wish.half), *specks]
        wider = _thickened(grown, runs, more, first, open_, wish)
        if wider.area - grown.area < tolerance_mm * limit_mm:
            break
        grown = wider
    if grown is region:
        return region, ()
    return grown, _growths(region, grown, thin, limit_mm)


@dataclass(frozen=True, slots=True)
class _Wish:
    """The limit, the width that gaps keep, how far offsets may stray."""

    limit: float
    gap: float
    tolerance: float

    @property
    def half(self) -> float:
        return self.limit / 2 + self.tolerance


@dataclass(frozen=True, slots=True)
class _First:
    """What the first round adds beyond the limit itself; later ones have no stroke to fade into.

    Attributes:
        whole: what stays where it is.
        chains: points and radii of discs, which move over beside gaps.
        extent: near which gaps may close.

    """

    whole: Region = EMPTY
    chains: Sequence[tuple[_Floats, _Floats]] = ()
    extent: BaseGeometry = EMPTY


def _evenly(region: Region, taper: Taper, wish: _Wish) -> _First:
    """Return the whole region grown by what the thinnest stroke lacks."""
    grown = offset(region, float(taper.growth.max()) + wish.tolerance, wish.tolerance)
    return _First(grown, extent=shapely.box(*region.bounds))


def _fading(taper: Taper, wish: _Wish) -> _First:
    """Return the discs of growth that fades out."""
    chains = taper.chains(wish.half, 2 * wish.tolerance)
    extent = shapely.MultiLineString([points.tolist() for points, _ in chains])
    return _First(chains=chains, extent=extent)


def _specks(region: Region, half: float) -> list[tuple[tuple[float, float], Polygon]]:
    """Return what makes pieces sturdy that are smaller than a disc, with their middles.

    A dot grows all round.
    """
    found: list[tuple[tuple[float, float], Polygon]] = []
    for piece in polygons(region):
        left, low, right, high = piece.bounds
        if max(right - left, high - low) >= 4 * half:
            continue
        at, room = largest_disc(piece)
        if room < half - SAME_MM:
            by = half - room
            grown = polygons(shapely.buffer(piece, by, join_style="mitre", mitre_limit=1.5))
            found += [(at, p) for p in grown]
    return found


def _thickened(
    region: Region,
    runs: ThinRuns,
    more: Sequence[tuple[tuple[float, float], Polygon]],
    first: _First,
    open_: Region,
    wish: _Wish,
) -> Region:
    half, tolerance = wish.half, wish.tolerance
    ends = runs.split(_STEP * wish.limit).ends
    shapes: list[BaseGeometry] = [shape for _, shape in more]
    places = [points for points, _ in first.chains]
    if not open_.is_empty:
        ends = _moved_over(ends, open_, half)
        anchors = np.array([at for at, _ in more]).reshape(-1, 2)
        by = _moved_over(anchors, open_, half) - anchors
        shapes = [translate(s, *xy) for s, xy in zip(shapes, by.tolist(), strict=True)]
        places = [_moved_over(points, open_, half) for points in places]
    for points, (_, radii) in zip(places, first.chains, strict=True):
        pairs = np.stack((points[:-1], points[1:]), axis=1)
        shapes += _capsules(pairs, np.column_stack((radii[:-1], radii[1:])), 2 * tolerance).tolist()
    added = shapely.union_all([_band(ends, half, tolerance), first.whole, *shapes])
    added = shapely.difference(added, open_)
    thick = as_region(shapely.union(region, _attached(as_region(added), region)))
    return normalise(_rounded(thick, region, open_, wish.gap / 2, tolerance))


def _band(ends: _Floats, half: float, tolerance: float) -> Region:
    """Return what lies within a distance of runs, no less."""
    if not len(ends):
        return EMPTY
    runs = shapely.MultiLineString(np.round(ends, 6).tolist())
    lines = shapely.simplify(shapely.line_merge(runs), tolerance / 2)
    segments = quad_segments(half, tolerance / 2)
    grown: BaseGeometry = lines.buffer(half + tolerance, quad_segs=segments)
    return as_region(grown)


def _moved_over(ends: _Floats, open_: Region, half: float) -> _Floats:
    """Return the ends moved away from what is kept open until a disc clears it.

    Between two gaps a disc settles in the middle.
    """
    shapely.prepare(open_)
    moved = ends.reshape(-1, 2).copy()
    for share in (1.0, 0.5, 0.5):
        points = np.asarray(shapely.points(moved), dtype=object)
        room = np.asarray(shapely.distance(points, open_))
        tight = np.flatnonzero((room < half) & (room > 0))
        if not len(tight):
            break
        lines = shapely.shortest_line(points[tight], open_)
        nearest = shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 1]
        away = (moved[tight] - nearest) / room[tight, None]
        moved[tight] += away * (share * (half - room[tight]))[:, None]
    return moved.reshape(ends.shape)


def _rounded(
    thick: Region, region: Region, open_: Region, radius: float, tolerance: float
) -> Region:
    """Return the region with the corners rounded in which an addition meets the old outline."""
    if radius <= 0:
        return thick
    fresh = shapely.difference(thick, region)
    near = shapely.intersection(thick, shapely.buffer(fresh, 6 * radius, quad_segs=4))
    closed = offset(offset(as_region(near), radius, tolerance), -radius, tolerance)
    fillets = shapely.intersection(closed, shapely.buffer(fresh, 2 * radius, quad_segs=4))
    fillets = shapely.difference(shapely.difference(fillets, open_), thick)
    pieces = np.array(polygons(fillets), dtype=object)
    solid = pieces[shapely.area(pieces) > tolerance * radius] if len(pieces) else pieces
    return as_region(shapely.union_all([thick, *solid.tolist()]))


def _lines(runs: ThinRuns) -> NDArray[np.object_]:
    return np.asarray(shapely.linestrings(runs.ends), dtype=object)


def _attached(added: Region, region: Region) -> Region:
    """Return the pieces of an addition that hang on the region; a gap may cut some off."""
    pieces = [p for p in polygons(added) if shapely.intersects(p, region)]
    return as_region(shapely.MultiPolygon(pieces))


def _kept_open(outside: MedialAxis, near: BaseGeometry, wish: _Wish) -> Region:
    """Return the middle of gaps that must not close, as wide as the cutter or as they are.

    Left out are the ends of gaps that run to a point: to fill them costs nothing but depth.
    """
    limit, gap, tolerance = wish.limit, wish.gap, wish.tolerance
    runs = thin_runs(
        outside.peel(_BODY_DEG),
        gap + limit,
        tolerance,
        reach_mm=gap / 2 + tolerance,
        tip_angle_deg=_CLEFT_DEG,
        short_mm=1.5 * (gap + limit),
    )
    if not len(runs.ends):
        return EMPTY
    runs = runs.split(_STEP * limit)
    shapely.prepare(near)
    widest = np.zeros(len(runs.exits))
    np.maximum.at(widest, runs.zone, runs.radii.max(axis=1))
    narrow = (runs.exits[runs.zone] == 0) & (runs.radii.max(axis=1) < _HEART * widest[runs.zone])
    hit = shapely.intersects(near, _lines(runs)) & ~narrow
    radii = np.minimum(runs.radii[hit], gap / 2 + tolerance)
    return as_region(shapely.union_all(list(_capsules(runs.ends[hit], radii, tolerance))))


def _hearts(region: Region, near: BaseGeometry, wish: _Wish) -> Region:
    """Return the roomiest place of each counter: a round one has no axis to keep open."""
    limit, gap, tolerance = wish.limit, wish.gap, wish.tolerance
    found = []
    for piece in region.geoms:
        for ring in piece.interiors:
            hole = Polygon(ring)
            left, low, right, high = hole.bounds
            if min(right - left, high - low) > gap + 2 * limit or not near.intersects(hole):
                continue
            at, room = largest_disc(hole)
            radius = min(room, gap / 2 + tolerance)
            segments = quad_segments(radius, tolerance)
            found.append(shapely.buffer(shapely.Point(at), radius, quad_segs=segments))
    return as_region(shapely.union_all(found))


def _capsules(ends: _Floats, radii: _Floats, tolerance: float) -> NDArray[np.object_]:
    """Return the hull of the discs at both ends of each run."""
    if not len(ends):
        return np.empty(0, dtype=object)
    sides = 4 * quad_segments(float(radii.max()), tolerance)
    turn = np.arange(sides) * (2 * math.pi / sides)
    # The corners lie outside the disc, so that its rim is never cut short.
    rim = np.column_stack((np.cos(turn), np.sin(turn))) / math.cos(math.pi / sides)
    discs = ends[:, :, None, :] + radii[:, :, None, None] * rim
    points = np.asarray(shapely.points(discs.reshape(len(ends), -1, 2)), dtype=object)
    return np.asarray(shapely.convex_hull(shapely.multipoints(points)), dtype=object)


def _growths(before: Region, after: Region, thin: ThinRuns, limit: float) -> tuple[Growth, ...]:
    """Return what was added, each piece with the thin zone that it lies nearest to."""
    fresh = [p for p in polygons(shapely.difference(after, before)) if p.area > 1e-4]
    if not fresh:
        return ()
    found = []
    places = _places(before, thin, limit)
    shapes = np.array([p for p, _, _ in places], dtype=object)
    near = np.argmin(shapely.distance(np.array(fresh, dtype=object)[:, None], shapes), axis=1)
    for k in np.unique(near).tolist():
        pieces: list[Polygon] = [p for p, n in zip(fresh, near, strict=True) if n == k]
        _, at, width = places[k]
        found.append(Growth(at, width, normalise(shapely.MultiPolygon(pieces))))
    return tuple(sorted(found, key=lambda g: (g.at, g.width_mm)))


def _places(
    before: Region, thin: ThinRuns, limit: float
) -> list[tuple[BaseGeometry, tuple[float, float], float]]:
    """Return of every thin place its extent, where it is thinnest, and how wide it is there."""
    found: list[tuple[BaseGeometry, tuple[float, float], float]] = []
    for zone in range(len(thin.exits)):
        mine = thin.of([zone])
        place = np.unravel_index(int(np.argmin(mine.radii)), mine.radii.shape)
        x, y = mine.ends[place]
        extent = shapely.MultiLineString(mine.ends.tolist())
        found.append((extent, (float(x), float(y)), 2 * float(mine.radii[place])))
    touched = shapely.union_all([g for g, _, _ in found])
    for piece in polygons(before):
        if not shapely.intersects(touched, piece):
            at, radius = largest_disc(piece)
            if 2 * radius < limit:
                found.append((shapely.Point(at), at, 2 * radius))
    return found
