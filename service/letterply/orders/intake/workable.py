"""What the rack says no to in the recipe of a line, before anything is made.

Cheap: nothing is drawn, so only what the recipe says in figures is judged. What only the shapes can
tell (a pocket too narrow for every cutter) comes with the checks of the line. The rack is the same
(`letterply.catalogue.rack`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from letterply.catalogue import Catalogue, CutterRack, Refusal, Shop, Work, through_depth
from letterply.requests import (
    ArtworkFeature,
    BlankOutline,
    Border,
    Feature,
    Frame,
    GrooveLettering,
    Holes,
    Keyholes,
    LayerRecipe,
    PlacementLines,
    Recess,
    Recipe,
    ScribeLettering,
    Standoffs,
)
from letterply.said import Said, say
from letterply.units import format_mm

__all__ = ["Unworkable", "find_unworkable"]


@dataclass(frozen=True, slots=True)
class Unworkable:
    """One refusal: the field of the recipe that asks for the work, and why it is not done."""

    field: str
    refusal: Refusal


@dataclass(frozen=True, slots=True)
class _Asked:
    """Work that a feature asks for; `hole_mm` for a round hole through the sheet."""

    work: Work
    depth_mm: float
    what: Said
    angle_deg: float | None = None
    hole_mm: float | None = None


def find_unworkable(recipe: Recipe, catalogue: Catalogue, shop: Shop) -> Iterator[Unworkable]:
    """Yield what the shop's rack refuses of a recipe, layer by layer.

    A layer that must not be cut on this machine is told once, and nothing else of it.
    """
    for number, layer in enumerate(recipe.layers):
        field = f"recipe.layers.{number}"
        rack = CutterRack.of(shop, catalogue.material(layer.material))
        if rack.must_not is not None:
            yield Unworkable(f"{field}.material", rack.must_not)
        elif isinstance(layer.outline, BlankOutline):
            yield from _of_blank(layer, layer.outline, rack, field, catalogue, shop)
        else:
            yield from _of_sheet(field, layer.thickness, rack, shop)
            yield from _of_features(layer, rack, field, shop)
        lines = recipe.align
        if isinstance(lines, PlacementLines) and number + 1 < len(recipe.layers):
            refusal = rack.refusal(Work.SCRIBE, lines.depth, say("placement lines"))
            if refusal is not None and rack.must_not is None:
                yield Unworkable("recipe.align", refusal)
    if isinstance(recipe.align, Frame) and len(recipe.layers) > 1:
        rack = CutterRack.of(shop, catalogue.material(recipe.align.material))
        yield from _of_sheet("recipe.align", recipe.align.thickness, rack, shop)


def _of_sheet(field: str, thickness: float, rack: CutterRack, shop: Shop) -> Iterator[Unworkable]:
    """Yield why parts cannot be cut out of a sheet."""
    refusal = rack.through_refusal(thickness, shop.hold_down)
    if refusal is not None:
        at = "material" if refusal.code == "refused" else "thickness"
        yield Unworkable(f"{field}.{at}", refusal)


def _of_blank(
    layer: LayerRecipe,
    outline: BlankOutline,
    rack: CutterRack,
    field: str,
    catalogue: Catalogue,
    shop: Shop,
) -> Iterator[Unworkable]:
    """Yield what is not done to a blank, and why its board cannot be made."""
    if rack.by_beam:
        refusal = rack.refusal(Work.POCKET, 0.0, say("work on a blank"))
        if refusal is not None:
            yield Unworkable(f"{field}.outline", refusal)
        return
    yield from _of_features(layer, rack, field, shop)
    wish = outline.fixture
    if wish is not None:
        own = CutterRack.of(shop, catalogue.material(wish.material))
        where = f"{field}.outline.fixture"
        yield from _of_sheet(where, wish.thickness, own, shop)
        depth = layer.thickness if wish.depth is None else wish.depth
        refusal = own.refusal(
            Work.POCKET,
            depth,
            say("{what} {depth} deep", what=say("a pocket"), depth=format_mm(depth)),
        )
        if refusal is not None:
            yield Unworkable(where, refusal)


def _of_features(
    layer: LayerRecipe, rack: CutterRack, field: str, shop: Shop
) -> Iterator[Unworkable]:
    through = through_depth(layer.thickness, shop.hold_down)
    can_cut = rack.through_refusal(layer.thickness, shop.hold_down) is None
    for number, feature in enumerate(layer.features):
        asked = _asked(feature)
        if asked is None:
            continue
        if asked.hole_mm is not None:
            refusal = (
                rack.hole_refusal(asked.hole_mm, through, asked.what, room_mm=asked.hole_mm)
                if can_cut
                else None
            )
        else:
            refusal = rack.refusal(
                asked.work, asked.depth_mm, asked.what, angle_deg=asked.angle_deg
            )
        if refusal is not None:
            yield Unworkable(f"{field}.features.{number}", refusal)


def _asked(feature: Feature) -> _Asked | None:
    """Return the work of a feature; None for what the cutters of the outline do."""
    if isinstance(feature, Holes):
        size = format_mm(feature.diameter)
        if feature.depth is None:
            what = say("a hole of {diameter} through the sheet", diameter=size)
            return _Asked(Work.DRILL, 0.0, what, hole_mm=feature.diameter)
        return _sunk(feature.depth, say("a blind hole"))
    if isinstance(feature, GrooveLettering):
        return _Asked(Work.GROOVE, feature.from_depth, say("a groove"), feature.angle)
    if isinstance(feature, ScribeLettering):
        return _Asked(Work.SCRIBE, feature.depth, say("scribed lines"))
    if isinstance(feature, Recess):
        return _sunk(feature.depth, say("a pocket"))
    if isinstance(feature, Keyholes):
        return None if feature.depth is None else _sunk(feature.depth, say("a pocket"))
    if isinstance(feature, Standoffs):
        said = say("a hole of {diameter} through the sheet", diameter=format_mm(feature.bolt))
        return _Asked(Work.DRILL, 0.0, said, hole_mm=feature.bolt)
    if isinstance(feature, Border | ArtworkFeature):
        angle = feature.angle if isinstance(feature, ArtworkFeature) else None
        depth = feature.depth or 0.0
        if feature.work == "groove":
            return _Asked(Work.GROOVE, 0.0, say("a groove"), angle)
        if feature.work == "scribe":
            return _Asked(Work.SCRIBE, depth, say("scribed lines"))
        if feature.work == "recess":
            return _sunk(depth, say("a pocket"))
    return None


def _sunk(depth_mm: float, what: Said) -> _Asked:
    return _Asked(
        Work.POCKET, depth_mm, say("{what} {depth} deep", what=what, depth=format_mm(depth_mm))
    )
