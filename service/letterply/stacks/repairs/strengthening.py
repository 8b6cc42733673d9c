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
from shapely import MultiLineString, Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from letterply.shapes import (
    EMPTY,
    SAME_MM,
    MedialAxis,
    Region,
    ThinRuns,
    as_lines,
    as_region,
    both_axes,
    largest_disc,
    normalise,
    offset,
    outline_index,
    polygons,
    quad_segments,
    thin_runs,
)
from letterply.stacks.repairs.blunt_ends import blunt_ends
from letterply.stacks.repairs.fillets import rounded
from letterply.stacks.repairs.growths import Growth, growths_of, with_fading
from letterply.stacks.repairs.tapering import Taper, faded, tapered

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

_GOES_ON = 0.05
"""Share of the box ahead of a dead end of the axis above which the form goes on there."""

_BESIDE_MM = 0.5
"""How far beside a piece of an addition it is looked at whether it closes a gap."""

_NONE = np.empty(0, dtype=np.int64)
_NO_RUNS = ThinRuns(np.empty((0, 2, 2)), np.empty((0, 2)), _NONE, _NONE)


def strengthen(
    region: Region,
    limit_mm: float,
    gap_mm: float,
    tolerance_mm: float,
    way: str = "taper",
    *,
    reported: bool = True,
) -> tuple[Region, tuple[Growth, ...]]:
    """Return the region with necks and strokes of at least the limit, and what was added where.

    Args:
        region: the outline.
        limit_mm: least width of a stroke; plain corners and tips stay pointed.
        gap_mm: width of a cutter: what gaps and counters keep in their middle.
        tolerance_mm: how far offsets may stray, to the sturdy side.
        way: `taper` lets growth fade out into what is wide enough, `even` moves the whole outline
            by what the thinnest stroke lacks.
        reported: whether to tell what was added; without, no growths are returned.

    Where gaps leave no room on either side, a place stays thinner than the limit. A region
    without thin places comes back as it is.

    """
    wish = _Wish(limit_mm, gap_mm, tolerance_mm)
    grown, thin, open_ = region, _NO_RUNS, EMPTY
    taper: Taper | None = None
    around: MedialAxis | None = None
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
                extent = taper.extent(2 * tolerance_mm)
                first = _evenly(grown, taper, wish) if way == "even" else _First(extent=extent)
            around = outside
            thin_part = [_band(whole.ends, 0.1, 0.1), *(s for _, s in specks), first.extent]
            open_ = _open_near(thin_part, region, around, wish)
        more = [*blunt_ends(grown, whole, wish.half), *specks]
        wider = _thickened(grown, runs, more, first, open_, wish)
        if wider.area - grown.area < tolerance_mm * limit_mm:
            break
        grown = wider
    if grown is region:
        return region, ()
    growths = growths_of(region, grown, thin, limit_mm) if reported else ()
    if taper is None or around is None or way == "even":
        return grown, growths
    fading = _fading(taper, region, grown, around, open_, wish)
    return fading, with_fading(growths, grown, fading) if reported else ()


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
    """What the first round adds beyond the limit itself.

    Attributes:
        whole: what stays where it is.
        extent: near which gaps may close.

    """

    whole: Region = EMPTY
    extent: BaseGeometry = EMPTY


def _evenly(region: Region, taper: Taper, wish: _Wish) -> _First:
    """Return the whole region grown by what the thinnest stroke lacks."""
    grown = offset(region, float(taper.growth.max()) + wish.tolerance, wish.tolerance)
    return _First(grown, extent=shapely.box(*region.bounds))


def _open_near(
    places: Sequence[BaseGeometry], region: Region, around: MedialAxis, wish: _Wish
) -> Region:
    """Return what stays open of the gaps and counters of a region near some places."""
    # Each by itself, and lines joined: with thousands of short ones it takes ten times as long.
    few = [shapely.simplify(_joined(place), wish.tolerance) for place in places]
    near = shapely.union_all(shapely.buffer(few, 2 * wish.limit, quad_segs=4))
    return as_region(shapely.union(_kept_open(around, near, wish), _hearts(region, near, wish)))


def _joined(place: BaseGeometry) -> BaseGeometry:
    """Return lines that meet end to end as one; anything else as it is."""
    return shapely.line_merge(place) if isinstance(place, MultiLineString) else place


def _fading(
    taper: Taper, region: Region, grown: Region, around: MedialAxis, open_: Region, wish: _Wish
) -> Region:
    """Return a region grown to its limit with growth that fades out into what is wide.

    Beside what is `open_` already, gaps near what fades stay open, too.
    """
    chains = faded(taper, region, grown, wish.limit, _STEP * wish.limit, 2 * wish.tolerance)
    shapes: list[BaseGeometry] = []
    for points, radii in chains:
        pairs = np.stack((points[:-1], points[1:]), axis=1)
        both = np.column_stack((radii[:-1], radii[1:]))
        shapes += _capsules(pairs, both, 2 * wish.tolerance).tolist()
    if not shapes:
        return grown
    lines = [shapely.LineString(points.tolist()) for points, _ in chains]
    open_ = as_region(shapely.union(open_, _open_near(lines, region, around, wish)))
    kept = shapely.union(open_, _beyond_ends(taper, region, wish))
    fades = shapely.simplify(shapely.union_all(shapes), wish.tolerance / 2)
    added = as_region(shapely.difference(fades, kept))
    thick = as_region(shapely.union(grown, _attached(added, region)))
    thick = rounded(thick, region, open_, wish.gap / 2, wish.tolerance)
    return normalise(_without_bridges(grown, as_region(shapely.difference(thick, grown))))


def _without_bridges(grown: Region, added: Region) -> Region:
    """Return a region with an addition, but for pieces of that which would close a gap.

    It is no more than looks.
    """

    def joined(region: Region, more: BaseGeometry) -> Region:
        return as_region(shapely.union(region, more))

    whole = joined(grown, added)
    if _parts_and_holes(whole) == _parts_and_holes(grown):
        return whole

    def is_fit(piece: Polygon) -> bool:
        # What a piece joins or closes lies where it is: the rest of the region is no matter.
        left, low, right, high = piece.bounds
        box = shapely.box(
            left - _BESIDE_MM, low - _BESIDE_MM, right + _BESIDE_MM, high + _BESIDE_MM
        )
        near = as_region(shapely.intersection(grown, box))
        return _parts_and_holes(joined(near, piece)) == _parts_and_holes(near)

    fit = [p for p in polygons(added) if is_fit(p)]
    return joined(grown, as_region(shapely.union_all(fit)))


def _parts_and_holes(region: Region) -> tuple[int, int]:
    return len(region.geoms), sum(len(piece.interiors) for piece in region.geoms)


def _beyond_ends(taper: Taper, region: Region, wish: _Wish) -> BaseGeometry:
    """Return what lies just ahead of dead ends where the form ends, too: no stroke gets longer."""
    tips, ahead, radii = taper.dead_ends()
    if not len(tips):
        return EMPTY
    reach = np.maximum(radii, wish.half)[:, None]
    left = np.column_stack((-ahead[:, 1], ahead[:, 0])) * reach
    near, far = tips + ahead * reach, tips + ahead * (reach + wish.half)
    corners = np.stack((near - left, far - left, far + left, near + left), axis=1)
    boxes = np.asarray(shapely.polygons(corners), dtype=object)
    goes_on = shapely.area(shapely.intersection(boxes, region)) > _GOES_ON * shapely.area(boxes)
    return shapely.union_all(boxes[~goes_on])


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
    if not open_.is_empty:
        ends = _moved_over(ends, open_, half)
        anchors = np.array([at for at, _ in more]).reshape(-1, 2)
        by = _moved_over(anchors, open_, half) - anchors
        shapes = [translate(s, *xy) for s, xy in zip(shapes, by.tolist(), strict=True)]
    added = shapely.union_all([_band(ends, half, tolerance), first.whole, *shapes])
    added = shapely.difference(added, open_)
    thick = as_region(shapely.union(region, _attached(as_region(added), region)))
    return normalise(rounded(thick, region, open_, wish.gap / 2, tolerance))


def _band(ends: _Floats, half: float, tolerance: float) -> Region:
    """Return what lies within a distance of runs, less by a tolerance at most, in few points."""
    if not len(ends):
        return EMPTY
    runs = as_lines(np.round(ends, 6))
    lines = shapely.simplify(shapely.line_merge(runs), tolerance / 2)
    segments = quad_segments(half, tolerance)
    grown: BaseGeometry = lines.buffer(half + tolerance, quad_segs=segments)
    return as_region(shapely.simplify(grown, tolerance / 4))


def _moved_over(ends: _Floats, open_: Region, half: float) -> _Floats:
    """Return the ends moved away from what is kept open until a disc clears it.

    Between two gaps a disc settles in the middle.
    """
    places, place = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True)
    index = outline_index(open_)
    shapely.prepare(open_)
    rest = np.arange(len(places))  # what had room enough has not been moved, and still has
    for share in (1.0, 0.5, 0.5):
        found, rows, room = index.within(places[rest], half)
        rest = rest[found]
        outside = ~shapely.intersects_xy(open_, *places[rest].T)
        rest, rows, room = rest[outside], rows[outside], room[outside]
        if not len(rest):
            break
        away = (places[rest] - index.nearest_on(places[rest], rows)) / room[:, None]
        places[rest] += away * (share * (half - room))[:, None]
    moved: _Floats = places[place].reshape(ends.shape)
    return moved


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
    hit = shapely.intersects(near, shapely.linestrings(runs.ends)) & ~narrow
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
    # A line through them has the same hull, and is one object where points would be dozens.
    around = shapely.linestrings(discs.reshape(len(ends), -1, 2))
    return np.asarray(shapely.convex_hull(around), dtype=object)
