"""Features: what the recipe's `features` of a layer mean, worked onto a layer draft. All mm."""

from __future__ import annotations

from collections.abc import Callable

import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from letterply.errors import GeometryError, InputError
from letterply.findings import Finding, Place, Remedy, RemedyAction, Severity
from letterply.lettering.setting import Lettering
from letterply.shapes.offsets import offset
from letterply.shapes.regions import EMPTY, Region, as_region, normalise, polygons
from letterply.shapes.tolerances import Tolerances
from letterply.stacks.artworked import Drawings
from letterply.stacks.draft import LayerDraft
from letterply.stacks.fitting_recipe import Border, Keyholes, Slots, Standoffs
from letterply.stacks.fittings import fit, places_on
from letterply.stacks.model import Groove, Hole, Pocket, Scribe
from letterply.stacks.plates import hole_region
from letterply.stacks.recipe import (
    ArtworkFeature,
    GrooveLettering,
    Holes,
    LetteringRecipe,
    Recess,
    ThroughLettering,
)
from letterply.stacks.recipe import (
    Place as PlaceRecipe,
)
from letterply.stacks.work_lines import hatch_lines, outline_lines

__all__ = ["apply_features", "drop_islands"]

_SCRIBED_MM = 0.15
"""Depth of a scribed line; common practice, no source."""

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
        if isinstance(feature, Holes):
            holes = _holes(draft, feature, field)
            through = any(h.depth_mm is None for h in holes)
            _keep_to_blank(draft, holes_area(holes, tolerances), field, through=through)
            draft.holes.extend(holes)
            continue
        if isinstance(feature, Border | Slots | Standoffs | Keyholes):
            fit(draft, feature, ink, tolerances, field)
            continue
        if isinstance(feature, ArtworkFeature):
            _artwork(draft, feature, ink, drawings, field)
            continue
        if isinstance(feature, Recess):
            pocket = _recess(draft, drafts, feature, ink, set_own, field, tolerances)
            _keep_to_blank(draft, pocket.region, field)
            draft.pockets.append(pocket)
            continue
        region = _feature_ink(draft, feature.lettering, feature.place, ink, set_own, field)
        through = isinstance(feature, ThroughLettering)
        _keep_to_blank(draft, region, field, through=through)
        if isinstance(feature, ThroughLettering) and feature.bridges is not None:
            draft.stencils.append((region, feature))
        elif isinstance(feature, ThroughLettering):
            draft.through = as_region(shapely.union(draft.through, region))
        elif isinstance(feature, GrooveLettering):
            draft.grooves.append(Groove(region, feature.max_depth, feature.angle))
        else:
            lines = outline_lines(region)
            if feature.style == "hatch":
                lines = (*lines, *hatch_lines(region, feature.hatch_gap))
            draft.scribes.append(Scribe(lines, feature.depth, "engraving"))


def _keep_to_blank(
    draft: LayerDraft, area: BaseGeometry, field: str, *, through: bool = False
) -> None:
    """Refuse what would cut a blank through or come too near to its edge or hole.

    Raises:
        InputError: `blank-not-cut`.
        GeometryError: `outside-safe-area`.

    """
    if draft.safe is None:
        return
    if through:
        raise InputError(
            "A blank is worked and not cut through.",
            code="blank-not-cut",
            field=field,
            expected="a depth less than its thickness, or a plate in place of the blank",
        )
    out = shapely.difference(area, shapely.buffer(draft.safe, _SAFE_SLACK_MM))
    if not out.is_empty:
        at = out.representative_point()
        raise GeometryError(
            f"Work on the blank would leave its safe area, at {at.x:.1f}, {at.y:.1f} mm.",
            code="outside-safe-area",
            field=field,
            expected="a smaller size, another place, size fit_blank, or a smaller safe_margin",
        )


_SAFE_SLACK_MM = 0.02
"""Rounding that is no leaving of a safe area."""


def holes_area(holes: list[Hole], tolerances: Tolerances) -> BaseGeometry:
    """Return the discs of holes as one area."""
    discs = [hole_region(h.x_mm, h.y_mm, h.diameter_mm, tolerances.flatten_mm) for h in holes]
    return shapely.union_all(discs)


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
    if feature.depth is not None and feature.depth >= draft.recipe.thickness:
        raise InputError(
            f"Work {feature.depth:g} mm deep goes through a layer of "
            f"{draft.recipe.thickness:g} mm.",
            code="too-deep",
            field=f"{field}.depth",
            expected=f"less than {draft.recipe.thickness:g} mm, or the work `through`",
        )
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
        draft.grooves.append(Groove(region, feature.depth, feature.angle))
    elif feature.work == "recess":
        within = normalise(shapely.intersection(region, draft.solid))
        draft.pockets.append(Pocket(within, feature.depth or draft.recipe.thickness / 3, "recess"))
    else:
        lines = outline_lines(region)
        if feature.style == "hatch":
            lines = (*lines, *hatch_lines(region, feature.hatch_gap))
        draft.scribes.append(Scribe(lines, feature.depth or _SCRIBED_MM, "engraving"))


def _holes(draft: LayerDraft, feature: Holes, field: str) -> list[Hole]:
    left, low, right, high = draft.solid.bounds
    places = places_on(draft.solid, feature.at, feature.inset)
    depth = feature.depth
    if depth is not None and depth >= draft.recipe.thickness:
        depth = None
    for x, y in places:
        if not draft.solid.contains(shapely.Point(x, y)):
            raise GeometryError(
                f"A hole at {x - left:.1f}, {y - low:.1f} mm lies outside its layer.",
                code="hole-outside-layer",
                field=field,
                expected=f"places within {right - left:.1f} x {high - low:.1f} mm of material",
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
    if feature.depth >= draft.recipe.thickness:
        raise InputError(
            f"A recess of {feature.depth:g} mm goes through a layer of "
            f"{draft.recipe.thickness:g} mm.",
            code="too-deep",
            field=f"{field}.depth",
            expected=f"less than {draft.recipe.thickness:g} mm, or through_lettering",
        )
    inlay = recess_layer(draft, drafts, feature, field)
    if inlay is None:
        shape = _feature_ink(draft, feature.lettering, feature.place, ink, set_own, field)
    else:
        shape = inlay.solid
    grown = offset(shape, feature.clearance, tolerances.offset_mm)
    region = normalise(shapely.intersection(grown, draft.solid))
    if region.is_empty:
        raise GeometryError(
            "The recess lies outside its layer.", code="lettering-outside-layer", field=field
        )
    return Pocket(region, feature.depth, "recess")


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
        at = piece.representative_point()
        findings.append(
            Finding(
                code="island",
                severity=Severity.BLOCKER,
                layer=draft.recipe.name,
                where=Place("point", ((float(at.x), float(at.y)),)),
                measured=round(float(piece.area), 4),
                limit=0.0,
                unit="mm2",
                why=f"a piece of {piece.area:.1f} mm² drops out of the stencil",
                remedies=(
                    Remedy(RemedyAction.BRIDGE, "hold it with bridges"),
                    Remedy(RemedyAction.CHANGE_FONT, "take a stencil font", "black-ops-one"),
                ),
            )
        )
    return as_region(shapely.MultiPolygon(kept)) if kept else EMPTY, findings
