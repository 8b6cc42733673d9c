"""The deepest cut into a part, measured without the proof and without cutting.

    .venv/bin/python tests/bench/deepest.py [NAME ...]

The programs of the jobs of `minutes.py` are read by a parser written elsewhere (package
gcodeparser), which gives words; modes, ends and arcs are followed here. Every cut of a cylinder,
end mill or beam, below the face must keep the cutter's radius from what of a part stays at that
height: its outline, without pockets so deep, grooves and holes. Arcs are flattened to
`SAGITTA_MM`, and distances to the outline are those of shapely. Told are the deepest cut, negative
where cutters keep clear of all parts by so much, and how many moves came within a tenth of a
millimetre of a part.

Not measured are pointed cutters, whose slopes are no matter of the plane, what end mills do in
grooves, and how wide holes become.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import gcodeparser
import minutes
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter, CutterKind
from letterply.cutting.plan import plan_sheet
from letterply.sheets import Sheet, work_zero
from letterply.stacks import Part

SAGITTA_MM = 1e-5
FACE_MM = -0.02
"""What goes no deeper scores the face at most."""


@dataclass(frozen=True, slots=True)
class Deepest:
    """The deepest cut into a part of a sheet.

    Attributes:
        depth_mm: how far the cutter comes into what must stay, in the plane; 0 or less when clear.
        mark: the part.
        near: moves that came within a tenth of a millimetre of a part's edge or into it.

    """

    depth_mm: float
    mark: str
    near: int


class Cut(NamedTuple):
    """A move at feed below the face: its way, (n, 2) mm, its lowest height, its tool's number."""

    way: NDArray[np.float64]
    low: float
    tool: int


def cuts(text: str, zero: tuple[float, float, float]) -> Iterator[Cut]:
    """Yield the moves of a program that cut.

    `zero` is the place of the program's nought on the sheet. Metric and inch programs in G90 G17
    with arcs by centre are followed; anything else raises `ValueError`.
    """
    at, scale, mode, tool = np.array([math.nan, math.nan, 100.0]), 1.0, 0, 1
    for line in gcodeparser.parse_gcode_lines(text.replace("%", ""), include_comments=False):
        letter, number = line.command
        if letter == "G" and number in (20, 21):
            scale = 25.4 if number == 20 else 1.0
        elif letter == "G" and number in (18, 19, 91):
            raise ValueError(f"G{number} is not followed")
        elif letter == "G" and number in (0, 1, 2, 3):
            mode = int(number)
        said = line.params
        tool = int(number if letter == "T" else said.get("T", tool))
        if not {"X", "Y", "Z"} & set(said) or (letter, number) == ("G", 53):
            continue
        to = at.copy()
        for axis, name in enumerate("XYZ"):
            if name in said:
                to[axis] = float(said[name]) * scale + zero[axis]
        low = min(at[2], to[2])
        if mode and low < FACE_MM and np.isfinite(at).all():
            yield Cut(_way(at[:2], to[:2], said, mode, scale), low, tool)
        at = to


def _way(
    a: NDArray[np.float64], b: NDArray[np.float64], said: dict[str, float], mode: int, scale: float
) -> NDArray[np.float64]:
    if mode == 1:
        return np.array([a, b])
    centre = a + np.array([said.get("I", 0.0), said.get("J", 0.0)], dtype=float) * scale
    out, to = a - centre, b - centre
    first, sign = math.atan2(out[1], out[0]), 1 if mode == 3 else -1
    turn = sign * (math.atan2(to[1], to[0]) - first) % (2 * math.pi)
    if math.hypot(*(b - a)) < 1e-6:
        turn = 2 * math.pi
    radius = math.hypot(*out)
    step = 2 * math.acos(max(-1.0, 1 - SAGITTA_MM / max(radius, SAGITTA_MM)))
    angles = first + sign * np.linspace(0, turn, max(2, math.ceil(turn / step) + 1))
    return centre + radius * np.column_stack((np.cos(angles), np.sin(angles)))


def staying(part: Part, low_mm: float) -> BaseGeometry:
    """Return where the stock of a part must stay at a height: features so deep left out."""
    features = [p.region for p in part.pockets if -p.depth_mm <= low_mm + 0.002]
    features += [g.region for g in part.grooves]
    features += [
        shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2, quad_segs=2000) for h in part.holes
    ]
    outline: BaseGeometry = part.outline
    return outline.difference(shapely.union_all(features)) if features else outline


def deepest_of(
    sheet: Sheet,
    programs: Sequence[tuple[Sequence[Cutter], str]],
    zero: tuple[float, float, float],
) -> Deepest:
    """Return the deepest cut of programs, cutters by tool and text each, into a sheet's parts."""
    worst, near, mark = -math.inf, 0, ""
    runs: list[tuple[Cutter, list[Cut]]] = []
    for cutters, text in programs:
        found = list(cuts(text, zero))
        for number, cutter in enumerate(cutters, start=1):
            if cutter.kind in (CutterKind.FLAT, CutterKind.BEAM):
                runs.append((cutter, [c for c in found if c.tool == number]))
    for cutter, moves in runs:
        if not moves:
            continue
        ways = [c.way for c in moves]
        lines = np.array(
            [
                shapely.LineString(w) if np.ptp(w, axis=0).max() > 1e-9 else shapely.Point(w[0])
                for w in ways
            ]
        )
        lows = np.round([c.low for c in moves], 3)
        radius = cutter.diameter_mm / 2
        for placed in sheet.parts:
            close = shapely.dwithin(placed.part.outline, lines, radius + 0.1)
            floors = {-p.depth_mm for p in placed.part.pockets}
            # Between two floors the same stays: one region for all heights there.
            bands = np.searchsorted(np.array(sorted(floors)) - 0.002, lows, side="right")
            for band in np.unique(bands[close]).tolist():
                mine = np.flatnonzero(close & (bands == band))
                stays = staying(placed.part, float(lows[mine].min()))
                into = depths(stays, lines[mine], radius)
                near += int((into > -0.1).sum())
                if len(into) and into.max() > worst:
                    worst, mark = float(into.max()), placed.mark
    return Deepest(worst, mark, near)


def depths(
    stays: BaseGeometry, lines: NDArray[np.object_], radius_mm: float
) -> NDArray[np.float64]:
    """Return how far a cylinder that follows each line comes into a region, negative when clear."""
    shapely.prepare(stays)
    away = np.asarray(shapely.distance(stays, lines))
    inside = away == 0
    if inside.any():
        edge = shapely.boundary(stays)
        spots = shapely.points(
            [shapely.get_coordinates(line).mean(axis=0) for line in lines[inside]]
        )
        away[inside] = -shapely.distance(edge, spots)
    found: NDArray[np.float64] = radius_mm - away
    return found


def measured(name: str) -> Iterator[tuple[int, Deepest]]:
    """Yield the number of each sheet of a job and the deepest cut into its parts."""
    job = minutes.JOBS[name]()
    cutters = {c.key: c for c in job.shop.cutters}
    for sheet, spacing in job.sheets:
        plan = plan_sheet(sheet, job.shop, job.catalogue, spacing)
        zero = work_zero(plan.sheet, job.shop.machine)
        place = zero.x_mm, zero.y_mm, -zero.lift_mm
        programs = [([cutters[k] for k in p.cutters], p.text) for p in plan.programs]
        yield sheet.number, deepest_of(plan.sheet, programs, place)


def main() -> None:
    """Print a line a sheet, and the deepest of all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help="jobs; all without")
    worst, near = -math.inf, 0
    for name in parser.parse_args().names or minutes.JOBS:
        for number, found in measured(name):
            worst, near = max(worst, found.depth_mm), near + found.near
            print(f"{name}, sheet {number}: {found.depth_mm:.5f} mm ({found.mark}), "
                  f"{found.near} moves beside parts", flush=True)  # fmt: skip
    print(f"deepest of all: {worst:.5f} mm, {near} moves beside parts")


if __name__ == "__main__":
    main()
