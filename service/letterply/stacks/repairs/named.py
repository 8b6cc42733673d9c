"""Repairs that a recipe names, worked onto a layer, and the report of what they changed. All mm.

Strengthening, softening and joining change the outline of a layer made of lettering; bridges
change what is cut through a layer. Every single change is kept with its place; the report
compares the layer with the one without any repair.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import translate

from letterply.catalogue import CutterRack, Material, Work, through_depth
from letterply.findings import Place
from letterply.lettering import Lettering
from letterply.requests import Bridges, HoldDown, LetteringOutline, LetteringRecipe
from letterply.shapes import (
    EMPTY,
    Region,
    Tolerances,
    as_region,
    farthest_mm,
    normalise,
    offset,
    outline_index,
    polygons,
)
from letterply.stacks.draft import LayerDraft
from letterply.stacks.model import Repair, RepairReport
from letterply.stacks.outlines.joining import Link, join_letters, join_pieces
from letterply.stacks.outlines.plates import hole_region
from letterply.stacks.repairs.bridging import bridge_islands, bridge_width
from letterply.stacks.repairs.strengthening import strengthen
from letterply.units import about_mm, counted

__all__ = [
    "bridge_draft",
    "move_words",
    "repair_outline",
    "repair_report",
    "repair_words",
    "smallest_gap",
]

_LEAST_GAP_MM = 1.0
"""Gap that is kept open where the rack has no cutter for the thickness; common practice, no
source."""

_PRECISION_MM = 1e-3
"""How exactly moves of an outline are measured."""

_APART = 1.1
"""From how many times the move along strokes the one where strokes meet is told beside it."""

_SEEN_MM2 = 1e-3
"""Less area than this is no change that anyone could find."""


def repair_outline(
    outline: LetteringOutline,
    plain: Region,
    letters: Sequence[Region],
    rack: CutterRack,
    thickness_mm: float,
    tolerances: Tolerances,
    *,
    reported: bool = True,
) -> tuple[Region, tuple[Repair, ...]]:
    """Return an outline strengthened, softened and joined as the recipe asks, and the changes.

    `letters` are the regions of the single letters, for `join: "letters"`; `rack` has the layer's
    material and what may cut it. To measure the changes
    takes longer than to make most of them: where they are not `reported`, none are returned.
    """
    region = plain
    tolerance = tolerances.offset_mm
    repairs: list[Repair] = []
    grown = 0.0
    wish = outline.strengthen
    if wish is not None:
        limit = wish.limit or rack.material.min_web(thickness_mm)
        gap = smallest_gap(rack, thickness_mm) if wish.gap is None else wish.gap
        stronger, growths = strengthen(region, limit, gap, tolerance, wish.way, reported=reported)
        grown = 0.0 if stronger is region else limit
        if reported:
            moved = _movement(region, stronger)
            for g in growths:
                where = Place("point", (g.at,))
                along, buried = moved(g.region)
                move = max(along, buried)
                repairs.append(
                    Repair("strengthen", where, g.region, move, g.width_mm, limit, along)
                )
        region = stronger
    if outline.soften:
        softer = _softened(region, outline.soften, tolerance)
        added = normalise(shapely.difference(softer, region)) if reported else EMPTY
        if added.area > _SEEN_MM2:
            at = max(polygons(added), key=lambda p: (p.area, p.bounds)).representative_point()
            where = Place("point", ((float(at.x), float(at.y)),))
            along, buried = _movement(region, softer)(added)
            move = max(along, buried)
            repairs.append(Repair("soften", where, added, move, 0.0, along_mm=along))
        region = normalise(softer)
    if outline.join:
        width = 1.2 * rack.material.min_web(thickness_mm)
        if outline.join == "letters":
            reach = max(outline.grow, 0.0) + grown / 2
            joined, links = join_letters(region, letters, width, tolerance, reach_mm=reach)
        else:
            joined, links = join_pieces(region, width, tolerance)
        if reported:
            repairs += _link_repairs(region, joined, links, width)
        region = joined
    return region, tuple(repairs)


def smallest_gap(rack: CutterRack, thickness_mm: float) -> float:
    """Return the diameter of the smallest end mill that goes through, mm."""
    fitting = rack.able(Work.POCKET, through_depth(thickness_mm, HoldDown.TABS))
    return fitting[0].diameter_mm if fitting else _LEAST_GAP_MM


def _softened(region: Region, radius_mm: float, tolerance_mm: float) -> Region:
    """Round inside corners to at least the radius, so that a cutter of that radius reaches them.

    A closing by the disc: it adds in the corners and in gaps narrower than the disc, takes
    nothing away. What it would add that is thinner than twice the tolerance is left out: outlines
    that nearly coincide, on which overlays are slow and which come out with twice the points.
    """
    closed = offset(offset(region, radius_mm, tolerance_mm), -radius_mm, tolerance_mm)
    shrunk = shapely.buffer(closed, -tolerance_mm, quad_segs=4)
    cores = shapely.difference(shrunk, region)
    if cores.is_empty:
        return region
    near = shapely.buffer(cores, 8 * tolerance_mm, quad_segs=4)
    return as_region(shapely.union(region, shapely.intersection(near, closed)))


def _link_repairs(
    before: Region, after: Region, links: Sequence[Link], width_mm: float
) -> list[Repair]:
    fresh = np.array(polygons(shapely.difference(after, before)), dtype=object)
    if not len(fresh):
        return []
    lines = np.array([link.line for link in links], dtype=object)
    nearest = np.argmin(shapely.distance(fresh[:, None], lines), axis=1)
    moved = _movement(before, after)
    found = []
    for number, link in enumerate(links):
        added = normalise(shapely.MultiPolygon(fresh[nearest == number].tolist()))
        if added.is_empty:
            continue
        ends = [(float(x), float(y)) for x, y in link.line.coords]
        where = Place("segment", (ends[0], ends[-1]))
        along, buried = moved(added)
        move = max(along, buried)
        found.append(Repair("join", where, added, move, link.gap_mm, width_mm, along))
    return found


def bridge_draft(
    draft: LayerDraft,
    material: Material,
    base: Lettering | None,
    set_own: Callable[[LetteringRecipe, str], Lettering],
    tolerances: Tolerances,
) -> None:
    """Put the bridges that its features ask for into what is cut through a layer.

    `base` is the recipe's own lettering, `set_own` sets lettering that a feature brings itself.
    """
    if not draft.stencils:
        return
    whole = draft.solid
    discs = [
        hole_region(h.x_mm, h.y_mm, h.diameter_mm, tolerances.flatten_mm)
        for h in draft.holes
        if h.depth_mm is None
    ]
    plain = as_region(shapely.union_all([draft.through, *(cut for cut, _ in draft.stencils)]))
    draft.plain_through = plain
    left: list[Region] = []
    for number, (cut, feature) in enumerate(draft.stencils):
        wish = feature.bridges or Bridges()
        own = feature.lettering
        lettering = base if own is None else set_own(own, f"{draft.path}.features")
        assert lettering is not None  # the recipe was refused otherwise
        others = [c for k, (c, _) in enumerate(draft.stencils) if k > number]
        gone = shapely.union_all([draft.through, *left, *others, *discs])
        base_region = as_region(shapely.difference(whole, gone))
        width = wish.width or bridge_width(material, draft.recipe.thickness)
        rest, bridges = bridge_islands(
            cut,
            base_region,
            width,
            angle_deg=wish.angle,
            count=wish.count,
            turn_of=_turns(lettering, cut),
        )
        with_bridges = normalise(shapely.difference(base_region, rest))
        moved = _movement(normalise(shapely.difference(base_region, cut)), with_bridges)
        for bridge in bridges:
            ends = [(float(x), float(y)) for x, y in bridge.line.coords]
            where = Place("segment", (ends[0], ends[-1]))
            along, buried = moved(bridge.region)
            draft.repairs.append(
                Repair(
                    "bridge",
                    where,
                    bridge.region,
                    max(along, buried),
                    bridge.length_mm,
                    bridge.width_mm,
                    along,
                )
            )
        left.append(rest)
    draft.through = as_region(shapely.union_all([draft.through, *left]))


def _turns(lettering: Lettering, placed: Region) -> Callable[[Polygon], float] | None:
    """Return what tells how far the letter round a piece is turned; None where none is.

    `placed` is the lettering where it was put: moved, never turned.
    """
    if not any(x.angle_deg for x in lettering.letters):
        return None
    dx, dy = (placed.bounds[k] - lettering.region.bounds[k] for k in (0, 1))
    hulls = [translate(shapely.convex_hull(x.region), dx, dy) for x in lettering.letters]

    def turn_of(piece: Polygon) -> float:
        at = piece.representative_point()
        nearest = min(range(len(hulls)), key=lambda k: (float(hulls[k].distance(at)), k))
        return lettering.letters[nearest].angle_deg

    return turn_of


def _movement(before: Region, after: Region) -> Callable[[Region], tuple[float, float]]:
    """Return what tells how far an addition reaches out, and how deep it buries the old outline.

    Its rim is made of both: of what was the outline, and of what is.
    """
    indices = [None if r.is_empty else outline_index(r) for r in (before, after)]

    def moved(added: Region) -> tuple[float, float]:
        if added.is_empty:
            return 0.0, 0.0
        rim = outline_index(added)
        along, buried = (
            0.0
            if index is None
            else farthest_mm(rim.starts, rim.following, index, precision_mm=_PRECISION_MM)
            for index in indices
        )
        return along, buried

    return moved


def repair_report(draft: LayerDraft) -> RepairReport | None:
    """Return what the repairs of a layer changed, None where there were none."""
    if not draft.repairs:
        return None
    solid, through = draft.plain
    before = normalise(shapely.difference(solid, through))
    after = normalise(shapely.difference(draft.solid, draft.through))
    along, buried = moves_mm(before, after)
    return RepairReport(
        before=before,
        along_mm=along,
        crotches_mm=buried,
        area_added_mm2=after.area - before.area,
        pieces_joined=len(before.geoms) - len(after.geoms),
        bridges=sum(r.kind == "bridge" for r in draft.repairs),
        places=tuple(sorted(draft.repairs, key=lambda r: (r.where.anchor, r.kind))),
    )


def moves_mm(before: Region, after: Region) -> tuple[float, float]:
    """Return how far the new outline lies from the old one, and the old one from the new one."""
    old, new = outline_index(before), outline_index(after)
    along = farthest_mm(new.starts, new.following, old, precision_mm=_PRECISION_MM)
    return along, farthest_mm(old.starts, old.following, new, precision_mm=_PRECISION_MM)


def move_words(along_mm: float, crotches_mm: float) -> str:
    """Return how far an outline moved, what closed between strokes apart where that is more.

    >>> move_words(0.5, 0.5), move_words(0.95, 2.5)
    ('up to 0.5 mm', 'up to 0.95 mm along strokes, 2.5 mm where strokes meet')

    """
    if crotches_mm <= _APART * along_mm:
        return f"up to {about_mm(max(along_mm, crotches_mm))}"
    return f"up to {about_mm(along_mm)} along strokes, {about_mm(crotches_mm)} where strokes meet"


def repair_words(report: RepairReport) -> list[str]:
    """Return the repairs of a layer in words, for the history of its parts."""
    words: list[str] = []
    bridges = [r for r in report.places if r.kind == "bridge"]
    if bridges:
        wide = min(r.now_mm or 0.0 for r in bridges)
        words.append(f"{counted(len(bridges), 'bridge')} {about_mm(wide)} wide left in the cut")
    stronger = [r for r in report.places if r.kind == "strengthen"]
    if stronger:
        limit = max(r.now_mm or 0.0 for r in stronger)
        words.append(
            f"{counted(len(stronger), 'thin place')} made {about_mm(limit)} wide, the thinnest was "
            f"{about_mm(min(r.was_mm for r in stronger))}"
        )
    links = [r for r in report.places if r.kind == "join"]
    if links:
        words.append(
            f"joined with {counted(len(links), 'link')} across gaps of up to "
            f"{about_mm(max(r.was_mm for r in links))}"
        )
    if any(r.kind == "soften" for r in report.places):
        words.append("inside corners rounded")
    words.append(f"the outline moved by {move_words(report.along_mm, report.crotches_mm)}")
    return words
