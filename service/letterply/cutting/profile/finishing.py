"""Finishing loops: once round at full depth where a rougher loop left a thin layer. Lengths mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely import LineString, Polygon

from letterply.cutting.context import SheetContext
from letterply.cutting.profile.profiles import LoopCut, ProfileCut
from letterply.cutting.toolpath import Toolpath
from letterply.shapes import as_region

__all__ = ["in_the_kerf", "last_cut"]

_KERF_MM = 0.03
"""How much of the waste a finishing loop's helix may touch: two paths' tolerances of arcs."""


def last_cut(
    context: SheetContext,
    in_passes: ProfileCut,
    rough: Sequence[tuple[list[LoopCut], bool]],
    loop: LoopCut,
) -> ProfileCut:
    """Return how a loop is cut: a finishing one at once, in passes where no rougher one went."""
    lines = [LineString(one.points) for loops, _ in rough for one in loops]
    if not lines:
        return in_passes
    # So near to a rough loop the axis meets no more than what that one left for it.
    near = 1.5 * context.shop.finish_mm + context.tolerances.path_clearance_mm
    if shapely.union_all(lines).buffer(near).contains(LineString(loop.points)):
        return replace(in_passes, pass_depth_mm=context.depth)
    return in_passes


def in_the_kerf(
    cut: ProfileCut, loop: LoopCut, rougher: Sequence[tuple[LoopCut, Toolpath]], radius_mm: float
) -> ProfileCut:
    """Return how a finishing loop is cut after the rougher ones, with their paths.

    It goes in where one of them did, where a helix meets no more of the waste than that one has
    taken away: a slug that has come loose turns when it is cut, and jams or throws the cutter.
    """
    if not rougher or not cut.helix_mm:
        return cut
    inside = Polygon(loop.points)
    line, path = min(
        ((LineString(one.points), path) for one, path in rougher),
        key=lambda one: inside.exterior.distance(shapely.Point(one[1].start[:2])),
    )
    options = path.entry_options
    enter_at = path.start[None, :2] if options is None else options.entries
    far = shapely.points(enter_at)
    near = shapely.union_all(shapely.buffer(far, 4 * cut.helix_mm + 2 * radius_mm))
    lines = shapely.intersection(
        [LineString(one.points) for one, _ in rougher], near.buffer(radius_mm)
    )
    ways_in = shapely.shortest_line(far, line)
    # Round their middles the helices went down; with a ramp that is a point of the loop.
    wide = shapely.length(ways_in) / 2 + radius_mm
    helices = shapely.buffer(shapely.centroid(ways_in), wide, quad_segs=32)
    kerf = shapely.union_all([*shapely.buffer(lines, radius_mm, quad_segs=32), *helices])
    waste = near.intersection(inside) if loop.waste_inside else near.difference(inside)
    beside = shapely.difference(waste, kerf).buffer(radius_mm - _KERF_MM)
    return replace(cut, enter_at=tuple(map(tuple, enter_at.tolist())), loose=as_region(beside))
