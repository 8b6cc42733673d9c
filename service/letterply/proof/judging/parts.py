"""A part, what was carved and swept, in; its verdict and faults out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from letterply.findings import Severity
from letterply.proof.judging.corners import uncut_corners, why_round
from letterply.proof.judging.holding import Held, TabsWanted, judge_holding
from letterply.proof.judging.scribing import find_stray, find_undrawn
from letterply.proof.judging.surface import Misfit
from letterply.proof.judging.target import Target
from letterply.proof.model import Fault, HeightField, PartVerdict
from letterply.proof.reading.toolpath import Toolpath, carve_toolpath
from letterply.proof.removal.exact import PlaneGouge, SideCuts, find_plane_gouge, standing_face
from letterply.proof.removal.levels import Levels
from letterply.sheets import PlacedPart
from letterply.units import about_mm

__all__ = ["LEAST_AREA_MM2", "Evidence", "judge_part"]

LEAST_AREA_MM2 = 0.05
"""Area from which on a difference on the field counts: a speck of 0.2 by 0.25 mm."""

_LEAST_PLANE_MM2 = 1e-4
_BLAME_CELL_MM = 0.01
_TALLER_MM = 0.3
"""By how much a tab may stand higher than planned: what a knife or a file takes with the rest;
common practice, no source."""

_WORDS = {
    "face": "surface",
    "pocket": "floor of a pocket",
    "corner": "corner of a pocket",
    "groove": "groove",
    "floor-corner": "floor of a groove",
    "scribe": "scribed line",
    "hole": "blind hole",
}


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What a sheet's programs do to it, for all parts alike.

    Attributes:
        toolpath: all moves.
        carved: the stock after all of them.
        target: the wanted surface.
        misfits: differences of carved and wanted surface.
        levels: paths that part the stock.
        sides: what cylinders cut with their sides.

    """

    toolpath: Toolpath
    carved: HeightField
    target: Target
    misfits: Sequence[Misfit]
    levels: Levels
    sides: Sequence[SideCuts]


def judge_part(
    index: int,
    placed: PlacedPart,
    evidence: Evidence,
    *,
    tabs: TabsWanted,
    nested_parts: Sequence[Polygon] = (),
) -> tuple[PartVerdict, tuple[Fault, ...]]:
    """Return what became of a part and what is wrong with it.

    Args:
        index: of the part among those of the sheet.
        placed: the part.
        evidence: what the programs do.
        tabs: tabs that must be left.
        nested_parts: parts that lie in its holes, filled.

    """
    toolpath, target = evidence.toolpath, evidence.target
    mine = [m for m in evidence.misfits if target.features[m.feature].part == index]
    deep = [m for m in mine if m.too_deep]
    high = [m for m in mine if not m.too_deep]
    held = judge_holding(toolpath, placed, evidence.levels, tabs, nested_parts)
    faults: list[Fault] = list(held.faults)
    faults += _tall_tab_faults(placed, held, evidence)

    plane = find_plane_gouge(evidence.sides, standing_face(placed.part))
    if plane is not None and plane.area_mm2 < _LEAST_PLANE_MM2:
        plane = None
    stray = find_stray(toolpath, placed.part)
    gouged = _gouge_faults(placed, toolpath, target, deep, plane)
    if stray is not None:
        name, line = toolpath.line_of(stray.move if stray.move is not None else 0)
        gouged.append(
            Fault(
                "gouge",
                Severity.BLOCKER,
                f"{about_mm(stray.length_mm)} of scribed lines are too many in {placed.words}.",
                program=name,
                line=line,
                where=stray.where,
                measured=round(stray.depth_mm, 3),
                limit=0.0,
                mark=placed.mark,
            )
        )
    faults += gouged
    faults += _uncut_faults(placed, target, high)
    undrawn = find_undrawn(toolpath, placed.part)
    faults += [
        Fault(
            "uncut",
            Severity.BLOCKER,
            f"{about_mm(u.length_mm)} of scribed lines are missing in {placed.words}.",
            where=u.where,
            measured=round(u.length_mm, 3),
            limit=0.0,
            mark=placed.mark,
        )
        for u in undrawn
    ]
    faults += _corner_faults(index, placed, target)
    return _verdict(placed, tabs.count, held, deep, high, plane, toolpath), tuple(faults)


def _tall_tab_faults(placed: PlacedPart, held: Held, evidence: Evidence) -> list[Fault]:
    """Return the fault of the tallest tab, if it stands higher than planned."""
    top, field = evidence.levels.tab_top_mm, evidence.carved
    heights = [(float(field.z[field.cell_of(*at)]), at) for at in held.tabs]
    if not heights or max(heights)[0] <= top + _TALLER_MM:
        return []
    height, where = max(heights)
    under = evidence.levels.underside_mm
    return [
        Fault(
            "tabs-tall",
            Severity.BLOCKER,
            f"A tab of {placed.words} is {about_mm(height - under)} high: the plan's are "
            f"{about_mm(top - under)}.",
            where=where,
            measured=round(height - under, 3),
            limit=round(top - under, 3),
            mark=placed.mark,
        )
    ]


def _verdict(
    placed: PlacedPart,
    tabs_wanted: int,
    held: Held,
    deep: list[Misfit],
    high: list[Misfit],
    plane: PlaneGouge | None,
    toolpath: Toolpath,
) -> PartVerdict:
    depth = max((m.most_mm for m in deep), default=0.0)
    area = sum(m.area_mm2 for m in deep)
    if plane is not None:
        move = toolpath.moves
        depth = max(depth, float(-min(move.starts[plane.move, 2], move.ends[plane.move, 2])))
        area = max(area, plane.area_mm2)
    return PartVerdict(
        mark=placed.mark,
        gouge_depth_mm=depth,
        gouge_area_mm2=area,
        uncut_area_mm2=sum(m.area_mm2 for m in high) + held.left_area_mm2,
        uncut_depth_mm=max((m.most_mm for m in high), default=0.0),
        through=held.through,
        tabs_found=len(held.tabs),
        tabs_wanted=tabs_wanted,
        held=held.held,
    )


def _gouge_faults(
    placed: PlacedPart,
    toolpath: Toolpath,
    target: Target,
    deep: list[Misfit],
    plane: PlaneGouge | None,
) -> list[Fault]:
    faults: list[Fault] = []
    if plane is not None:
        name, line = toolpath.line_of(plane.move)
        faults.append(
            Fault(
                "gouge",
                Severity.BLOCKER,
                f"A cut goes {about_mm(plane.depth_mm)} into the edge of {placed.words}.",
                program=name,
                line=line,
                where=plane.where,
                measured=round(plane.depth_mm, 3),
                limit=0.02,
                mark=placed.mark,
            )
        )
    area = sum(m.area_mm2 for m in deep)
    if area >= LEAST_AREA_MM2:
        worst = max(deep, key=lambda m: m.most_mm)
        blamed = _blame(toolpath, worst.where)
        program: tuple[str | None, int | None] = (None, None)
        if blamed is not None:
            program = toolpath.line_of(blamed)
        feature = target.features[worst.feature]
        faults.append(
            Fault(
                "gouge",
                Severity.BLOCKER,
                f"The {_WORDS[feature.name]} is cut up to {about_mm(worst.most_mm)} too deep "
                f"in {placed.words}.",
                program=program[0],
                line=program[1],
                where=worst.where,
                measured=round(worst.most_mm, 3),
                limit=feature.tolerance_mm,
                mark=placed.mark,
            )
        )
    return faults


def _blame(toolpath: Toolpath, where: tuple[float, float]) -> int | None:
    """Return the move that made a place as deep as it is."""
    half = _BLAME_CELL_MM / 2
    spot = HeightField(
        _BLAME_CELL_MM, (where[0] - half, where[1] - half), np.zeros((1, 1), dtype=np.float32)
    )
    cut = np.flatnonzero(carve_toolpath(spot, toolpath, graze_mm=0.0).most > 0)
    return int(toolpath.segments.moves[cut[-1]]) if len(cut) else None


def _uncut_faults(placed: PlacedPart, target: Target, high: list[Misfit]) -> list[Fault]:
    faults: list[Fault] = []
    for name in ("pocket", "groove", "floor-corner", "hole"):
        of_kind = [m for m in high if target.features[m.feature].name == name]
        area = sum(m.area_mm2 for m in of_kind)
        if area < LEAST_AREA_MM2:
            continue
        worst = max(of_kind, key=lambda m: m.most_mm)
        faults.append(
            Fault(
                "uncut",
                Severity.BLOCKER,
                f"The {_WORDS[name]} stays up to {about_mm(worst.most_mm)} too high "
                f"in {placed.words}.",
                where=worst.where,
                measured=round(worst.most_mm, 3),
                limit=target.features[worst.feature].tolerance_mm,
                mark=placed.mark,
            )
        )
    return faults


def _corner_faults(index: int, placed: PlacedPart, target: Target) -> list[Fault]:
    mine = [r for r in target.rounded if r.part == index]
    faults: list[Fault] = []
    for code, what in (("rounded", "a pocket"), ("shallow", "the floor of a groove")):
        some = [r for r in mine if r.code == code]
        if not some:
            continue
        corners = f"Corners of {what}"
        uncut = [(r.uncut.depth_mm, k) for k, r in enumerate(some) if r.uncut is not None]
        if uncut:
            left = some[max(uncut)[1]]
            assert left.uncut is not None  # those alone are looked at
            faults.append(
                uncut_corners(left.uncut, corners, placed.mark, placed.words, left.detail_mm)
            )
            continue
        worst = max(some, key=lambda r: r.depth_mm)
        faults.append(
            Fault(
                code,
                Severity.CAUTION,
                f"{corners} stay uncut by up to {about_mm(worst.depth_mm)} on "
                f"{placed.words}: {why_round(worst.depth_mm, worst.detail_mm)}.",
                where=worst.where,
                measured=round(worst.depth_mm, 3),
                limit=0.0,
                mark=placed.mark,
            )
        )
    return faults
