"""Features: what the recipe's `features` of a layer mean, worked onto a layer draft. All mm."""

from __future__ import annotations

from collections.abc import Callable

import shapely
from shapely.affinity import translate

from letterply.errors import GeometryError, InputError
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.lettering import Lettering
from letterply.names import layer_words
from letterply.requests import (
    SCRIBED_MM,
    ArtworkFeature,
    Border,
    GrooveLettering,
    Holes,
    Keyholes,
    LetteringRecipe,
    Recess,
    ScribeLettering,
    Slots,
    Standoffs,
    ThroughLettering,
    recess_depth,
    require_blind,
)
from letterply.requests import Place as PlaceRecipe
from letterply.said import say
from letterply.shapes import EMPTY, Region, Tolerances, as_region, normalise, offset, polygons
from letterply.stacks.blanks.limits import FeatureWatch
from letterply.stacks.draft import LayerDraft
from letterply.stacks.features.edges import edge_finding
from letterply.stacks.features.fittings import fit, places_on
from letterply.stacks.features.inlays import inlay_shape
from letterply.stacks.features.lines import scribed_lines
from letterply.stacks.fits import recess_clearance
from letterply.stacks.outlines.artwork import Drawings
from letterply.stacks.work import Groove, Hole, Pocket, Scribe
from letterply.units import format_area, format_exact, format_mm, format_sides

__all__ = ["apply_features", "drop_islands"]

SetLettering = Callable[[LetteringRecipe, str], Lettering]


def apply_features(
    draft: LayerDraft,
    drafts: list[LayerDraft],
    ink: Region,
    set_own: SetLettering,
    drawings: Drawings,
    tolerances: Tolerances,
) -> None:
    """Work the features of a layer onto its draft.

    `ink` is the recipe's own lettering, `set_own` sets lettering that a feature brings itself,
    `drawings` its artwork.

    Raises:
        GeometryError: `hole-outside-layer`, `lettering-outside-layer`.
        InputError: `unknown-layer`, `too-deep`.

    """
    for number, feature in enumerate(draft.recipe.features):
        field = f"{draft.path}.features.{number}"
        watch = FeatureWatch(draft, feature)
        if isinstance(feature, Holes):
            draft.holes.extend(_holes(draft, feature, field))
        elif isinstance(feature, Border | Slots | Standoffs | Keyholes):
            fit(draft, feature, ink, tolerances, field)
        elif isinstance(feature, ArtworkFeature):
            _artwork(draft, feature, ink, drawings, field)
        elif isinstance(feature, Recess):
            draft.pockets.append(_recess(draft, drafts, feature, ink, set_own, field, tolerances))
        else:
            region = _feature_ink(draft, feature.lettering, feature.place, ink, set_own, field)
            _on_lettering(draft, feature, region, field)
        watch.judge(field, tolerances)
        drawn = watch.drawn(tolerances)
        findings = (edge_finding(draft.recipe.name, draft.solid, d) for d in drawn)
        draft.findings.extend(f for f in findings if f is not None)
    _require_floors(draft)


def _on_lettering(
    draft: LayerDraft,
    feature: ThroughLettering | GrooveLettering | ScribeLettering,
    region: Region,
    field: str,
) -> None:
    thickness = draft.sheet_mm
    if isinstance(feature, ThroughLettering) and feature.bridges is not None:
        draft.stencils.append((region, feature))
    elif isinstance(feature, ThroughLettering):
        draft.through = as_region(shapely.union(draft.through, region))
    elif isinstance(feature, GrooveLettering):
        deepest = None if feature.floor_at is None else feature.from_depth + feature.floor_at
        require_blind(deepest, thickness, "A groove", "no limit", f"{field}.floor_at")
        groove = Groove(
            region,
            feature.floor_at,
            feature.angle,
            feature.from_depth,
            detail_mm=feature.detail,
        )
        draft.grooves.append(groove)
    else:
        require_blind(feature.depth, thickness, "A line", "through_lettering", f"{field}.depth")
        point = draft.measured.line
        lines = scribed_lines(region, feature.style, feature.depth, feature.hatch_gap, point)
        draft.scribes.append(Scribe(lines, feature.depth, "engraving"))


_FLOOR_MM = 0.01


def _require_floors(draft: LayerDraft) -> None:
    """Refuse grooves that start on a floor where there is none.

    Raises:
        InputError: `no-floor`.

    """
    for groove in draft.grooves:
        if not groove.start_mm:
            continue
        floors = [p.region for p in draft.pockets if abs(p.depth_mm - groove.start_mm) < _FLOOR_MM]
        if not shapely.buffer(shapely.union_all(floors), _FLOOR_MM).covers(groove.region):
            raise InputError(
                f"There is no floor {format_mm(groove.start_mm)} deep under all of a groove that "
                "starts there.",
                code="no-floor",
                field=f"{draft.path}.features",
                expected="a recess of that depth round the groove, or from_depth 0",
            )


def _feature_ink(
    draft: LayerDraft,
    own: LetteringRecipe | None,
    place: PlaceRecipe | None,
    ink: Region,
    set_own: SetLettering,
    field: str,
) -> Region:
    region = ink if own is None else set_own(own, f"{field}.lettering").region
    if own is not None or place is not None:
        region = _placed(region, draft.solid, ink, place or PlaceRecipe())
    if not shapely.intersects(draft.solid, region):
        raise GeometryError(
            "The lettering of this feature lies outside its layer.",
            code="lettering-outside-layer",
            field=field,
            expected="a place on the layer",
        )
    return normalise(region)


def _placed(region: Region, solid: Region, ink: Region, place: PlaceRecipe) -> Region:
    """Move lettering so that its middle lies at the anchor, `inset` away from an edge."""
    left, low, right, high = region.bounds
    on_left, on_low, on_right, on_high = ink.bounds if place.anchor == "lettering" else solid.bounds
    x = (on_left + on_right) / 2 - (left + right) / 2
    y = (on_low + on_high) / 2 - (low + high) / 2
    if place.anchor == "top":
        y = on_high - place.inset - high
    elif place.anchor == "bottom":
        y = on_low + place.inset - low
    elif place.anchor == "left":
        x = on_left + place.inset - left
    elif place.anchor == "right":
        x = on_right - place.inset - right
    return as_region(translate(region, x + place.x, y + place.y))


def _artwork(
    draft: LayerDraft, feature: ArtworkFeature, ink: Region, drawings: Drawings, field: str
) -> None:
    thickness = draft.sheet_mm
    require_blind(feature.depth, thickness, "Work", "the work `through`", f"{field}.depth")
    drawn = drawings.set(feature.artwork, f"{field}.artwork").region
    region = normalise(_placed(drawn, draft.solid, ink, feature.place))
    if not shapely.intersects(draft.solid, region):
        raise GeometryError(
            "The drawing lies outside its layer.",
            code="artwork-outside-layer",
            field=field,
            expected="a place on the layer",
        )
    if feature.work == "through":
        draft.through = as_region(shapely.union(draft.through, region))
    elif feature.work == "groove":
        draft.grooves.append(Groove(region, feature.depth, feature.angle, detail_mm=feature.detail))
    elif feature.work == "recess":
        depth = recess_depth(feature.depth, thickness)
        draft.pockets.append(Pocket(region, depth, "recess", detail_mm=feature.detail))
    else:
        deep = feature.depth or SCRIBED_MM
        point = draft.measured.line
        lines = scribed_lines(region, feature.style, deep, feature.hatch_gap, point)
        draft.scribes.append(Scribe(lines, deep, "engraving"))


def _holes(draft: LayerDraft, feature: Holes, field: str) -> list[Hole]:
    left, low, right, high = draft.solid.bounds
    places = places_on(draft.solid, feature.at, feature.inset)
    depth = feature.depth
    instead = "no depth, for a hole through it"
    require_blind(depth, draft.sheet_mm, "A hole", instead, f"{field}.depth")
    for x, y in places:
        if not draft.solid.contains(shapely.Point(x, y)):
            raise GeometryError(
                f"A hole at {format_sides(x - left, y - low, times=',')} lies outside its layer.",
                code="hole-outside-layer",
                field=field,
                expected=f"places within {format_sides(right - left, high - low)} of material",
            )
    return [Hole(round(x, 4), round(y, 4), feature.diameter, depth, "hole") for x, y in places]


def _recess(
    draft: LayerDraft,
    drafts: list[LayerDraft],
    feature: Recess,
    ink: Region,
    set_own: SetLettering,
    field: str,
    tolerances: Tolerances,
) -> Pocket:
    thickness = draft.sheet_mm
    require_blind(feature.depth, thickness, "A recess", "through_lettering", f"{field}.depth")
    inlay = recess_layer(draft, drafts, feature, field)
    if inlay is None:
        shape = _feature_ink(draft, feature.lettering, feature.place, ink, set_own, field)
    else:
        if feature.corner:
            inlay.solid = inlay_shape(
                inlay.solid, feature.corner, tolerances, field=f"{field}.corner"
            )
            inlay.history.append(
                f"corners of {format_exact(feature.corner, 4)}, as in the recess it goes into"
            )
        shape = inlay.solid
    clearance, fit = recess_clearance(draft, inlay, feature.clearance)
    region = normalise(offset(shape, clearance, tolerances.offset_mm))
    if not shapely.intersects(region, draft.solid):
        raise GeometryError(
            "The recess lies outside its layer.", code="lettering-outside-layer", field=field
        )
    purpose = "recess" if inlay is None else "inlay"
    return Pocket(region, feature.depth, purpose, detail_mm=feature.detail, fit=fit)


def recess_layer(
    draft: LayerDraft, drafts: list[LayerDraft], feature: Recess, field: str
) -> LayerDraft | None:
    """Return the layer that a recess takes in, or None when it is for lettering.

    Raises:
        InputError: `unknown-layer`.

    """
    if feature.of == "lettering" or feature.lettering is not None:
        return None
    above = [d for d in drafts if d.index > draft.index]
    if feature.of is None:
        return above[0] if above else None
    for other in above:
        if other.recipe.name == feature.of:
            return other
    raise InputError(
        f"There is no layer {feature.of!r} above {draft.recipe.name!r}.",
        code="unknown-layer",
        field=f"{field}.of",
        expected=", ".join(d.recipe.name for d in above) or "a layer above, or lettering",
    )


_SHOWN_MM = 0.1
"""How true the outline of a piece that drops out is shown: it is a place, and no part."""


def drop_islands(draft: LayerDraft, cut: Region) -> tuple[Region, list[Finding]]:
    """Return a stencil layer without the pieces that fall out of it, and a finding for each.

    A piece that lies inside a hole of another one is not held by anything once it is cut free.
    """
    if draft.through.is_empty:
        return cut, []
    pieces = polygons(cut)
    kept, findings = [], []
    for piece in pieces:
        held_by = [
            other
            for other in pieces
            if other is not piece and shapely.Polygon(other.exterior).contains(piece)
        ]
        if not held_by:
            kept.append(piece)
            continue
        outline = shapely.get_coordinates(shapely.simplify(piece.exterior, _SHOWN_MM))[:-1].tolist()
        findings.append(
            Finding(
                code="island",
                severity=Severity.BLOCKER,
                layer=draft.recipe.name,
                where=Place("polygon", tuple((round(x, 3), round(y, 3)) for x, y in outline)),
                measured=round(float(piece.area), 4),
                limit=0.0,
                unit="mm2",
                why=say(
                    "a piece of {area} drops out of {layer}: nothing holds it",
                    area=format_area(piece.area),
                    layer=layer_words(draft.recipe.name),
                ),
                remedies=(
                    Remedy(RemedyAction.BRIDGE, say("hold it with bridges")),
                    Remedy(RemedyAction.CHANGE_FONT, say("take a stencil font"), "black-ops-one"),
                ),
            )
        )
    return as_region(shapely.MultiPolygon(kept)) if kept else EMPTY, findings
