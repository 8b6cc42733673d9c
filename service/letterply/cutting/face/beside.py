"""What a larger cutter left of a pocket, entered from where that one has cleared.

A smaller cutter goes along stretches of its loops. Where a stretch ends the floor beside it is
clear: there the cutter goes down through air, as deep as a pass may be, and into the rest from the
side, forth in one pass and back in the next. Stretches whose ends lie near each other are one
path, the cutter staying down, where the way between them is clear and takes no longer than a lift.
Lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.cutting.paths import ParametricPath
from letterply.cutting.profile.profiles import RAMP_DEG
from letterply.cutting.profile.rest_machining import BEYOND_MM, to_and_fro
from letterply.cutting.toolpath import EntryOptions, Rate, Toolpath
from letterply.shapes import ROUNDING, Region, Tolerances, fit_arcs

__all__ = ["FREE_MM", "PocketCut", "from_beside"]

_Floats = NDArray[np.float64]

FREE_MM = 0.1
"""How far a cutter keeps from what is left of a pocket where it goes down beside it."""


@dataclass(frozen=True, slots=True)
class PocketCut:
    """How a pocket is cleared.

    Attributes:
        radius_mm: of the cutter.
        depth_mm: of the last pass.
        pass_depth_mm: of each pass, at most.
        tolerances: of offsets and arcs.
        conventional: whether the cutter goes clockwise round the pocket.
        arcs: whether curves leave as arcs.
        lift_mm: height over the stock of a short way inside one path: that of all travel, for
            what holds the sheet is lower.
        way_of_lift_mm: longest way at the feed that takes no longer than a lift; 0 for none.

    """

    radius_mm: float
    depth_mm: float
    pass_depth_mm: float
    tolerances: Tolerances
    conventional: bool = False
    arcs: bool = True
    lift_mm: float = 5.0
    way_of_lift_mm: float = 0.0

    @property
    def pass_count(self) -> int:
        """How many passes it takes."""
        return max(1, math.ceil(self.depth_mm / self.pass_depth_mm - ROUNDING))

    @property
    def ramp_mm(self) -> float:
        """How long the ramp of a pass is."""
        return self.depth_mm / self.pass_count / math.tan(math.radians(RAMP_DEG))


def from_beside(
    stretches: Sequence[_Floats],
    rest: Region,
    wanted: BaseGeometry,
    room: Polygon,
    cut: PocketCut,
) -> list[Toolpath]:
    """Return the paths along open stretches of loops, (n, 2) each, inner ones first.

    Args:
        stretches: they end where they leave `wanted`.
        rest: what larger cutters left; all else of the pocket is clear.
        wanted: where the middle of the cutter is within `FREE_MM` of touching it.
        room: where the middle of the cutter may be.
        cut: how it is cleared.

    """
    left = _Left(rest, room, cut)
    queues = _queues(stretches, wanted)
    paths: list[Toolpath] = []
    chain: list[_Floats] = []
    while queues:
        at = _end_of(chain[-1], cut) if chain else None
        heads = [(k, line) for k, queue in enumerate(queues) for line in (queue[0], queue[0][::-1])]
        if at is not None:
            heads.sort(key=lambda head: math.dist(at, head[1][0]))
            linked = [head for head in heads if left.may_link(at, head[1][0])]
            if not linked:
                paths.append(_down_along(chain, cut))
                chain = []
            heads = linked or heads
        number, line = heads[0]
        queues[number].pop(0)
        queues = [queue for queue in queues if queue]
        if left.is_free(line[0]) and left.is_free(line[-1]):
            chain.append(line)
        else:
            down = cut.depth_mm, cut.pass_depth_mm
            paths.append(to_and_fro(line, *down, cut.tolerances, arcs=cut.arcs))
        left.take(line)
    return [*paths, _down_along(chain, cut)] if chain else paths


def _queues(stretches: Sequence[_Floats], wanted: BaseGeometry) -> list[list[_Floats]]:
    """Return the stretches beside each piece of the rest, in their order."""
    tree = shapely.STRtree(shapely.get_parts(wanted))
    found: dict[int, list[_Floats]] = {}
    for stretch in stretches:
        number = int(tree.nearest(Point(stretch[len(stretch) // 2])))
        found.setdefault(number, []).append(stretch)
    return list(found.values())


class _Left:
    """What is left of a pocket while stretches are cut one by one."""

    def __init__(self, rest: Region, room: Polygon, cut: PocketCut) -> None:
        self._pieces = np.array(rest.geoms, dtype=object)
        self._cut = cut
        self._reach = shapely.buffer(room, 2 * cut.tolerances.arc_fit_mm)
        shapely.prepare(self._reach)

    def is_free(self, at: _Floats) -> bool:
        """Whether the cutter meets nothing at a point."""
        return self._is_clear(Point(at))

    def may_link(self, at: _Floats, to: _Floats) -> bool:
        """Whether the cutter may stay down on its way from a floor to where it begins again."""
        rise = self._cut.depth_mm * (1 - 1 / self._cut.pass_count)
        if math.hypot(*(to - at), rise) > self._cut.way_of_lift_mm:
            return False
        line = LineString([at, to])
        return bool(self._reach.covers(line)) and self._is_clear(line)

    def _is_clear(self, way: BaseGeometry) -> bool:
        near = self._cut.radius_mm + BEYOND_MM
        return not shapely.dwithin(self._pieces, way, near).any()

    def take(self, stretch: _Floats) -> None:
        """Take away what the cutter clears along a stretch."""
        line = LineString(stretch)
        near = np.flatnonzero(shapely.dwithin(self._pieces, line, self._cut.radius_mm))
        # What it just touches is gone, too: hairs are within the tolerance.
        swept = shapely.buffer(line, self._cut.radius_mm + BEYOND_MM)
        self._pieces[near] = shapely.difference(self._pieces[near], swept)


def _end_of(line: _Floats, cut: PocketCut) -> _Floats:
    """Return where the cutter is when it has gone along a line in all passes."""
    end: _Floats = line[-1 if cut.pass_count % 2 else 0]
    return end


def _down_along(lines: Sequence[_Floats], cut: PocketCut) -> Toolpath:
    """Return one path along lines, down through air before each pass."""
    if len(lines) > 1:
        return _passes(lines, cut)
    (line,) = lines
    ways = line, line[::-1]
    made = cache(lambda way: _passes([ways[way]], cut))
    exits = np.array([_end_of(way, cut) for way in ways])
    return replace(made(0), entry_options=EntryOptions(line[[0, -1]], exits, made))


def _passes(lines: Sequence[_Floats], cut: PocketCut) -> Toolpath:
    count = cut.pass_count
    pieces: list[Toolpath] = []
    for line in lines:
        walks = [
            ParametricPath(fit_arcs(way, cut.tolerances.arc_fit_mm, arcs=cut.arcs), closed=False)
            for way in (line, line[::-1])
        ]
        for number in range(count):
            walk, z = walks[number % 2], -cut.depth_mm * (number + 1) / count
            leg = walk.path(np.array([0.0, walk.length]), np.full(2, z))
            # The way from another line leads up to the first level of this one.
            rate = Rate.FEED if pieces and not number else Rate.SINK
            pieces.append(Toolpath.straight(leg.start, leg.start[None], rate))
            pieces.append(leg)
    return Toolpath.joined(pieces, start=np.array([*lines[0][0], 0.0]))
