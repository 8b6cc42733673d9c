"""A part and the course in, whether it is cut free at the right time and held until then out.

Levels: the *underside* is where a cut is through (with a skin: where the skin begins); a tab
counts as one when it stands above the underside by half its height at least.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from letterply.catalogue.model import Cutter
from letterply.findings import Severity
from letterply.proof.course import Course
from letterply.proof.exact import Sweep, through_sweeps
from letterply.proof.model import Fault
from letterply.proof.moves import Boxed, Segments
from letterply.proof.severance import (
    EDGE_MM,
    LEEWAY_MM,
    Ring,
    Severance,
    judge_ring,
    main_radius,
    sweeps_near,
)
from letterply.sheets.model import HoldDown, PlacedPart
from letterply.stacks.model import Part

__all__ = ["Held", "Levels", "judge_holding"]

_SKIN_MM = 0.02
_PLAIN_TAB_MM = 0.4
_SKIM_MM = 0.02
_TOUCH_MM = 0.02
_INSIDE_MM = 0.1
_OPEN_MM = 0.1
_MOST = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Paths at the underside and at the height of a tab, and how parts are held.

    Attributes:
        through: paths at the underside.
        held: paths at the height of a tab.
        cuts: all cuts below the face.
        stays, radii: (m,), stay and radius of the cutter of each cut.
        hold_down: how parts are held.
        finest_mm: diameter of the narrowest cutter that could cut through, infinite when none.

    """

    through: tuple[Sweep, ...]
    held: tuple[Sweep, ...]
    cuts: Boxed
    stays: NDArray[np.int64]
    radii: NDArray[np.float64]
    hold_down: HoldDown
    finest_mm: float

    @classmethod
    def of(
        cls,
        course: Course,
        *,
        rack: Iterable[Cutter],
        thickness_mm: float,
        through_mm: float,
        hold_down: HoldDown,
        tab_height_mm: float | None,
    ) -> Levels:
        """Collect the paths of a course at both levels; `rack` holds what could cut an outline."""
        under = -thickness_mm
        if through_mm < 0:
            under = -(thickness_mm + through_mm) + _SKIN_MM
        rise = 0.0
        if hold_down is HoldDown.TABS:
            height = _PLAIN_TAB_MM if tab_height_mm is None else tab_height_mm
            rise = min(height / 2, thickness_mm / 2)
        through = through_sweeps(course, under)
        held = through if rise == 0 else through_sweeps(course, under + rise)
        able = [c.diameter_mm for c in rack if c.cutting_length_mm >= thickness_mm + through_mm]
        s = course.segments
        deep = np.minimum(s.starts[:, 2], s.ends[:, 2]) < -_SKIM_MM
        return cls(
            through=through,
            held=held,
            cuts=Boxed.of(s.take(deep)),
            stays=course.stays[deep],
            radii=course.radii()[deep],
            hold_down=hold_down,
            finest_mm=min(able, default=math.inf),
        )


@dataclass(frozen=True, slots=True)
class Held:
    """How a part is severed and held.

    Attributes:
        through: every ring is cut through, tabs apart.
        tabs: bridges left, in all rings.
        left_area_mm2: area left standing along rings, estimated from length and height.
        held: it stayed held until the last cut that touches it.
        faults: what is wrong.

    """

    through: bool
    tabs: int
    left_area_mm2: float
    held: bool
    faults: tuple[Fault, ...]


def judge_holding(course: Course, placed: PlacedPart, levels: Levels, tabs_wanted: int) -> Held:
    """Judge the rings of a part: severed, tabs left, nothing cut after it is free.

    A blank is not cut out: there is nothing to judge.
    """
    if placed.source.ready_made:
        return Held(through=True, tabs=0, left_area_mm2=0.0, held=True, faults=())
    outline = placed.part.outline
    mark = placed.mark
    rings = [Ring(Polygon(outline.exterior), hole=False)]
    rings += [Ring(Polygon(ring), hole=True) for ring in outline.interiors]
    faults: list[Fault] = []
    through = outer = True
    tabs = 0
    left_area = 0.0
    rounded: list[Severance] = []
    loose: list[Fault] = []
    for ring in rings:
        found = _sever(ring, levels, placed.part)
        tabs += found.tabs
        faults += _ring_faults(ring, found, mark)
        through &= found.closed or (found.cut and found.missing_mm == 0)
        left_area += found.left_length_mm * found.left_mm
        if found.round_area_mm2 > 0:
            rounded.append(found)
        if not ring.hole:
            # Where most of the outline is not through, its tabs are no matter.
            outer = found.cut and found.missing_mm < found.length_mm / 3
        if not ring.hole and found.cut:
            free = found.tabs == 0 and found.missing_mm == 0
            if free and levels.hold_down is HoldDown.TABS:
                loose += _cut_when_loose(course, ring, levels, mark)
            faults += _cut_after_outline(course, ring, levels, mark)
    if rounded:
        faults.append(_round_fault(rounded, mark))
    faults += loose
    if outer and tabs != tabs_wanted:
        lost = tabs < tabs_wanted
        faults.append(
            Fault(
                "tabs-lost" if lost else "tabs-extra",
                Severity.BLOCKER,
                f"{tabs} tabs are left on {mark}, {tabs_wanted} were planned.",
                measured=tabs,
                limit=tabs_wanted,
                unit="",
                where=_point_on(outline),
                mark=mark,
            )
        )
    held = not loose and not (tabs < tabs_wanted and tabs == 0)
    return Held(through, tabs, left_area, held, tuple(faults))


def _point_on(outline: Polygon) -> tuple[float, float]:
    point = outline.representative_point()
    return float(point.x), float(point.y)


def _sever(ring: Ring, levels: Levels, part: Part) -> Severance:
    radius = main_radius(ring, levels.held)
    if radius is None:
        return Severance(cut=False, closed=_is_closed(ring, levels, part))
    through = sweeps_near(ring, levels.through)
    held = through if levels.held is levels.through else sweeps_near(ring, levels.held)
    return judge_ring(ring, radius, through, held)


def _is_closed(ring: Ring, levels: Levels, part: Part) -> bool:
    """Whether a hole that is not cut is too narrow for the rack: a counter, never a round hole."""
    if not ring.hole or any(
        h.depth_mm is None and ring.area.contains(shapely.Point(h.x_mm, h.y_mm)) for h in part.holes
    ):
        return False
    finest = levels.finest_mm / 2 + LEEWAY_MM
    return math.isinf(finest) or bool(ring.offset(finest).is_empty)


def _ring_faults(ring: Ring, found: Severance, mark: str) -> list[Fault]:
    what = "A hole" if ring.hole else "The outline"
    if found.closed:
        text = (
            f"A hole of {mark} is narrower than any cutter that could cut it and stays closed, "
            f"{ring.area.area:.2f} mm²."
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
        text = f"{what} of {mark} is not cut through anywhere."
        return [Fault("not-through", Severity.BLOCKER, text, where=where, measured=0.0, mark=mark)]
    faults: list[Fault] = []
    if found.missing_mm > 0:
        faults.append(
            Fault(
                "not-through",
                Severity.BLOCKER,
                f"{what} of {mark} is not cut through over {found.missing_mm:.1f} mm.",
                where=found.missing_at,
                measured=round(found.missing_mm, 3),
                limit=0.0,
                mark=mark,
            )
        )
    if found.left_length_mm > 0:
        size = "too small" if ring.hole else "too large"
        faults.append(
            Fault(
                "uncut",
                Severity.BLOCKER,
                f"{what} of {mark} stays {size} by up to {found.left_mm:.2f} mm "
                f"over {found.left_length_mm:.1f} mm.",
                where=found.left_at,
                measured=round(found.left_mm, 3),
                limit=0.05,
                mark=mark,
            )
        )
    return faults


def _round_fault(rounded: Sequence[Severance], mark: str) -> Fault:
    worst = max(rounded, key=lambda s: s.round_depth_mm)
    area = sum(s.round_area_mm2 for s in rounded)
    return Fault(
        "rounded",
        Severity.CAUTION,
        f"The cutter does not get into inside corners and narrow bays of {mark}: "
        f"{area:.2f} mm² stay, up to {worst.round_depth_mm:.2f} mm from what it reaches.",
        where=worst.round_at,
        measured=round(worst.round_depth_mm, 3),
        limit=0.0,
        mark=mark,
    )


def _outer_stays(ring: Ring, levels: Levels) -> list[int]:
    """Return the stays that cut along the outside of a ring at the underside, in order."""
    stays: set[int] = set()
    for one in levels.through:
        band = ring.area.buffer(1.2 * one.radius_mm + 0.5).difference(ring.area)
        shapely.prepare(band)
        stays.update(int(s) for s in one.stays[shapely.intersects(band, one.lines)])
    return sorted(s for s in stays if s >= 0)


def _outline_stay(ring: Ring, levels: Levels) -> int | None:
    """Return a stay before which no more than half of the outline's length is cut through.

    Details of the outline may be cut out earlier by a smaller cutter. Ways to and fro count twice
    here: it may be too early, and is never too late.
    """
    lengths: dict[int, float] = {}
    for one in levels.through:
        band = ring.area.buffer(1.2 * one.radius_mm + 0.5).difference(ring.area)
        shapely.prepare(band)
        near = shapely.intersects(band, one.lines) & (one.stays >= 0)
        cut = shapely.length(shapely.intersection(band, one.lines[near]))
        for stay, length in zip(one.stays[near].tolist(), cut.tolist(), strict=True):
            lengths[stay] = lengths.get(stay, 0.0) + length
    total = 0.0
    for stay in sorted(lengths):
        total += lengths[stay]
        if total >= ring.area.exterior.length * _MOST:
            return stay
    return None


def _half_cut(ring: Ring, levels: Levels) -> int | None:
    """Return the stay that brings the cut to half of the outline, measured on the outline."""
    stays = _outer_stays(ring, levels)
    line = ring.area.exterior

    def half(last: int) -> bool:
        swept = sweeps_near(ring, levels.through, last_stay=stays[last]).buffer(2 * EDGE_MM)
        return bool(line.intersection(swept).length >= _MOST * line.length)

    if not stays or not half(len(stays) - 1):
        return None
    return stays[_first(half, len(stays))]


def _first(holds: Callable[[int], bool], count: int) -> int:
    """Return the first number for which something holds that holds for all later ones."""
    low, high = 0, count - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def _cut_when_loose(course: Course, ring: Ring, levels: Levels, mark: str) -> list[Fault]:
    """Find cuts that touch a part after the stay that frees it."""
    stays = _outer_stays(ring, levels)
    radius = main_radius(ring, levels.through)
    if not stays or radius is None:
        return []
    line = ring.offset(radius).boundary

    def freed(last: int) -> bool:
        rest = line.difference(sweeps_near(ring, levels.through, last_stay=stays[last]))
        return bool(rest.length <= _OPEN_MM)

    last = stays[_first(freed, len(stays))]  # swept areas only grow
    later, radii = _later_cuts(levels, last, ring.area.bounds)
    shapely.prepare(ring.area)
    away = np.asarray(shapely.distance(ring.area, _lines(later)))
    touching = np.flatnonzero(away <= radii + _TOUCH_MM)
    if not len(touching):
        return []
    move = int(later.moves[touching[0]])
    return [
        _late_fault(course, "loose", move, f"{mark} is cut free, and a later cut touches it", mark)
    ]


def _cut_after_outline(course: Course, ring: Ring, levels: Levels, mark: str) -> list[Fault]:
    """Find cuts inside a part after most of its outline was cut through."""
    for search in (_outline_stay, _half_cut):  # a rough sum finds most in order, then exactly
        stay = search(ring, levels)
        if stay is None:
            return []
        later, inside = _inside_after(ring, levels, stay)
        if not len(inside):
            return []
    move = int(later.moves[inside[0]])
    text = f"The outline of {mark} is cut before the work inside it is done"
    return [_late_fault(course, "order", move, text, mark)]


def _inside_after(ring: Ring, levels: Levels, stay: int) -> tuple[Segments, NDArray[np.int64]]:
    """Return the cuts near a ring after a stay, and which of them lie inside it."""
    later, _ = _later_cuts(levels, stay, ring.area.bounds)
    inner = ring.area.buffer(-_INSIDE_MM)
    shapely.prepare(inner)
    middles = (later.starts[:, :2] + later.ends[:, :2]) / 2
    return later, np.flatnonzero(shapely.contains_xy(inner, middles[:, 0], middles[:, 1]))


def _late_fault(course: Course, code: str, move: int, text: str, mark: str) -> Fault:
    name, line = course.line_of(move)
    end = course.moves.ends[move]
    return Fault(
        code,
        Severity.BLOCKER,
        f"{text}.",
        program=name,
        line=line,
        where=(float(end[0]), float(end[1])),
        mark=mark,
    )


def _later_cuts(
    levels: Levels, stay: int, bounds: tuple[float, float, float, float]
) -> tuple[Segments, NDArray[np.float64]]:
    """Return the cuts near a box after a stay, and the radii of their cutters."""
    widest = float(levels.radii.max()) if len(levels.radii) else 0.0
    near = levels.cuts.near(bounds, widest + 1)
    near = near[levels.stays[near] > stay]
    return levels.cuts.segments.take(near), levels.radii[near]


def _lines(segments: Segments) -> NDArray[np.object_]:
    ends = np.stack([segments.starts[:, :2], segments.ends[:, :2]], axis=1)
    return np.asarray(shapely.linestrings(ends), dtype=object)
