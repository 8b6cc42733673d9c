"""Webs: what is left between a hole, pocket or groove and an edge, or between two of them.

A *feature* is a round hole, one connected piece of a pocket, or a groove; drawn lines are none.
An *edge* is the part's outline and every cut-out that is not a round hole. A wall beside something
sunk is only as high as that is deep, so it is held against the rule for a sheet of that thickness;
a groove's walls lean away from each other, so only the least width of the material counts.
Features that overlap or run out over an edge are meant to, and leave no web. What stands between
the lines of one carving is a ridge (`letterply.checks.parts.ridges`).

What lies between two things cut right through is a neck of the part, and `necks` measures it.
Here a through hole is only held against the wider distance that brittle sheet wants between hole
and edge, where that asks for more than a neck. All mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import CutterRack, Material, MaterialClass
from letterply.checks.parts.ridges import Ridge, ridges_of
from letterply.checks.places import name_part_place
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.requests import DEFAULT_WEB_RULES, WebRules
from letterply.said import Said, say
from letterply.shapes import DEFAULT_TOLERANCES, SAME_MM, Tolerances, polygons
from letterply.stacks import Hole, Layer, Part
from letterply.units import about_mm, times_as_large

__all__ = ["find_webs"]


@dataclass(frozen=True, slots=True)
class _Feature:
    """A feature with its limits: to another feature, and to an edge."""

    name: Said
    area: BaseGeometry
    blind: bool
    web_mm: float
    edge_mm: float


def find_webs(
    part: Part,
    layer: Layer,
    material: Material,
    rules: WebRules = DEFAULT_WEB_RULES,
    rack: CutterRack | None = None,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> tuple[Finding, ...]:
    """Return the webs of a part that are narrower than the rule, narrowest share first.

    One that lacks no more than outlines stray by is as wide as it was meant to be. Ridges of a
    carving are looked for where the `rack` is given whose bits carve it.
    """
    features = _features(part, layer, material, rules)
    if not features:
        return ()
    edges = shapely.MultiLineString(_edges(part))
    shapely.prepare(edges)
    neck = material.min_web(layer.thickness_mm)
    found: list[tuple[float, Finding]] = []
    for feature in features:
        if not shapely.dwithin(edges, feature.area, feature.edge_mm):
            continue
        apart = float(shapely.distance(feature.area, edges))
        told_as_neck = not feature.blind and apart < neck
        if SAME_MM < apart < feature.edge_mm - tolerances.drawn_mm and not told_as_neck:
            found.append(
                _finding(part, feature, say("the edge"), edges, apart, feature.edge_mm, rules)
            )
    for first, second in _near(features):
        apart = float(shapely.distance(first.area, second.area))
        limit = min(first.web_mm, second.web_mm)
        if SAME_MM < apart < limit - tolerances.drawn_mm:
            other = say("a {feature}", feature=second.name)
            found.append(_finding(part, first, other, second.area, apart, limit, rules))
    if rack is not None:
        ridges = (r for g in part.grooves for r in ridges_of(g, layer, material, rack))
        least = material.min_web_mm
        found.extend((r.share, _ridge_finding(part, r, least)) for r in ridges)
    found.sort(key=lambda pair: pair[0])
    return tuple(finding for _, finding in found)


def _features(
    part: Part, layer: Layer, material: Material, rules: WebRules
) -> tuple[_Feature, ...]:
    holes = [_hole(h, layer.thickness_mm, material, rules) for h in part.holes]
    pockets = []
    for pocket in part.pockets:
        wall = material.min_web(min(pocket.depth_mm, layer.thickness_mm))
        pockets += [_Feature(say("pocket"), p, True, wall, wall) for p in polygons(pocket.region)]
    grooves = [
        _Feature(say("groove"), g.region, True, material.min_web_mm, material.min_web_mm)
        for g in part.grooves
    ]
    return (*holes, *pockets, *grooves)


def _near(features: Sequence[_Feature]) -> list[tuple[_Feature, _Feature]]:
    """Return the pairs, one of them blind at least, that may be nearer than their rule."""
    areas = [f.area for f in features]
    widest = max(f.web_mm for f in features)
    found = shapely.STRtree(areas).query(areas, predicate="dwithin", distance=widest)
    pairs = sorted((i, j) for i, j in found.T.tolist() if i < j)
    near = [(features[i], features[j]) for i, j in pairs]
    return [(a, b) for a, b in near if a.blind or b.blind]


def _hole(hole: Hole, thickness_mm: float, material: Material, rules: WebRules) -> _Feature:
    disc = shapely.Point(hole.x_mm, hole.y_mm).buffer(hole.diameter_mm / 2, quad_segs=64)
    blind = hole.depth_mm is not None
    depth = thickness_mm if hole.depth_mm is None else min(hole.depth_mm, thickness_mm)
    web = material.min_web(depth)
    if hole.purpose == "dowel":
        web = max(rules.dowel_least_mm, rules.dowel_share * web)
        return _Feature(say("dowel hole"), disc, blind, web, web)
    edge = web
    if material.kind is MaterialClass.ACRYLIC:
        edge = max(web, rules.acrylic_edge_factor * thickness_mm)
    return _Feature(say("blind hole") if blind else say("hole"), disc, blind, web, edge)


def _edges(part: Part) -> list[shapely.LinearRing]:
    """Return the rings of a part's outline that are no round holes."""
    through = [h for h in part.holes if h.depth_mm is None]
    inner = [r for r in part.outline.interiors if not any(h.is_ring(r) for h in through)]
    return [part.outline.exterior, *inner]


def _ridge_finding(part: Part, ridge: Ridge, least_mm: float) -> Finding:
    width, limit = ridge.width_mm, ridge.limit_mm
    factor = limit / max(width, SAME_MM)
    return Finding(
        code="web",
        severity=Severity.CAUTION,
        layer=part.layer,
        part=part.name,
        where=Place("segment", ridge.feet),
        measured=round(width, 4),
        limit=round(limit, 4),
        why=(
            say(
                "a ridge {width} wide and {height} high between carved lines {place} "
                "chips easily: at least {limit} is needed",
                width=about_mm(width, beside=limit),
                height=about_mm(ridge.height_mm),
                place=name_part_place(part, ridge.feet[0]),
                limit=about_mm(limit, beside=width),
            )
        ),
        remedies=(
            Remedy(
                RemedyAction.RAISE_SIZE_TO,
                say("make it {times}", times=times_as_large(factor)),
                round(factor, 3),
                "times",
            ),
            Remedy(
                RemedyAction.CHANGE_FONT, say("take a font with wider gaps, or a lighter weight")
            ),
        ),
        data=(("height_mm", round(ridge.height_mm, 3)),),
        gravity=round(width / least_mm, 4),  # the thinnest crest chips first
    )


def _finding(
    part: Part,
    feature: _Feature,
    other: Said,
    geometry: BaseGeometry,
    apart: float,
    limit: float,
    rules: WebRules,
) -> tuple[float, Finding]:
    (x0, y0), (x1, y1) = shapely.get_coordinates(
        shapely.shortest_line(feature.area, geometry)
    ).tolist()
    breaks = feature.blind and apart < rules.blocker_share * limit
    more = round(limit - apart, 3)
    remedies = [
        Remedy(
            RemedyAction.MOVE_BY,
            say("move it {more} away from {other}", more=about_mm(more), other=other),
            more,
            "mm",
        )
    ]
    if other == "the edge":
        remedies.append(
            Remedy(
                RemedyAction.GROW_BY,
                say("grow the outline by {by}", by=about_mm(more)),
                more,
                "mm",
            )
        )
    finding = Finding(
        code="web",
        severity=Severity.BLOCKER if breaks else Severity.CAUTION,
        layer=part.layer,
        part=part.name,
        where=Place("segment", ((x0, y0), (x1, y1))),
        measured=round(apart, 4),
        limit=round(limit, 4),
        why=(
            say(
                "only {apart} of material is left between a {feature} and {other} "
                "{place}: at least {limit} is needed",
                apart=about_mm(apart, beside=limit),
                feature=feature.name,
                other=other,
                place=name_part_place(part, (x0, y0)),
                limit=about_mm(limit, beside=apart),
            )
        ),
        remedies=tuple(remedies),
        gravity=round(apart / limit, 4),
    )
    return apart / limit, finding
