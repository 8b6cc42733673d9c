"""Outlines and swept areas in, what parts the stock and what bridges it out.

For a ring of a part (its exterior, or a hole) and the radius r of the cutter that cuts it, two
lines tell everything. The *middle line* lies r away from the ring, where the axis has to go: it
must lie in the swept area everywhere but at tabs. It goes round inside corners as the axis does,
so a corner that the cutter leaves round is no gap. The *edge line* lies `EDGE_MM` away from what
the cutter can reach: where it is not swept although the middle line is, the ring was left too
large (or the hole too small).

A *gap* is a piece of the middle line that is not swept at the height of a tab. Where the middle
line is swept at that height and not at the underside, the cut is not through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from letterply.proof.judging.corners import FIT_MM, Left, edge_points, find_left, thick_rest
from letterply.proof.removal.exact import SWEEP_SAG_MM, Sweep, quad_segs, sweep
from letterply.shapes import SAME_MM, SPECK_MM2, as_region, outline_distances

__all__ = ["EDGE_MM", "Ring", "Severance", "judge_ring", "main_radius"]

EDGE_MM = 0.05
"""How much material may stand beyond a ring: twice what an offset that errs outward by 0.005,
an arc fitted within 0.01 and the sagitta of a swept area add up to."""

LEEWAY_MM = 0.025
"""A passage less than twice this wider than the cutter is not asked of it: a path that clears the
part by what its arcs may stray does not enter it, and a cutter that runs out a little would cut
its walls."""

_SNUG_MM = 0.002
_SPOT_MM = 0.1
_SHORT_MM = 0.1
_EDGE_SHORT_MM = 0.3
LONGEST_TAB_MM = 20.0
"""A gap longer than this, or than a third of its ring, is a cut that is missing and no tab.
Common practice, no source: tabs are 3 to 8 mm long."""

_LONGER = 0.25
"""By how much a tab may be longer than planned, and by the cutter's diameter: round a bend the line
on which it is measured is up to a radius longer or shorter at either end than the path."""


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """A ring of a part, as the area that the cutter keeps to one side of.

    Attributes:
        area: the ring filled.
        hole: True when the cutter goes inside it.
        nested_parts: parts that are cut out of the slug of a hole, filled.

    """

    area: Polygon
    hole: bool
    nested_parts: tuple[Polygon, ...] = ()
    _bands: dict[float, BaseGeometry] = field(init=False, default_factory=dict, repr=False)

    def band(self, radius_mm: float) -> BaseGeometry:
        """Return where the axis of a cutter runs that cuts along the ring, with some room; kept."""
        if radius_mm not in self._bands:
            wide = 1.2 * radius_mm + 0.5
            band = (
                self.area.difference(self.area.buffer(-wide))
                if self.hole
                else self.area.buffer(wide).difference(self.area)
            )
            shapely.prepare(band)
            self._bands[radius_mm] = band
        return self._bands[radius_mm]

    def offset(self, distance_mm: float) -> BaseGeometry:
        """Return the filled ring moved by a distance to the cutter's side."""
        signed = -distance_mm if self.hole else distance_mm
        moved = self.area.buffer(signed, quad_segs=quad_segs(abs(distance_mm), SWEEP_SAG_MM))
        return _without_specks(moved, self.area.boundary, abs(distance_mm))

    def middle(self, radius_mm: float) -> BaseGeometry:
        """Return the area round which the axis has to go: passages too tight for it are closed.

        In a hole with no wider passage the axis is asked to go where the hole is widest.
        """
        room, reach = self.room(radius_mm)
        if reach < radius_mm + LEEWAY_MM:
            return shapely.union(room, shapely.Point(self.centre).buffer(_SPOT_MM))
        back = LEEWAY_MM if self.hole else -LEEWAY_MM
        return room.buffer(back, quad_segs=quad_segs(LEEWAY_MM, SWEEP_SAG_MM))

    def room(self, radius_mm: float) -> tuple[BaseGeometry, float]:
        """Return the filled ring of places that an axis gets to for sure, and its distance.

        In a hole hardly wider than the cutter these are the places where it is widest. When
        they lie close together a hair's breadth decides which they are: then the axis may be at
        any of them, and what a cutter clears from there is asked.
        """
        reach = radius_mm + LEEWAY_MM
        room = self.offset(reach)
        if not (self.hole and room.is_empty):
            return room, reach
        snug = self.snug(radius_mm)
        room = self.offset(snug)
        widest = shapely.Point(self.centre)
        slack = float(shapely.hausdorff_distance(room, widest))
        wider = snug > radius_mm - _SPOT_MM
        if wider and slack < radius_mm / 2:
            return widest.buffer(_SNUG_MM), snug - slack
        return room, snug

    def snug(self, radius_mm: float) -> float:
        """Return how far from the walls the axis goes in a hole hardly wider than the cutter."""
        line = shapely.maximum_inscribed_circle(self.area, tolerance=_SNUG_MM / 10)
        widest = float(shapely.length(line))
        return widest - (_SNUG_MM if widest > radius_mm else _SPOT_MM)

    @property
    def centre(self) -> tuple[float, float]:
        """Centre of the largest disc in the ring."""
        line = shapely.maximum_inscribed_circle(self.area, tolerance=_SNUG_MM / 10)
        x, y = shapely.get_coordinates(line)[0].tolist()
        return x, y

    def reached(self, radius_mm: float) -> BaseGeometry:
        """Return the ring as a cutter can shape it."""
        return self.back(self.offset(radius_mm), radius_mm)

    def back(self, moved: BaseGeometry, distance_mm: float) -> BaseGeometry:
        """Return a filled ring that was moved to the cutter's side, moved back by a distance."""
        signed = distance_mm if self.hole else -distance_mm
        return moved.buffer(signed, quad_segs=quad_segs(distance_mm, SWEEP_SAG_MM))


@dataclass(frozen=True, slots=True)
class Severance:
    """How a ring is cut.

    Attributes:
        cut: False when no path cuts it at all.
        closed: True for a hole that is not cut because no cutter is narrow enough.
        tabs: the middle of each gap that is short enough for a tab.
        length_mm: length of the middle line.
        missing_mm: length of it that is not through, tabs apart.
        missing_at: a place on it, or None.
        long_mm: length on the underside of the longest tab that is longer than it may be, or 0.
        long_at: its middle, or None.
        tab_limit_mm: how long it may be.
        left_mm: how far material stands beyond the ring, at most.
        left_length_mm: over which length.
        left_at: a place on it, or None.
        round_area_mm2: area in corners that the cutter cannot reach.
        round_depth_mm: how far they are from what it reaches.
        round_at: the farthest place, or None.
        uncut: what a finer cutter of the rack reaches and none cut, or None.

    """

    cut: bool
    closed: bool = False
    tabs: tuple[tuple[float, float], ...] = ()
    length_mm: float = 0.0
    missing_mm: float = 0.0
    missing_at: tuple[float, float] | None = None
    long_mm: float = 0.0
    long_at: tuple[float, float] | None = None
    tab_limit_mm: float = math.inf
    left_mm: float = 0.0
    left_length_mm: float = 0.0
    left_at: tuple[float, float] | None = None
    round_area_mm2: float = 0.0
    round_depth_mm: float = 0.0
    round_at: tuple[float, float] | None = None
    uncut: Left | None = None


def _without_specks(area: BaseGeometry, line: BaseGeometry, distance_mm: float) -> BaseGeometry:
    """Return the offset of a line without holes that are none.

    That is a speck of rounding, where no axis goes, or a sliver between the fronts of the offset
    that lies too near to the line to be one of its holes.
    """
    if not isinstance(area, Polygon) or not area.interiors:
        return area
    shapely.prepare(line)
    kept = [
        hole
        for hole in area.interiors
        if Polygon(hole).area > SPECK_MM2
        and shapely.distance(hole, line) > distance_mm - 2 * SWEEP_SAG_MM
    ]
    return Polygon(area.exterior, kept)


def main_radius(ring: Ring, sweeps: tuple[Sweep, ...]) -> float | None:
    """Return the radius of the cutter that follows a ring, None when none does.

    That is the one with the longest path in the band where it would have to run; for a hole that
    no path runs along, the one that goes down inside it.
    """
    best: tuple[float, float] | None = None
    for one in sweeps:
        # The cutter may go down anywhere in a hole, but cutting nested parts does not cut it.
        band = ring.area if ring.hole and not ring.nested_parts else ring.band(one.radius_mm)
        shapely.prepare(band)
        near = one.lines[shapely.intersects(band, one.lines)]
        if not len(near):
            continue
        length = float(shapely.length(shapely.intersection(band, near)).sum())
        if best is None or length > best[0]:
            best = length, one.radius_mm
    return best[1] if best else None


def judge_ring(
    ring: Ring,
    radius_mm: float,
    through: BaseGeometry,
    held: BaseGeometry,
    *,
    finest_mm: float = math.inf,
    detail_mm: float = 0.0,
    foot_mm: float = math.inf,
    larger: tuple[Sweep, ...] = (),
) -> Severance:
    """Judge how a ring is cut.

    Args:
        ring: the ring.
        radius_mm: radius of the cutter that follows it.
        through: area swept at the underside, around the ring.
        held: area swept at the height of a tab, which holds `through`.
        finest_mm: radius of the narrowest cutter of the rack that cuts through.
        detail_mm: how deep an inside corner may stay round that it gets into.
        foot_mm: how long a tab is on the underside, as planned.
        larger: what larger cutters sweep at the underside, by cutter.

    """
    middle = ring.middle(radius_mm)
    line = middle.boundary
    gaps = _pieces(line.difference(held), _SHORT_MM)
    limit = min(LONGEST_TAB_MM, max(ring.area.length, line.length) / 3)
    short = [g for g in gaps if g.length <= limit]
    open_pieces = _pieces(line.difference(through), _SHORT_MM)
    tabbed = shapely.unary_union(short).buffer(SAME_MM) if short else Polygon()
    missing = [p for p in open_pieces if not p.intersects(tabbed)]
    feet = [p for p in open_pieces if p.intersects(tabbed)]
    missing += [p for p in feet if p.length > limit + 2 * radius_mm]
    most = (1 + _LONGER) * foot_mm + 2 * radius_mm
    long = max((p for p in feet if p.length > most), key=lambda p: p.length, default=None)
    left, left_mm = _left_standing(ring, radius_mm, (through, held), open_pieces, larger, detail_mm)
    reached = ring.reached(radius_mm)
    corners, depth, at = _round_corners(ring, radius_mm, reached, through)
    uncut = None
    if corners > 0 and finest_mm < radius_mm - _SNUG_MM:
        finer = ring.reached(finest_mm + LEEWAY_MM)
        missed = thick_rest(finer, reached) if ring.hole else thick_rest(reached, finer)
        swept = through
        if short:  # a tab stands in its place; a corner beside it is no deeper for that
            tabs = shapely.unary_union(short)
            missed = missed.difference(tabs.buffer(radius_mm + 0.3))
            foot = tabs.buffer(2 * radius_mm + 0.3)
            cut = foot.intersection(reached) if ring.hole else foot.difference(reached)
            swept = shapely.union(through, cut)
        uncut = find_left(missed, swept, detail_mm, wall=ring.area.boundary)
    worst = max(missing, key=lambda p: p.length, default=None)
    longest = max(left, key=lambda p: p.length, default=None)
    return Severance(
        cut=True,
        tabs=tuple(_middle_of(g) for g in short),
        length_mm=line.length,
        missing_mm=sum(p.length for p in missing),
        missing_at=None if worst is None else _middle_of(worst),
        long_mm=long.length if long is not None else 0.0,
        long_at=None if long is None else _middle_of(long),
        tab_limit_mm=most,
        left_mm=left_mm,
        left_length_mm=sum(p.length for p in left),
        left_at=None if longest is None else _middle_of(longest),
        round_area_mm2=corners,
        round_depth_mm=depth,
        round_at=at,
        uncut=uncut,
    )


def _left_standing(
    ring: Ring,
    radius_mm: float,
    swept: tuple[BaseGeometry, BaseGeometry],
    gaps: list[BaseGeometry],
    larger: tuple[Sweep, ...],
    detail_mm: float,
) -> tuple[list[BaseGeometry], float]:
    """Return the pieces of the edge line that are not swept, and the most left.

    Areas are `swept` at the underside and at the height of a tab. Gaps are left out, and what
    larger cutters leave round as deep as a corner may stay.
    """
    through, held = swept
    room, reach = ring.room(radius_mm)
    edge = ring.back(room, reach - EDGE_MM).boundary
    open_edge = edge.difference(through)
    if gaps:
        # The cut ends round: beside a gap the edge stays up to a radius beyond it, and round a
        # bend farther from the middle of the cut than on a straight.
        zone = shapely.unary_union(gaps).buffer(2 * radius_mm + 0.3)
        open_edge = open_edge.difference(zone)
    pieces = _pieces(open_edge, _EDGE_SHORT_MM)
    if gaps:
        # Into a tip the cutter goes from one side, and where that is a tab's flank not to the end.
        pieces = [
            p
            for p in pieces
            if not (p.length < radius_mm and p.dwithin(zone, SAME_MM) and held.covers(p))
        ]
    for one in larger if pieces else ():
        round_corners = _round_beside(ring, one, detail_mm)
        pieces = _pieces(shapely.union_all(pieces).difference(round_corners), _EDGE_SHORT_MM)
    if not pieces:
        return [], 0.0
    if through.is_empty:
        return pieces, 2 * radius_mm
    points = shapely.points(shapely.get_coordinates(pieces))
    return pieces, EDGE_MM + float(np.max(shapely.distance(through, points)))


def _round_beside(ring: Ring, cutter: Sweep, depth_mm: float) -> BaseGeometry:
    """Return where a cutter leaves a ring round beside its own cut, at most so deep."""
    room, reach = ring.room(cutter.radius_mm)
    shaped = ring.back(room, reach - EDGE_MM / 2)  # what it reaches, the edge line included
    near = sweeps_near(ring, (cutter,)).buffer(depth_mm)
    return near.difference(shaped) if ring.hole else near.intersection(shaped)


def _round_corners(
    ring: Ring, radius_mm: float, reached: BaseGeometry, through: BaseGeometry
) -> tuple[float, float, tuple[float, float] | None]:
    left = thick_rest(ring.area, reached) if ring.hole else thick_rest(reached, ring.area)
    left = left.difference(through)
    left = left.buffer(-FIT_MM / 2).buffer(FIT_MM / 2)
    if left.is_empty or left.area < 1e-3:
        return 0.0, 0.0, None
    corners, _ = edge_points(left)
    if reached.is_empty:  # nothing is reached anywhere, which the edge that stands tells too
        return float(left.area), 2 * radius_mm, (float(corners[0, 0]), float(corners[0, 1]))
    # A smaller cutter may have been there after the one that follows the ring.
    far = np.minimum.reduce(
        [outline_distances(as_region(cut), corners) for cut in (reached, through) if cut.area > 0]
    )
    i = int(np.argmax(far))
    return float(left.area), float(far[i]), (float(corners[i, 0]), float(corners[i, 1]))


def _pieces(line: BaseGeometry, shortest_mm: float) -> list[BaseGeometry]:
    """Return the connected pieces of a line that are long enough, in a fixed order."""
    lines = [g for g in shapely.get_parts(line).tolist() if g.length > 0]
    if not lines:
        return []
    merged = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(lines)))
    pieces = [p for p in merged.tolist() if p.length > shortest_mm]
    return sorted(pieces, key=lambda p: p.bounds)


def _middle_of(line: BaseGeometry) -> tuple[float, float]:
    point = line.interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)


def sweeps_near(
    ring: Ring, sweeps: tuple[Sweep, ...], *, last_stay: int | None = None
) -> BaseGeometry:
    """Return the area swept around a ring."""
    widest = max((s.radius_mm for s in sweeps), default=0.0)
    left, low, right, high = ring.area.bounds
    margin = 2 * widest + 1
    box = (left - margin, low - margin, right + margin, high + margin)
    return sweep(sweeps, box, last_stay=last_stay)
