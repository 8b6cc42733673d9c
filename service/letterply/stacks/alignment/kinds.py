"""Alignment: what helps the layers to be glued up in register.

`dowels` puts holes where an upper part overlaps everything below it; the top layer gets blind
holes in its back and is cut from there, so that its face stays whole. `placement_lines` scribes
the outline of the layer above, drawn in so that glue hides it. (Frames are fixtures:
`letterply.stacks.blanks.fixtures`.) All mm.
"""

from __future__ import annotations

from itertools import pairwise

import shapely

from letterply.catalogue import Catalogue
from letterply.errors import InputError
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.memo import Once, every_time
from letterply.names import layer_words
from letterply.requests import Dowels, PlacementLines, Recipe
from letterply.said import Said, say
from letterply.shapes import Region, Tolerances, as_region, offset, polygons
from letterply.stacks.alignment.dowels import dowel_places
from letterply.stacks.draft import LayerDraft
from letterply.stacks.features.lines import outline_lines
from letterply.stacks.fits import dowel_bore
from letterply.stacks.outlines.plates import hole_region
from letterply.stacks.work import Hole, Scribe
from letterply.units import about_mm, format_mm

__all__ = ["align_layers"]

_LEAST_FLOOR_MM = 1.2
"""Material left under a blind dowel hole; common practice, no source."""

_LEAST_GRIP_MM = 1.0
"""Depth below which a dowel does not hold; common practice, no source."""


def align_layers(
    recipe: Recipe,
    drafts: list[LayerDraft],
    catalogue: Catalogue,
    tolerances: Tolerances,
    once: Once = every_time,
) -> list[Finding]:
    """Work the recipe's alignment onto the drafts; return what could not be aligned.

    Places of dowels are asked for through `once`.
    """
    if isinstance(recipe.align, PlacementLines):
        return _placement_lines(recipe.align, drafts, tolerances)
    if isinstance(recipe.align, Dowels):
        return _dowels(recipe.align, drafts, catalogue, tolerances, once)
    return []


def _placement_lines(
    align: PlacementLines, drafts: list[LayerDraft], tolerances: Tolerances
) -> list[Finding]:
    findings: list[Finding] = []
    for lower, upper in pairwise(drafts):
        inner = offset(upper.solid, -align.inset, tolerances.offset_mm)
        for piece in polygons(upper.solid):
            if shapely.intersects(inner, piece):
                continue
            findings.append(
                _nowhere(
                    upper,
                    piece,
                    say(
                        "it is too narrow for placement lines {inset} inside",
                        inset=format_mm(align.inset),
                    ),
                )
            )
        if not inner.is_empty:
            lines = outline_lines(inner)
            lower.scribes.append(Scribe(lines, align.depth, "placement"))
            if lower.from_back:
                lower.history.append("placement lines are on its back: it is cut from there")
    return findings


def _dowels(
    align: Dowels,
    drafts: list[LayerDraft],
    catalogue: Catalogue,
    tolerances: Tolerances,
    once: Once,
) -> list[Finding]:
    findings: list[Finding] = []
    if len(drafts) < 2:
        return findings
    if any(d.safe is not None for d in drafts):
        raise InputError(
            "Dowel holes would go through a blank, which is worked and not cut.",
            code="blank-not-cut",
            field="recipe.align",
            expected="placement_lines, frame or none",
        )
    top = drafts[-1]
    blind = min(top.sheet_mm - _LEAST_FLOOR_MM, 6.0)
    worked = bool(top.pockets or top.grooves or top.scribes)
    if blind < _LEAST_GRIP_MM or (worked and not top.from_back):
        why = (
            say(
                "{thickness} is too thin for a dowel hole that does not go through",
                thickness=format_mm(top.sheet_mm),
            )
            if blind < _LEAST_GRIP_MM
            else say(
                "its front is worked, so that its back cannot be drilled without turning it over"
            )
        )
        return [_nowhere(top, polygons(top.solid)[0], why)]
    for k in range(len(drafts) - 1, 0, -1):
        for piece in polygons(drafts[k].solid):
            findings += _pin(align, drafts, k, piece, blind, catalogue, tolerances, once)
    if any(h.purpose == "dowel" for h in top.holes):
        top.from_back = True
        top.history.append("cut from its back, mirrored: its dowel holes are blind")
    return findings


def _pin(
    align: Dowels,
    drafts: list[LayerDraft],
    k: int,
    piece: shapely.Polygon,
    blind: float,
    catalogue: Catalogue,
    tolerances: Tolerances,
    once: Once,
) -> list[Finding]:
    """Put dowel holes for one part of layer `k` into it and into what lies below."""
    upper = drafts[k]
    material = catalogue.material(upper.recipe.material)
    web = max(1.0, material.min_web(upper.recipe.thickness) / 2)
    already = [h for h in upper.holes if h.purpose == "dowel" and _inside(piece, h)]
    if len(already) >= 2:
        return []
    below = drafts[:k]
    bores = {d.index: dowel_bore(d, align.diameter, align.clearance) for d in drafts[: k + 1]}
    widest = max(bore for bore, _ in bores.values())
    free = [_free(d, tolerances) for d in below]
    own = as_region(shapely.difference(piece, _taken(upper, tolerances)))
    places = once(
        ("dowels", own, free, widest, web),
        lambda: _places(own, free, widest, web),
    )
    if not places:
        return [
            _nowhere(
                upper,
                piece,
                say("no place leaves {web} of material round a dowel hole", web=about_mm(web)),
                align,
            )
        ]
    is_top = k == len(drafts) - 1
    for x, y in places:
        depth = blind if is_top else None
        upper.holes.append(Hole(x, y, bores[k][0], depth, "dowel", bores[k][1]))
        for lower in below:
            if lower.solid.contains(shapely.Point(x, y)):
                bore, fit = bores[lower.index]
                lower.holes.append(Hole(x, y, bore, None, "dowel", fit))
    if len(places) == 1:
        return [_one_only(upper, places[0])]
    return []


def _places(
    own: Region, below: list[Region], diameter: float, web: float
) -> tuple[tuple[float, float], ...]:
    """Return places through all layers below, or, where there are none, through the next one."""
    for depth in range(len(below)):
        overlap = own
        for region in below[depth:]:
            overlap = as_region(shapely.intersection(overlap, region))
        places = dowel_places(overlap, diameter, web)
        if places:
            return places
    return ()


def _free(draft: LayerDraft, tolerances: Tolerances) -> Region:
    return as_region(shapely.difference(draft.solid, _taken(draft, tolerances)))


def _taken(draft: LayerDraft, tolerances: Tolerances) -> Region:
    """Return what is already cut through, sunk or carved in a layer."""
    holes = [hole_region(h.x_mm, h.y_mm, h.diameter_mm, tolerances.flatten_mm) for h in draft.holes]
    grooves = [g.region for g in draft.grooves]
    return as_region(shapely.union_all([draft.through, *holes, *grooves]))


def _inside(piece: shapely.Polygon, hole: Hole) -> bool:
    return bool(piece.contains(shapely.Point(hole.x_mm, hole.y_mm)))


def _nowhere(
    draft: LayerDraft, piece: shapely.Polygon, why: Said, align: Dowels | None = None
) -> Finding:
    at = piece.representative_point()
    remedies = [
        Remedy(RemedyAction.ADD_MARK, say("use placement lines instead"), "placement_lines"),
        Remedy(RemedyAction.GROW_BY, say("give the lower layer a wider outline"), None, "mm"),
    ]
    if align is not None and align.diameter > 1.5:
        thinner = round(align.diameter / 2, 2)
        remedies.insert(
            0,
            Remedy(
                RemedyAction.SWAP_CUTTER,
                say("take dowels of {thinner}", thinner=format_mm(thinner)),
                thinner,
                "mm",
            ),
        )
    return Finding(
        code="align",
        severity=Severity.CAUTION,
        layer=draft.recipe.name,
        where=Place("point", ((float(at.x), float(at.y)),)),
        why=say(
            "nothing aligns a part of {layer}: {why}", layer=layer_words(draft.recipe.name), why=why
        ),
        remedies=tuple(remedies),
    )


def _one_only(draft: LayerDraft, place: tuple[float, float]) -> Finding:
    return Finding(
        code="align",
        severity=Severity.NOTE,
        layer=draft.recipe.name,
        where=Place("point", (place,)),
        why=say(
            "a part of {layer} has space for one dowel only: it can turn",
            layer=layer_words(draft.recipe.name),
        ),
        remedies=(Remedy(RemedyAction.ADD_MARK, say("add placement lines"), "placement_lines"),),
    )
