"""When a ring comes free, and what is cut later that should not be.

A part that is free moves when a cut touches it; a slug that is free takes the parts in it along;
and once most of an outline is through, what is cut inside it is no longer where it was.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.findings import Severity
from letterply.proof.judging.severance import EDGE_MM, Ring, main_radius, sweeps_near
from letterply.proof.model import Fault
from letterply.proof.reading.moves import Segments
from letterply.proof.reading.toolpath import Toolpath
from letterply.proof.removal.levels import Levels
from letterply.proof.removal.loosening import find_loose_cuts
from letterply.sheets import PlacedPart
from letterply.units import about_mm

__all__ = [
    "find_cuts_after_outline",
    "find_cuts_in_loose_slug",
    "find_cuts_in_loose_stock",
    "find_cuts_when_loose",
]

_TOUCH_MM = 0.02
_INSIDE_MM = 0.1
_OPEN_MM = 0.1
_BESIDE_MM = 10.0
_MOST = 0.5
_CUT_MM2 = 0.3
_PIECE_MM2 = 150.0
"""A loose piece of waste that is smaller is a chip: the cutter throws it out or takes it away."""


def _stays_along(ring: Ring, levels: Levels) -> list[int]:
    """Return the stays that cut along a ring at the underside, in order."""
    stays: set[int] = set()
    for one in levels.through:
        band = ring.band(one.radius_mm)
        stays.update(int(s) for s in one.stays[shapely.intersects(band, one.lines)])
    return sorted(s for s in stays if s >= 0)


def _outline_stay(ring: Ring, levels: Levels) -> int | None:
    """Return a stay before which no more than half of the outline's length is cut through.

    Details of the outline may be cut out earlier by a smaller cutter. Ways to and fro count twice
    here: it may be too early, and is never too late.
    """
    lengths: dict[int, float] = {}
    for one in levels.through:
        band = ring.band(one.radius_mm)
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
    stays = _stays_along(ring, levels)
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


def find_cuts_when_loose(
    toolpath: Toolpath, ring: Ring, levels: Levels, placed: PlacedPart
) -> list[Fault]:
    """Find cuts that touch a part after the stay that frees it."""
    stays = _stays_along(ring, levels)
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
        _late_fault(
            toolpath,
            "loose",
            move,
            f"A cut touches {placed.words} after it was cut free",
            placed.mark,
        )
    ]


def find_cuts_after_outline(
    toolpath: Toolpath, ring: Ring, levels: Levels, placed: PlacedPart
) -> list[Fault]:
    """Find cuts inside a part after most of its outline was cut through."""
    for search in (_outline_stay, _half_cut):  # a rough sum finds most in order, then exactly
        stay = search(ring, levels)
        if stay is None:
            return []
        later, inside = _inside_after(ring, levels, stay)
        if not len(inside):
            return []
    move = int(later.moves[inside[0]])
    text = f"The outline is cut before the work inside it is done in {placed.words}"
    return [_late_fault(toolpath, "order", move, text, placed.mark)]


def find_cuts_in_loose_slug(
    toolpath: Toolpath, ring: Ring, levels: Levels, placed: PlacedPart
) -> list[Fault]:
    """Find cuts that touch parts in a hole after most of the hole was cut through."""
    for search in (_outline_stay, _half_cut):
        stay = search(ring, levels)
        if stay is None:
            return []
        nested_parts = shapely.MultiPolygon(list(ring.nested_parts))
        later, radii = _later_cuts(levels, stay, nested_parts.bounds)
        away = np.asarray(shapely.distance(nested_parts, _lines(later)))
        touching = np.flatnonzero(away <= radii + _TOUCH_MM)
        if not len(touching):
            return []
    move = int(later.moves[touching[0]])
    text = f"A hole in {placed.words} is cut before the part that lies in it is done"
    return [_late_fault(toolpath, "order", move, text, placed.mark)]


def find_cuts_in_loose_stock(
    toolpath: Toolpath,
    levels: Levels,
    parts: Sequence[PlacedPart],
    bounds: tuple[float, float, float, float],
) -> list[Fault]:
    """Find cuts in stock that hangs on nothing any more at that step: parts, or waste round them.

    `bounds` are those of the field, whose edge is held.
    """
    faults: list[Fault] = []
    solids = [p.part.outline for p in parts]
    for cut in find_loose_cuts(levels.held, toolpath, bounds):
        if cut.cut_mm2 < _CUT_MM2 or cut.piece_mm2 < _PIECE_MM2:
            continue
        spot = shapely.Point(cut.where)
        near = [i for i, solid in enumerate(solids) if solid.distance(spot) < _BESIDE_MM]
        beside = min(near, key=lambda i: float(solids[i].distance(spot)), default=None)
        what, mark = "", ""
        if beside is not None:
            what, mark = f" beside {parts[beside].words}", parts[beside].mark
        size = about_mm(cut.piece_mm2)
        text = f"The cut meets a piece of {size}² that hangs on nothing by then{what}"
        move = int(toolpath.segments.moves[cut.segment])
        faults.append(_late_fault(toolpath, "loose", move, text, mark))
    return faults


def _inside_after(ring: Ring, levels: Levels, stay: int) -> tuple[Segments, NDArray[np.int64]]:
    """Return the cuts near a ring after a stay, and which of them lie inside it."""
    later, _ = _later_cuts(levels, stay, ring.area.bounds)
    inner = ring.area.buffer(-_INSIDE_MM)
    shapely.prepare(inner)
    middles = (later.starts[:, :2] + later.ends[:, :2]) / 2
    return later, np.flatnonzero(shapely.contains_xy(inner, middles[:, 0], middles[:, 1]))


def _late_fault(toolpath: Toolpath, code: str, move: int, text: str, mark: str) -> Fault:
    name, line = toolpath.line_of(move)
    end = toolpath.moves.ends[move]
    return Fault(
        code,
        Severity.BLOCKER,
        f"{text}.",
        program=name,
        line=line,
        where=(float(end[0]), float(end[1])),
        mark=mark or None,
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
