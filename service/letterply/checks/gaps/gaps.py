"""Slots and corners: what the cutters of the rack leave uncut around and inside a part.

A *slot* is a gap or counter that a cutter does not enter, a *corner* what it leaves round. Gaps are
found as thin zones of the axis around a part; what a cutter leaves deeper than any corner is one
too, such as a gap just as wide as the cutter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely import Polygon

from letterply.catalogue import Cutter
from letterply.checks.places import name_part_place
from letterply.checks.thin.zones import thin_zones
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.names import in_sentence
from letterply.requests import CheckRules
from letterply.said import say
from letterply.shapes import (
    SAME_MM,
    MedialAxis,
    Region,
    as_region,
    both_axes,
    leftover,
    leftover_depths,
    polygons,
    surroundings,
)
from letterply.stacks import Part, part_words
from letterply.units import about_mm, format_mm, listed, times_as_large

__all__ = ["Leaving", "find_corners", "find_slots", "find_uncut", "find_unentered", "part_axes"]

_MOST_TIMES = 10.0
"""Growth beyond which a larger size is no way out."""

_LEAST_CUTTER_MM = 0.2
"""Diameter below which there is no cutter to take."""

_APEX_SHARE = 0.2
"""A gap that closes to less than this share of the cutter is a corner between two walls, if
they meet at more than `_CORNER_DEG`; what is more acute is a gap to a person's eye."""

_CORNER_DEG = 25.0

_DEEPEST_CORNER = 1 / math.sin(math.radians(_CORNER_DEG / 2)) - 1
"""How deep a cutter leaves such a corner round, in its radii; deeper is a gap."""

_EXACT = 0.98
"""Share of a cutter's width above which a gap is as wide as the cutter: it needs a hair more."""

_FILLED = 0.95
"""Share of a hole above which what is left of it is all of it."""

_SAME_MM = 0.2
"""How near to a reported slot a leftover is the same thing."""


def part_axes(
    part: Part, cutters: Sequence[Cutter], rules: CheckRules
) -> tuple[MedialAxis, MedialAxis]:
    """Return the axes inside and around a part, corners left out, from one construction.

    `cutters` are those that reach through, smallest first: the outer axis reaches as far as its
    gaps may matter to the first; with none it reaches 4 mm.
    """
    widest = cutters[0].diameter_mm if cutters else 1.0
    inner, outer = both_axes(as_region(part.outline), 4 * widest)
    return inner.strokes(rules.tip_angle_deg), outer.strokes(rules.tip_angle_deg)


def find_slots(
    part: Part,
    around: MedialAxis,
    cutters: Sequence[Cutter],
    rules: CheckRules,
    tolerance_mm: float,
) -> tuple[Finding, ...]:
    """Return gaps and counters of one part that its smallest profile cutter does not enter.

    `around` is the axis around it, see `part_axes`. `cutters` are those that reach through the
    layer, smallest first; with none there is nothing to compare with, and nothing is found.
    """
    if not cutters:
        return ()
    best = cutters[0]
    bored = _round_holes(part)
    found: list[Finding] = []
    for zone in thin_zones(around, best.diameter_mm, tolerance_mm):
        if shapely.intersects(bored, shapely.Point(zone.at)):
            continue  # a round hole is drilled
        if zone.exits == 1 and (
            zone.tip_deg > rules.tip_angle_deg
            or zone.extent_mm < best.diameter_mm
            or (zone.width_mm < _APEX_SHARE * best.diameter_mm and zone.tip_deg > _CORNER_DEG)
        ):
            continue  # a corner, however acute, or less deep than wide: see `find_corners`
        if zone.exits > 1 and zone.length_mm < best.diameter_mm:
            continue  # two walls that pass each other: a spot stays, less long than wide
        found.append(_slot(part, best, zone.at, zone.mean_width_mm, zone.length_mm, zone.exits))
    return tuple(found)


def _slot(
    part: Part,
    best: Cutter,
    at: tuple[float, float],
    width_mm: float,
    length_mm: float,
    exits: int,
) -> Finding:
    what = say("a gap") if exits else say("a counter or hole")
    place = name_part_place(part, at)
    cutter = say(
        "the smallest cutter that goes through is {diameter}", diameter=format_mm(best.diameter_mm)
    )
    if width_mm > _EXACT * best.diameter_mm:
        why = say(
            "{what} {place} is no wider than the cutter and stays uncut: {cutter}",
            what=what,
            place=place,
            cutter=cutter,
        )
    else:
        wide = about_mm(width_mm, beside=best.diameter_mm)
        why = say(
            "{what} of {wide} stays uncut {place}: {cutter}",
            what=what,
            wide=wide,
            place=place,
            cutter=cutter,
        )
    return Finding(
        code="slot",
        severity=Severity.CAUTION if exits else Severity.BLOCKER,
        layer=part.layer,
        part=part.name,
        where=Place("point", (at,)),
        measured=round(width_mm, 4),
        limit=round(best.diameter_mm, 4),
        why=why,
        remedies=_wider(min(width_mm, _EXACT * best.diameter_mm), best.diameter_mm),
        data=(("length_mm", round(length_mm, 3)), ("exits", exits)),
    )


def find_unentered(
    part: Part,
    cutters: Sequence[Cutter],
    tolerance_mm: float,
    slots: Sequence[Finding] = (),
) -> tuple[Finding, ...]:
    """Return gaps and counters that the smallest cutter leaves and `slots` does not report.

    A gap as wide as the cutter is no thin zone, and yet the cutter does not go in: what is left is
    deeper than any corner.
    """
    if not cutters:
        return ()
    best, solid = cutters[0], _solid(part)
    (leaving,) = _uncut(solid, cutters[:1], tolerance_mm, cutters[-1].radius_mm)
    left = _unreported(leaving.region, slots)
    depths = leftover_depths(left, _space(solid, cutters[-1].radius_mm)).tolist()
    holes = [Polygon(ring) for ring in solid.interiors]
    found: list[Finding] = []
    for piece, depth in zip(left.geoms, depths, strict=True):
        closed = any(_FILLED * h.area < piece.area and h.intersects(piece) for h in holes)
        if not closed and depth <= _DEEPEST_CORNER * best.radius_mm:
            continue
        disc = shapely.maximum_inscribed_circle(piece, tolerance=tolerance_mm)
        width = min(2 * disc.length, best.diameter_mm)
        (x, y), *_ = disc.coords
        found.append(_slot(part, best, (x, y), width, depth, 0 if closed else 1))
    return tuple(found)


def _unreported(left: Region, slots: Sequence[Finding]) -> Region:
    """Return what is left somewhere else than where a slot is reported."""
    reported = shapely.MultiPoint([f.where.points[0] for f in slots if f.where is not None])
    away = np.asarray(shapely.distance(np.array(left.geoms, dtype=object), reported)).tolist()
    rest = [p for p, d in zip(left.geoms, away, strict=True) if not d < _SAME_MM]
    return as_region(shapely.MultiPolygon(rest))


def _at_most(depth_mm: float) -> str:
    told = about_mm(depth_mm)
    return told if told.startswith("less") else say("up to {told}", told=told)


def _wider(width_mm: float, needed_mm: float) -> tuple[Remedy, ...]:
    """Return what opens a gap; a size or a cutter only where there may be one."""
    factor = needed_mm / max(width_mm, SAME_MM)
    remedies: list[Remedy] = []
    if factor <= _MOST_TIMES:
        text = say("make it {times}", times=times_as_large(factor))
        remedies.append(Remedy(RemedyAction.RAISE_SIZE_TO, text, round(factor, 3), "times"))
    if width_mm >= _LEAST_CUTTER_MM:
        text = say("take a cutter of at most {width}", width=about_mm(width_mm))
        remedies.append(Remedy(RemedyAction.SWAP_CUTTER, text, round(width_mm, 3), "mm"))
    return tuple(remedies) or (
        Remedy(
            RemedyAction.CHANGE_FONT, say("take a font with wider gaps, or space the letters out")
        ),
    )


def _round_holes(part: Part) -> Region:
    """Return the round through holes of a part, a shade larger: they are drilled or bored."""
    discs = [
        shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2 + 0.05)
        for h in part.holes
        if h.depth_mm is None
    ]
    return as_region(shapely.union_all(discs))


@dataclass(frozen=True, slots=True)
class Leaving:
    """What a cutter leaves around and inside a part.

    Attributes:
        cutter: the cutter.
        region: where it does not reach, stack frame.

    """

    cutter: Cutter
    region: Region


def find_uncut(part: Part, cutters: Sequence[Cutter], tolerance_mm: float) -> tuple[Leaving, ...]:
    """Return what each cutter leaves in the inside corners, slots and counters of a part.

    It is the complement of the part less what the cutter's disc covers in it. Round holes are
    left out: they are drilled or bored. `cutters` come smallest first.
    """
    if not cutters:
        return ()
    return _uncut(_solid(part), cutters, tolerance_mm, cutters[-1].radius_mm)


def _solid(part: Part) -> Polygon:
    holes = _round_holes(part)
    return part.outline if holes.is_empty else _joined(part.outline, holes)


@lru_cache(maxsize=8)
def _joined(outline: Polygon, holes: Region) -> Polygon:
    return polygons(shapely.union(outline, holes))[0]


def _uncut(
    solid: Polygon, cutters: Sequence[Cutter], tolerance_mm: float, reach_mm: float
) -> tuple[Leaving, ...]:
    return tuple(Leaving(c, _left(solid, reach_mm, c.radius_mm, tolerance_mm)) for c in cutters)


@lru_cache(maxsize=256)
def _left(solid: Polygon, reach_mm: float, radius_mm: float, tolerance_mm: float) -> Region:
    """Return a leftover; kept, since it is asked for again to be drawn."""
    return leftover(_space(solid, reach_mm), radius_mm, tolerance_mm)


@lru_cache(maxsize=8)
def _space(solid: Polygon, reach_mm: float) -> Region:
    return surroundings(solid, reach_mm)


def find_corners(
    part: Part,
    cutters: Sequence[Cutter],
    rules: CheckRules,
    tolerance_mm: float,
    slots: Sequence[Finding] = (),
) -> tuple[Finding, ...]:
    """Return one finding that says what every cutter leaves in the inside corners of a part.

    Area and largest depth left uncut are those of `find_uncut`; for a corner of interior angle
    b the depth is r (1 / sin(b/2) - 1). The depth leaves out what `slots` already reports, the
    area does not. Its places are the corners that stay round by more than is looked over.
    """
    if not cutters:
        return ()
    solid = _solid(part)
    around = _space(solid, cutters[-1].radius_mm)
    rows: list[dict[str, object]] = []
    round_at: list[tuple[float, float]] = []
    for leaving in _uncut(solid, cutters, tolerance_mm, cutters[-1].radius_mm):
        cutter, every = leaving.cutter, leaving.region
        left = _unreported(every, slots)
        depths = leftover_depths(left, around)
        deepest = np.argsort(-depths, kind="stable")
        depth = float(depths[deepest[0]]) if len(depths) else 0.0
        rows.append(
            {
                "cutter": cutter.key,
                "diameter_mm": cutter.diameter_mm,
                "left_mm2": round(every.area, 3),
                "depth_mm": round(depth, 3),
            }
        )
        if cutter is cutters[0]:
            seen = [k for k in deepest.tolist() if depths[k] > rules.lost_mm]
            round_at = [_inside(left.geoms[k]) for k in seen or deepest[:1].tolist()]
    if not round_at:
        return ()
    depth = float(str(rows[0]["depth_mm"]))
    left_by = [(float(str(r["depth_mm"])), c) for r, c in zip(rows, cutters, strict=True)]
    others = [
        say("{d} with the {c}", d=about_mm(d), c=in_sentence(c.name))
        for d, c in left_by[1:3]
        if depth < d <= _DEEPEST_CORNER * c.radius_mm
    ]
    shut = [in_sentence(c.name) for d, c in left_by[1:3] if d > _DEEPEST_CORNER * c.radius_mm]
    return (
        Finding(
            code="corner",
            severity=Severity.CAUTION if depth > rules.lost_mm else Severity.NOTE,
            layer=part.layer,
            part=part.name,
            where=Place("point", (round_at[0],)),
            measured=round(depth, 4),
            limit=rules.lost_mm,
            why=(
                say(
                    "inside corners of {part} stay round by {at_most} with the {name}",
                    part=part_words(part),
                    at_most=_at_most(depth),
                    name=in_sentence(cutters[0].name),
                )
                + (say(", {others}", others=listed(others)) if others else "")
                + (say("; not every gap lets in the {shut}", shut=listed(shut)) if shut else "")
            ),
            remedies=(
                Remedy(RemedyAction.SWAP_CUTTER, say("take a smaller cutter, or finish by hand")),
            ),
            data=(("cutters", rows), ("places", tuple(round_at))),
        ),
    )


def _inside(piece: Polygon) -> tuple[float, float]:
    at = piece.representative_point()
    return round(at.x, 5), round(at.y, 5)
