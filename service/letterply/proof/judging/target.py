"""Parts in, the wanted surface of the sheet out.

Each cell of the grid belongs to one *feature*: nothing (outside all parts, where all is free),
the face of a part, a pocket, a groove, a scribed line or a blind hole. A feature says how high
the surface must be and how far a cell may lie below or above it for reasons that are no fault:
what a cutter that is right cannot avoid.

The wall of a groove slopes at the half angle of its V-bit: at a distance d from the groove's
outline it lies d / tan(half angle) deep, never deeper than the groove's limit (plane geometry).
Distances are exact at the centres of cells. Where the bit has a flat tip of radius t, the middle
of the groove stays up to t / tan(half angle) above that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter, CutterKind
from letterply.proof.judging.corners import Left, bears, find_left
from letterply.proof.judging.severance import LEEWAY_MM
from letterply.proof.model import DETAIL_MM, HeightField, Setup
from letterply.proof.reading.toolpath import Toolpath
from letterply.proof.removal.exact import (
    SWEEP_SAG_MM,
    Sweep,
    circle,
    quad_segs,
    sweep,
    through_sweeps,
)
from letterply.proof.removal.levels import able_cutters
from letterply.proof.removal.raster import distances, edges_of, fill, window_of
from letterply.sheets import PlacedPart
from letterply.stacks import Groove, Hole, Part, Pocket, Scribe

__all__ = [
    "FLAT_TOLERANCE_MM",
    "PLACE_MM",
    "SLOPE_TOLERANCE_MM",
    "Feature",
    "Target",
    "Unreached",
    "build_target",
    "cutters_in",
]

PLACE_MM = 0.02
"""How far a sloping wall may lie beside its place: twice the default tolerance of an arc fit."""

FLAT_TOLERANCE_MM = 0.01
"""How much deeper or higher than wanted is no fault where the cutter's height is the floor's: four
times what a height written in inches with four decimals is rounded by."""

SLOPE_TOLERANCE_MM = 0.02
"""The same on slopes, beside what they may lie beside their place."""

REACHED_MM = 0.05
"""A cutter that comes so near to a floor counts as meant to reach it."""

_NEVER = math.inf
_SNUG_MM = 0.002
_DRAWN_HALF_WIDTH_MM = 0.1


@dataclass(frozen=True, slots=True)
class Feature:
    """What a group of cells is.

    Attributes:
        part: index of the part, -1 for none.
        name: `face`, `pocket`, `corner`, `groove`, `floor-corner`, `scribe` or `hole`.
        rise: slope of the surface, height a unit of distance; 0 for flat ones.
        below_mm: how much deeper than wanted is no fault.
        above_mm: how much higher than wanted is no fault.

    """

    part: int
    name: str
    rise: float = 0.0
    below_mm: float = 0.0
    above_mm: float = 0.0

    @property
    def tolerance_mm(self) -> float:
        """What depths may differ by beside that, mm."""
        return SLOPE_TOLERANCE_MM if self.rise else FLAT_TOLERANCE_MM


@dataclass(frozen=True, slots=True)
class Unreached:
    """Corners that the smallest cutter used there cannot reach.

    Attributes:
        part: index of the part.
        code: `rounded` for a pocket, `shallow` for the floor of a groove.
        depth_mm: how far it lies from what is reached, at most.
        where: (x, y) of that place.
        detail_mm: how far it may, where a cutter of the rack reaches it.
        uncut: what of it a cutter of the rack reaches and none cut, or None.

    """

    part: int
    code: str
    depth_mm: float
    where: tuple[float, float]
    detail_mm: float
    uncut: Left | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """The wanted surface.

    Attributes:
        wanted: height of every cell, NaN where all is free.
        owner: (ny, nx) int32, index into `features`; 0 is nothing.
        features: what cells are.
        rounded: corners that no cutter reaches.

    """

    wanted: HeightField
    owner: NDArray[np.int32]
    features: tuple[Feature, ...]
    rounded: tuple[Unreached, ...]


def cutters_in(
    toolpath: Toolpath, region: BaseGeometry, level_mm: float, kinds: Sequence[CutterKind]
) -> list[Cutter]:
    """Return the cutters of some kinds whose axis goes to a level inside a region."""
    found: list[Cutter] = []
    shapely.prepare(region)
    for index, cutter in enumerate(toolpath.cutters):
        if cutter.kind not in kinds:
            continue
        cuts = toolpath.below((index,), level_mm)
        mine = cuts.segments.take(cuts.near(region.bounds, 0.0))
        ends = np.vstack([mine.starts[:, :2], mine.ends[:, :2]])
        if len(ends) and shapely.contains_xy(region, ends[:, 0], ends[:, 1]).any():
            found.append(cutter)
    return found


def build_target(
    parts: Sequence[PlacedPart], toolpath: Toolpath, grid: HeightField, setup: Setup | None = None
) -> Target:
    """Return the surface that the parts ask for, on the cells of a grid.

    Args:
        parts: in the sheet's frame.
        toolpath: tells which V-bit carves a groove and which cutter clears a pocket.
        grid: gives cells and origin; its heights are not looked at.
        setup: gives the rack, and how deep corners may stay round; None to ask no finer cutter.

    """
    painter = _Painter(toolpath, grid, setup)
    for index, placed in enumerate(parts):
        painter.paint(index, placed.part)
    wanted = HeightField(grid.cell_mm, grid.origin, painter.z)
    return Target(wanted, painter.owner, tuple(painter.features), tuple(painter.rounded))


class _Painter:
    """Paints features over each other; where they overlap the deeper one stays."""

    def __init__(self, toolpath: Toolpath, grid: HeightField, setup: Setup | None) -> None:
        self.toolpath = toolpath
        self.setup = setup
        self.usual_mm = DETAIL_MM if setup is None else setup.detail_mm
        self.sweeps: dict[float, tuple[Sweep, ...]] = {}
        self.grid = grid
        self.z = np.full(grid.z.shape, np.nan, dtype=np.float32)
        self.owner = np.zeros(grid.z.shape, dtype=np.int32)
        self.features = [Feature(-1, "free")]
        self.rounded: list[Unreached] = []

    def paint(self, index: int, part: Part) -> None:
        """Paint a part and all that is worked into it."""
        window = window_of(self.grid, part.outline.bounds)
        self._lay(
            window.rows, window.columns, fill(window, part.outline), 0.0, Feature(index, "face")
        )
        for pocket in part.pockets:
            self._pocket(index, pocket)
        for groove in part.grooves:
            self._groove(index, groove)
        for hole in part.holes:
            if hole.depth_mm is not None:
                self._blind_hole(index, hole, hole.depth_mm)
        for scribe in part.scribes:
            self._scribe(index, scribe)

    def _lay(
        self,
        rows: slice,
        columns: slice,
        mask: NDArray[np.bool_],
        height: float | NDArray[np.float32],
        feature: Feature,
    ) -> None:
        """Set the masked cells of a window to a height unless they are deeper already."""
        z, owner = self.z[rows, columns], self.owner[rows, columns]
        # Cells outside all parts stay free: NaN compares as False.
        deeper = mask if feature.name == "face" else mask & (z > height)
        if not deeper.any():
            return
        np.copyto(z, height, where=deeper)
        np.copyto(owner, len(self.features), where=deeper)
        self.features.append(feature)

    def _pocket(self, index: int, pocket: Pocket) -> None:
        # Where it runs over an edge of the part its corners lie beyond that edge.
        region, whole, depth = pocket.region, pocket.whole, pocket.depth_mm
        window = window_of(self.grid, region.bounds)
        mask = fill(window, region)
        used = cutters_in(
            self.toolpath, whole, -depth + REACHED_MM, (CutterKind.FLAT, CutterKind.BALL)
        )
        reached = self._opened(
            index, whole, region, used, "rounded", depth, pocket.bears(self.usual_mm)
        )
        inside = mask if reached is whole else mask & fill(window, reached)
        self._lay(window.rows, window.columns, inside, -depth, Feature(index, "pocket"))
        corner = Feature(index, "corner", above_mm=_NEVER)
        self._lay(window.rows, window.columns, mask & ~inside, -depth, corner)

    def _opened(
        self,
        index: int,
        region: Polygon | MultiPolygon,
        on_part: BaseGeometry,
        used: list[Cutter],
        code: str,
        depth_mm: float,
        detail_mm: float,
    ) -> BaseGeometry:
        """Return what is asked of the smallest of some cutters, and note what it cannot reach.

        Only what it cannot reach `on_part` is told.
        It is not asked into passages hardly wider than itself; where the region has nothing
        wider, it is asked where that is widest.
        """
        radius = min((c.radius_mm for c in used), default=0.0)
        if radius <= 0:
            return region
        reached = _opening(region, radius)
        missed = region.difference(reached).buffer(-PLACE_MM / 2).buffer(PLACE_MM / 2)
        left: BaseGeometry = missed if on_part is region else missed.intersection(on_part)
        if reached.is_empty:
            return region
        if not left.is_empty and left.area >= 1e-3:
            points = shapely.get_coordinates(left)
            far = np.asarray(shapely.distance(reached, shapely.points(points)))
            i = int(np.argmax(far))
            at = float(points[i, 0]), float(points[i, 1])
            uncut = self._uncut(region, reached, on_part, radius, depth_mm, detail_mm)
            self.rounded.append(Unreached(index, code, float(far[i]), at, detail_mm, uncut))
        widest = shapely.maximum_inscribed_circle(region, tolerance=_SNUG_MM / 10)
        return _opening(region, min(radius + LEEWAY_MM, float(shapely.length(widest)) - _SNUG_MM))

    def _uncut(
        self,
        region: BaseGeometry,
        reached: BaseGeometry,
        on_part: BaseGeometry,
        radius_mm: float,
        depth_mm: float,
        detail_mm: float,
    ) -> Left | None:
        """Return what a finer cutter of the rack reaches of a floor and none cut."""
        able = able_cutters(self.setup, depth_mm) if self.setup is not None else ()
        if self.setup is None or not able or able[0].radius_mm >= radius_mm - _SNUG_MM:
            return None
        missed = _opening(region, able[0].radius_mm + LEEWAY_MM).difference(reached)
        missed = missed if on_part is region else missed.intersection(on_part)
        if missed.is_empty:
            return None
        level = FLAT_TOLERANCE_MM - depth_mm
        if level not in self.sweeps:
            self.sweeps[level] = through_sweeps(self.toolpath, level)
        left, low, right, high = region.bounds
        swept = sweep(self.sweeps[level], (left - 1, low - 1, right + 1, high + 1))
        return find_left(missed, swept, detail_mm)

    def _groove(self, index: int, groove: Groove) -> None:
        bits = cutters_in(self.toolpath, groove.whole, 0.0, (CutterKind.VBIT,))
        wanted = [c for c in bits if c.included_angle_deg == groove.angle_deg]
        bit = min(wanted or bits, key=lambda c: c.included_angle_deg, default=None)
        angle = groove.angle_deg or (bit.included_angle_deg if bit else 60.0)
        rise = 1 / math.tan(math.radians(angle / 2))
        tip = bit.tip_diameter_mm / 2 if bit else 0.0
        limit = groove.max_depth_mm if groove.max_depth_mm is not None else _NEVER
        window = window_of(self.grid, groove.region.bounds)
        mask = fill(window, groove.region)
        cap = min(limit / rise, sum(window.shape) * window.cell_mm)
        # An edge of the part that it runs over is no wall of it: it is full deep there.
        edges = edges_of(groove.whole)
        away = distances(window, mask, edges, cap_mm=cap)
        height = np.maximum(-away * np.float32(rise), np.float32(-min(limit, 1e6)))
        height -= np.float32(groove.start_mm)
        slack = PLACE_MM * rise
        wall = Feature(index, "groove", rise, slack, slack + tip * rise)
        self._lay(window.rows, window.columns, mask, height, wall)
        if math.isfinite(limit):
            self._floor_corners(index, groove, limit, rise, wall)

    def _floor_corners(
        self, index: int, groove: Groove, limit: float, rise: float, wall: Feature
    ) -> None:
        """Mark what of a flat floor the end mill that clears it cannot reach."""
        floor = groove.whole.buffer(-limit / rise, quad_segs=16)
        level = -groove.start_mm - limit + REACHED_MM
        used = cutters_in(self.toolpath, floor, level, (CutterKind.FLAT,))
        if floor.is_empty or not used:
            return
        deep = groove.start_mm + limit
        detail = bears(groove.detail_mm, self.usual_mm)
        reached = self._opened(index, floor, groove.region, used, "shallow", deep, detail)
        if reached is floor:
            return
        window = window_of(self.grid, floor.bounds)
        left = fill(window, floor) & ~fill(window, reached) & fill(window, groove.region)
        owner = self.owner[window.rows, window.columns]
        owner[left & (owner > 0)] = len(self.features)
        self.features.append(
            Feature(index, "floor-corner", wall.rise, wall.below_mm, above_mm=_NEVER)
        )

    def _blind_hole(self, index: int, hole: Hole, depth: float) -> None:
        area = circle(hole.x_mm, hole.y_mm, hole.diameter_mm / 2)
        window = window_of(self.grid, area.bounds)
        drills = cutters_in(self.toolpath, area, -0.01, (CutterKind.DRILL,))
        # The point of a drill leaves a cone on the floor; its tip is what must not go deeper.
        cone = max((c.radius_mm / c.half_angle_tan for c in drills), default=0.0)
        feature = Feature(index, "hole", above_mm=min(cone, depth))
        self._lay(window.rows, window.columns, fill(window, area), -depth, feature)

    def _scribe(self, index: int, scribe: Scribe) -> None:
        lines = shapely.MultiLineString(list(scribe.whole))
        if lines.is_empty:
            return
        around = lines.buffer(0.2)
        points = cutters_in(self.toolpath, around, -0.001, (CutterKind.DRAG,))
        if not points:  # a groove may lie beside what a drag point draws: its bit is no matter
            points = cutters_in(self.toolpath, around, -0.001, (CutterKind.VBIT,))
        if points:
            rise = max(1 / c.half_angle_tan for c in points)
            reach = max(c.radius_at(scribe.depth_mm) for c in points)
        else:
            rise, reach = 1.0, _DRAWN_HALF_WIDTH_MM
        window = window_of(self.grid, lines.bounds, reach)
        near = np.ones(window.shape, dtype=np.bool_)
        away = distances(window, near, edges_of(lines), cap_mm=2 * reach)
        height = (away * np.float32(rise) - np.float32(scribe.depth_mm)).astype(np.float32)
        mask = (away <= reach) & (height < 0)
        feature = Feature(index, "scribe", rise, PLACE_MM * rise, _NEVER)
        self._lay(window.rows, window.columns, mask, height, feature)


def _opening(region: BaseGeometry, radius_mm: float) -> BaseGeometry:
    segs = quad_segs(radius_mm, SWEEP_SAG_MM)
    return region.buffer(-radius_mm, quad_segs=segs).buffer(radius_mm, quad_segs=segs)
