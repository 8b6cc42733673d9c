"""Profiles: cutting a part out of its sheet, inside and outside, with tabs where they are wanted.

The path of a cutter of radius R runs at least R away from the part, so that what is left is never
smaller than drawn. A loop is cut in passes: each goes down by a helix in the waste beside the path
(`letterply.cutting.profile.entry`), or by a ramp along it, and then once round, so that no cutter
plunges and the floor comes out level. Tabs are trapezoids left standing at the bottom. Lengths mm,
sheet frame.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from shapely import Polygon

from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.entry import (
    HelixBeside,
    entered,
    entries,
    helices_beside,
    narrowness,
)
from letterply.cutting.toolpath import EntryOptions, Toolpath
from letterply.shapes import (
    EMPTY,
    ROUNDING,
    Region,
    Tolerances,
    as_region,
    clear_offset,
    fit_arcs,
    offset,
    rings,
)

__all__ = [
    "LoopCut",
    "ProfileCut",
    "TabPlan",
    "clearance",
    "inside_loops",
    "outside_loops",
    "profile_path",
]

_Floats = NDArray[np.float64]

RAMP_DEG = 5.0
"""Slope of an entry ramp; common practice, no source."""

TAB_FLANK_DEG = 44.0
"""Slope of a tab's flanks, gentle enough for a cutter that cannot plunge: less than 45 degrees."""


@dataclass(frozen=True, slots=True)
class TabPlan:
    """Tabs of one loop.

    Attributes:
        count: how many.
        length_mm: how long the path stays raised over each: the length of the tab's top, and the
            diameter of the cutter.
        height_mm: height above the underside of the stock.
        flank_deg: slope of its flanks.

    """

    count: int
    length_mm: float
    height_mm: float
    flank_deg: float = TAB_FLANK_DEG

    @property
    def flank_mm(self) -> float:
        """How far a flank reaches along the path for each mm that it rises."""
        return 1 / math.tan(math.radians(self.flank_deg))

    def foot_mm(self, cutter_mm: float) -> float:
        """Return how long each is on the underside, for the diameter of the cutter."""
        return self.length_mm - cutter_mm + 2 * self.height_mm * self.flank_mm

    @property
    def reach_mm(self) -> float:
        """How long it would be raised if it stood on the same foot with the usual flanks."""
        usual = 1 / math.tan(math.radians(TAB_FLANK_DEG))
        return self.length_mm + 2 * self.height_mm * (self.flank_mm - usual)


@dataclass(frozen=True, slots=True, eq=False)
class LoopCut:
    """One closed path of the cutter's centre.

    Attributes:
        points: (n, 2), the first one repeated at the end.
        waste_inside: True where what the path surrounds is waste: in holes and cavities.

    """

    points: _Floats
    waste_inside: bool = False


@dataclass(frozen=True, slots=True)
class ProfileCut:
    """How loops are cut.

    Attributes:
        depth_mm: of the last pass.
        pass_depth_mm: of each pass, at most.
        tolerances: of arcs.
        tab_floor_mm: thickness of the stock: tabs stand on its underside.
        helix_mm: radius of a helix that goes down beside the path; 0 for ramps along it.
        arcs: whether curves leave as arcs.
        enter_at: beside which points the cutter goes in; none for the best places.
        loose: where the axis of a helix must not be, for what lies there is loose.

    """

    depth_mm: float
    pass_depth_mm: float
    tolerances: Tolerances
    tab_floor_mm: float = 0.0
    helix_mm: float = 0.0
    arcs: bool = True
    enter_at: tuple[tuple[float, float], ...] = ()
    loose: Region = EMPTY

    @property
    def pass_count(self) -> int:
        """How many passes it takes."""
        return max(1, math.ceil(self.depth_mm / self.pass_depth_mm - ROUNDING))


def clearance(tolerances: Tolerances) -> float:
    """Return how much farther than its radius a path keeps away from the part, mm."""
    return tolerances.path_clearance_mm


def outside_loops(outline: Polygon, radius_mm: float, tolerances: Tolerances) -> list[LoopCut]:
    """Return the loops round a part: one outside, and one in each cavity that it encloses.

    A cavity whose mouth is narrower than the cutter is closed in the offset: it has a loop of
    its own, or none where the cutter does not fit.
    """
    solid = as_region(Polygon(outline.exterior))
    fine = tolerances.offset_mm / 2
    grown = clear_offset(solid, radius_mm + tolerances.arc_fit_mm, fine)
    loops = [LoopCut(np.vstack((r, r[:1])), k > 0) for k, r in enumerate(rings(grown))]
    return _without_slivers(loops, outline.exterior, radius_mm)


_SLIVER_MM = 0.05
"""A loop that is shorter is none: the cutter would not move in it."""


def inside_loops(hole: Polygon, radius_mm: float, tolerances: Tolerances) -> list[LoopCut]:
    """Return the loops inside a hole; none where the cutter does not fit."""
    fine = tolerances.offset_mm / 2
    shrunk = offset(as_region(hole), -radius_mm - clearance(tolerances), fine)
    loops = [LoopCut(np.vstack((r, r[:1])), waste_inside=True) for r in rings(shrunk)]
    return _without_slivers(loops, hole.exterior, radius_mm, shortest_mm=0.0)


def _without_slivers(
    loops: list[LoopCut],
    wall: shapely.LinearRing,
    radius_mm: float,
    shortest_mm: float = _SLIVER_MM,
) -> list[LoopCut]:
    """Return the loops without those that fronts of the offset leave where they meet.

    They are tiny, or lie nearer to the wall than the cutter's radius and would cut into it.
    """
    lines = np.array([shapely.LineString(loop.points) for loop in loops])
    shapely.prepare(wall)  # sixteen times as fast as asking for the distance
    near = shapely.dwithin(wall, lines, np.nextafter(radius_mm, 0))
    good = (shapely.length(lines) > shortest_mm) & ~near
    return [loop for loop, fine in zip(loops, good, strict=True) if fine]


def directed(points: _Floats, *, clockwise: bool) -> _Floats:
    """Return a closed path turned the way that is asked for."""
    ccw = shapely.is_ccw(shapely.LinearRing(points))
    return points[::-1] if bool(ccw) == clockwise else points


def profile_path(
    loop: LoopCut,
    cut: ProfileCut,
    *,
    clockwise: bool,
    tabs: TabPlan | None = None,
    part: Polygon | None = None,
    keep_clear: Region = EMPTY,
    tab_at: _Floats | None = None,
) -> tuple[Toolpath, _Floats]:
    """Return the path of a loop down to the depth, and where it leaves tabs, (k, 2).

    The cutter goes down by a ramp along the loop; or by a helix in the waste beside it, where one
    is wanted and there is room (`letterply.cutting.profile.entry`). It may begin at any of several
    good places: these are the entry options of the path.

    Tabs keep away from where `part` is narrow and from `keep_clear`, where another cutter goes
    through; or they stand next to the points `tab_at`, so that a finishing loop leaves the same
    ones.
    """
    chain = fit_arcs(
        directed(loop.points, clockwise=clockwise), cut.tolerances.arc_fit_mm, arcs=cut.arcs
    )
    line = ParametricPath(chain, closed=True)
    if not tabs or not tabs.count:
        places = np.empty(0)
    elif tab_at is not None:
        places = _nearest_lengths(line, tab_at)
    else:
        places = _tab_places(line, tabs, part, keep_clear)
    passes = _LoopPasses(line, cut, tabs, places)
    if cut.enter_at:
        starts = _nearest_lengths(line, np.array(cut.enter_at))
    else:
        starts = entries(line, places, part)
    circles = helices_beside(
        line, starts, cut.helix_mm, loop.points, waste_inside=loop.waste_inside, loose=cut.loose
    )
    if circles and (len(circles) == len(starts) or not cut.enter_at):
        far = np.array([beside.far for beside in circles])
        options = EntryOptions(far, far, cache(lambda k: passes.by_helix(circles[k])))
    else:
        ends = line.at(starts), line.at(starts + passes.ramp_mm)
        options = EntryOptions(*ends, cache(lambda k: passes.by_ramps(float(starts[k]))))
    at = line.at(places) if len(places) else np.empty((0, 2))
    return replace(options.make(0), entry_options=options), at


@dataclass(frozen=True, slots=True, eq=False)
class _LoopPasses:
    """A loop as it is cut: once round in each pass, raised over the tabs at `places`."""

    line: ParametricPath
    cut: ProfileCut
    tabs: TabPlan | None
    places: _Floats

    @property
    def ramp_mm(self) -> float:
        """How far the ramps of all passes reach along the loop."""
        return self.cut.depth_mm / math.tan(math.radians(RAMP_DEG))

    def by_helix(self, beside: HelixBeside) -> Toolpath:
        """Return the path that goes down by a helix before each pass."""
        depth, count = self.cut.depth_mm, self.cut.pass_count
        round_at = np.array([beside.start, beside.start + self.line.length])
        rounds = [
            self._tabbed(round_at, np.full(2, -depth * k / count)) for k in range(1, count + 1)
        ]
        return entered(beside, rounds, depth / count, RAMP_DEG)

    def by_ramps(self, start: float) -> Toolpath:
        """Return the path that goes down by a ramp along the loop before each pass."""
        count = self.cut.pass_count
        s, z = [start], [0.0]
        for number in range(1, count + 1):
            deep = -self.cut.depth_mm * number / count
            s.append(s[-1] + self.ramp_mm / count)
            z.append(deep)
            s.append(s[-1] + self.line.length)
            z.append(deep)
        return self._tabbed(np.array(s), np.array(z))

    def _tabbed(self, lengths: _Floats, depths: _Floats) -> Toolpath:
        if len(self.places) and self.tabs is not None:
            top = self.tabs.height_mm - self.cut.tab_floor_mm
            lengths, depths = _with_tabs(
                lengths, depths, self.places, self.line.length, self.tabs, top
            )
        return self.line.path(lengths, depths)


def _nearest_lengths(walk: ParametricPath, points: _Floats) -> _Floats:
    """Return the lengths along a loop at which it comes nearest to each point."""
    if not len(points):
        return np.empty(0)
    count = max(64, int(10 * walk.length))
    s = np.linspace(0, walk.length, count, endpoint=False)
    away = ((walk.at(s)[None, :, :] - points[:, None, :]) ** 2).sum(axis=2)
    step = walk.length / count
    near = s[away.argmin(axis=1), None] + np.linspace(-step, step, _FINER)
    away = ((walk.at(near.ravel()).reshape(*near.shape, 2) - points[:, None, :]) ** 2).sum(axis=2)
    return np.unique(near[np.arange(len(points)), away.argmin(axis=1)] % walk.length)


def _with_tabs(
    lengths: _Floats,
    depths: _Floats,
    places: _Floats,
    loop_mm: float,
    tabs: TabPlan,
    top_mm: float,
) -> tuple[_Floats, _Floats]:
    """Return the depth profile lifted over the tabs: z = max(profile, tab)."""
    tab_mm = tabs.length_mm
    flank = (top_mm - float(depths.min())) * tabs.flank_mm
    turns = np.arange(math.floor(lengths[0] / loop_mm) - 1, math.ceil(lengths[-1] / loop_mm) + 1)
    centres = (turns[:, None] * loop_mm + places[None, :]).ravel()
    around = np.array([-tab_mm / 2, tab_mm / 2, -tab_mm / 2 - flank, tab_mm / 2 + flank])
    extra = (centres[:, None] + around[None, :]).ravel()
    extra = extra[(extra > lengths[0]) & (extra < lengths[-1])]
    s = np.unique(np.concatenate((lengths, extra)))

    def heights(at: _Floats) -> tuple[_Floats, _Floats]:
        away = np.abs(at[:, None] - centres[None, :]).min(axis=1)
        tab = top_mm - np.maximum(away - tab_mm / 2, 0) / tabs.flank_mm
        return np.interp(at, lengths, depths), tab

    base, tab = heights(s)
    # Between its corners each is straight: where they cross, the path goes over to the other.
    over = base - tab
    crossed = np.flatnonzero(over[:-1] * over[1:] < 0)
    share = over[crossed] / (over[crossed] - over[crossed + 1])
    s = np.unique(np.concatenate((s, s[crossed] + share * (s[crossed + 1] - s[crossed]))))
    z = np.maximum(*heights(s))
    bends = np.ones(len(s), dtype=bool)
    slope = np.diff(z) / np.diff(s)
    bends[1:-1] = np.abs(np.diff(slope)) > ROUNDING
    return s[bends], z[bends]


_FINER = 41
"""Places between two neighbours at which a place on a loop is looked for more exactly."""

_BAD_TAB = 250.0
"""Cost from which a place for a tab is not taken at all."""


_INTO_BAY = 100.0
"""Cost of a tab that reaches into a bay: taken where there is no other place, else not."""

_GOOD_TAB_DEG = 45.0
"""How much more than at the best place the path may turn at a tab."""


def _tab_places(
    walk: ParametricPath, tabs: TabPlan, part: Polygon | None, keep_clear: Region
) -> _Floats:
    """Return lengths along the loop for the tabs: straight runs along the part, far apart.

    Each place is the one farthest from those already chosen among the good ones. Where there are
    fewer places than tabs, there are fewer tabs: one in a bay or next to what the cutter does not
    reach spoils the part.
    """
    s = np.linspace(0, walk.length, max(64, int(2 * walk.length)), endpoint=False)
    points = np.asarray(shapely.points(walk.at(s)))
    cost = walk.turning(s, tabs.reach_mm * 1.5)
    if part is not None:
        # Where the part near the cutter is narrow, cutting the tab off would break it.
        cost = cost + 20.0 * narrowness(points, part)
        # In a bay of the part a tab is hard to reach, and both sides of it may be the part; one
        # that reaches into a bay is cut through there when the cutter comes back beside it.
        hull = shapely.convex_hull(part)
        shapely.prepare(hull)
        bay = shapely.contains(hull, points)
        beside = maximum_filter1d(bay, 1 + 2 * round(tabs.reach_mm / 2 / s[1]), mode="wrap")
        cost = cost + 300.0 * bay + _INTO_BAY * (beside & ~bay)
    if not keep_clear.is_empty:
        close = np.asarray(shapely.distance(points, keep_clear)) < 0.75 * tabs.reach_mm
        cost = cost + 500.0 * close
    fair = cost < _BAD_TAB
    if not fair.any():
        return np.empty(0)
    chosen = [int(np.argmin(np.round(cost, 3)))]
    while len(chosen) < tabs.count:
        away = np.abs(s[:, None] - s[chosen][None, :])
        gap = np.minimum(away, walk.length - away).min(axis=1)
        room = fair & (gap > 2 * tabs.reach_mm)
        if not room.any():
            break
        good = room & (cost <= cost[chosen[0]] + _GOOD_TAB_DEG)
        if good.any() and gap[good].max() > walk.length / (4 * tabs.count):
            chosen.append(int(np.argmax(np.where(good, np.round(gap, 3), -1))))
        else:
            chosen.append(int(np.argmin(np.where(room, np.round(cost, 3), np.inf))))
    return np.sort(s[chosen])
