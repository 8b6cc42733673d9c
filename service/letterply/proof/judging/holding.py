"""A part and the toolpath in, whether it is cut free at the right time and held until then out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from letterply.findings import Severity
from letterply.proof.judging.corners import bears, uncut_corners, why_round
from letterply.proof.judging.loosening import (
    find_cuts_after_outline,
    find_cuts_in_loose_slug,
    find_cuts_when_loose,
)
from letterply.proof.judging.severance import (
    LEEWAY_MM,
    Ring,
    Severance,
    judge_ring,
    main_radius,
    sweeps_near,
)
from letterply.proof.model import Fault
from letterply.proof.reading.toolpath import Toolpath
from letterply.proof.removal.levels import Levels
from letterply.requests import HoldDown
from letterply.sheets import PlacedPart
from letterply.stacks import Part
from letterply.units import about_mm

__all__ = ["Held", "TabsWanted", "find_nested_parts", "judge_holding"]


@dataclass(frozen=True, slots=True)
class TabsWanted:
    """Tabs that must be left at a part: how many, and how long each is on the underside, mm."""

    count: int
    foot_mm: float = math.inf


@dataclass(frozen=True, slots=True)
class Held:
    """How a part is severed and held.

    Attributes:
        through: every ring is cut through, tabs apart.
        tabs: the middle of each bridge left, in all rings.
        left_area_mm2: area left standing along rings, estimated from length and height.
        held: it stayed held until the last cut that touches it.
        faults: what is wrong.

    """

    through: bool
    tabs: tuple[tuple[float, float], ...]
    left_area_mm2: float
    held: bool
    faults: tuple[Fault, ...]


def find_nested_parts(parts: Sequence[PlacedPart]) -> list[tuple[Polygon, ...]]:
    """Return for each part of a sheet what lies in its holes: other parts, filled."""
    solids = [Polygon(p.part.outline.exterior) for p in parts]
    shapely.bounds(solids)  # parts are judged side by side: GEOS has their boxes by then
    spots = np.array([_point_on(p.part.outline) for p in parts]).reshape(-1, 2)
    found: list[tuple[Polygon, ...]] = []
    for placed, solid in zip(parts, solids, strict=True):
        inside = np.zeros(len(parts), dtype=np.bool_)
        if placed.part.outline.interiors:
            inside = shapely.contains_xy(solid, spots) & ~shapely.contains_xy(
                placed.part.outline, spots
            )
        found.append(tuple(solids[k] for k in np.flatnonzero(inside)))
    return found


def judge_holding(
    toolpath: Toolpath,
    placed: PlacedPart,
    levels: Levels,
    wanted: TabsWanted,
    nested_parts: Sequence[Polygon] = (),
) -> Held:
    """Judge the rings of a part: severed, tabs left, nothing cut after it is free.

    `nested_parts` are the parts that lie in its holes: they are cut before the hole that they lie
    in, for its slug comes loose with it. A blank is not cut out: there is nothing to judge.
    """
    if placed.source.ready_made:
        return Held(through=True, tabs=(), left_area_mm2=0.0, held=True, faults=())
    outline = placed.part.outline
    mark, words = placed.mark, placed.words
    detail_mm = bears(placed.part.detail_mm, levels.detail_mm)
    rings = [Ring(Polygon(outline.exterior), hole=False)]
    for hole in outline.interiors:
        area = Polygon(hole)
        rings.append(
            Ring(area, hole=True, nested_parts=tuple(g for g in nested_parts if area.contains(g)))
        )
    faults: list[Fault] = []
    through = outer = True
    tabs: tuple[tuple[float, float], ...] = ()
    left_area = 0.0
    rounded: list[Severance] = []
    loose: list[Fault] = []
    for ring in rings:
        found = _sever(ring, levels, placed.part, wanted.foot_mm)
        tabs += found.tabs
        faults += _ring_faults(ring, found, mark, words)
        through &= found.closed or (found.cut and found.missing_mm == 0)
        left_area += found.left_length_mm * found.left_mm
        left_area += found.uncut.area_mm2 if found.uncut else 0.0
        if found.round_area_mm2 > 0:
            rounded.append(found)
        if not ring.hole:
            # Where most of the outline is not through, its tabs are no matter.
            outer = found.cut and found.missing_mm < found.length_mm / 3
        if not ring.hole and found.cut:
            free = not found.tabs and found.missing_mm == 0
            if free and levels.hold_down is HoldDown.TABS:
                loose += find_cuts_when_loose(toolpath, ring, levels, placed)
            faults += find_cuts_after_outline(toolpath, ring, levels, placed)
        if ring.nested_parts and found.cut:
            faults += find_cuts_in_loose_slug(toolpath, ring, levels, placed)
    if rounded:
        faults += _round_faults(rounded, mark, words, detail_mm)
    faults += loose
    if outer and len(tabs) != wanted.count:
        lost = len(tabs) < wanted.count
        faults.append(
            Fault(
                "tabs-lost" if lost else "tabs-extra",
                Severity.BLOCKER,
                f"{_tabs(len(tabs))} left at {words}; the plan has {wanted.count}.",
                measured=len(tabs),
                limit=wanted.count,
                unit="",
                where=_point_on(outline),
                mark=mark,
            )
        )
    held = not loose and not (wanted.count and not tabs)
    return Held(through, tabs, left_area, held, tuple(faults))


def _tabs(count: int) -> str:
    return "1 tab is" if count == 1 else f"{count or 'No'} tabs are"


def _point_on(outline: Polygon) -> tuple[float, float]:
    point = outline.representative_point()
    return float(point.x), float(point.y)


def _sever(ring: Ring, levels: Levels, part: Part, foot_mm: float) -> Severance:
    detail_mm = bears(part.detail_mm, levels.detail_mm)
    radius = main_radius(ring, levels.held)
    if radius is None:
        return Severance(cut=False, closed=_is_closed(ring, levels, part))
    through = sweeps_near(ring, levels.through)
    held = through if levels.held is levels.through else sweeps_near(ring, levels.held)
    return judge_ring(
        ring,
        radius,
        through,
        held,
        finest_mm=levels.finest_mm / 2,
        detail_mm=detail_mm,
        foot_mm=foot_mm,
        larger=tuple(one for one in levels.through if one.radius_mm > radius),
    )


def _is_closed(ring: Ring, levels: Levels, part: Part) -> bool:
    """Whether a hole that is not cut is too narrow for the rack: a counter, never a round hole."""
    if not ring.hole or any(
        h.depth_mm is None and ring.area.contains(shapely.Point(h.x_mm, h.y_mm)) for h in part.holes
    ):
        return False
    finest = levels.finest_mm / 2 + LEEWAY_MM
    return math.isinf(finest) or bool(ring.offset(finest).is_empty)


def _ring_faults(ring: Ring, found: Severance, mark: str, words: str) -> list[Fault]:
    what = f"A hole in {words}" if ring.hole else f"The outline of {words}"
    if found.closed:
        text = (
            f"A hole in {words} stays closed: it is narrower than any cutter in the rack that "
            "goes through."
        )
        return [
            Fault(
                "closed",
                Severity.CAUTION,
                text,
                where=_point_on(ring.area),
                measured=round(ring.area.area, 3),
                limit=0.0,
                unit="mm²",
                mark=mark,
            )
        ]
    if not found.cut:
        where = _point_on(ring.area)
        text = f"{what} is not cut through anywhere."
        return [Fault("not-through", Severity.BLOCKER, text, where=where, measured=0.0, mark=mark)]
    faults: list[Fault] = []
    if found.missing_mm > 0:
        faults.append(
            Fault(
                "not-through",
                Severity.BLOCKER,
                f"{what} is not cut through over {about_mm(found.missing_mm)} of its length.",
                where=found.missing_at,
                measured=round(found.missing_mm, 3),
                limit=0.0,
                mark=mark,
            )
        )
    if found.long_mm > 0:
        faults.append(
            Fault(
                "tabs-long",
                Severity.BLOCKER,
                f"A tab of {words} is {about_mm(found.long_mm)} long on the underside: "
                f"{about_mm(found.tab_limit_mm)} is the most that the plan's tabs come to.",
                where=found.long_at,
                measured=round(found.long_mm, 3),
                limit=round(found.tab_limit_mm, 3),
                mark=mark,
            )
        )
    if found.left_length_mm > 0:
        size = "too small" if ring.hole else "too large"
        faults.append(
            Fault(
                "uncut",
                Severity.BLOCKER,
                f"{what} stays {size} by up to {about_mm(found.left_mm)}, "
                f"over {about_mm(found.left_length_mm)} of its length.",
                where=found.left_at,
                measured=round(found.left_mm, 3),
                limit=0.05,
                mark=mark,
            )
        )
    return faults


def _round_faults(
    rounded: Sequence[Severance], mark: str, words: str, detail_mm: float
) -> list[Fault]:
    """Return what a finer cutter left out, if anything, or else how deep corners stay round."""
    what = "Inside corners and narrow gaps"
    uncut = [s.uncut for s in rounded if s.uncut is not None]
    if uncut:
        return [uncut_corners(max(uncut, key=lambda u: u.depth_mm), what, mark, words, detail_mm)]
    worst = max(rounded, key=lambda s: s.round_depth_mm)
    return [
        Fault(
            "rounded",
            Severity.CAUTION,
            f"{what} stay uncut by up to {about_mm(worst.round_depth_mm)} in {words}: "
            f"{why_round(worst.round_depth_mm, detail_mm)}.",
            where=worst.round_at,
            measured=round(worst.round_depth_mm, 3),
            limit=0.0,
            mark=mark,
        )
    ]
