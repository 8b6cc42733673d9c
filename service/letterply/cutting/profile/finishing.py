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

__all__ = ["last_cut", "off_the_slug"]

_KERF_MM = 0.03
"""How much of a slug a finishing loop's helix may touch: two paths' tolerances of arcs."""


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


def off_the_slug(
    cut: ProfileCut, loop: LoopCut, freed: Sequence[tuple[LoopCut, Toolpath]], radius_mm: float
) -> ProfileCut:
    """Return how a finishing loop in a hole is cut after rougher ones that freed its slug.

    It goes in where one of them did, where a helix meets no more of the slug than that one has
    taken away: a loose slug turns when it is cut, and jams or throws the cutter.
    """
    if not freed:
        return cut
    inside = Polygon(loop.points)
    kerfs, ways_in = [], []
    for rougher, path in freed:
        line = LineString(rougher.points)
        way_in = shapely.shortest_line(shapely.Point(path.start[:2]), line)
        # Round the middle of it the helix went down; with a ramp it is a point of the loop.
        helix = shapely.centroid(way_in).buffer(way_in.length / 2 + radius_mm, quad_segs=32)
        kerfs += [line.buffer(radius_mm), helix]
        ways_in.append(shapely.Point(path.start[:2]))
    nearest = min(ways_in, key=inside.exterior.distance)
    slug = shapely.difference(inside, shapely.union_all(kerfs))
    beside = shapely.buffer(slug, radius_mm - _KERF_MM)
    return replace(cut, enter_at=(nearest.x, nearest.y), loose=as_region(beside))
