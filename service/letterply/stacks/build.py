"""Recipe in, stack out.

The way of a recipe: lettering is set; every layer gets its outline, from the top down so that a
plate knows what lies on it; features are worked on; layers are aligned; what is left falls into
parts; the whole is moved so that the widest layer's lower left is the origin.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import shapely
from shapely.affinity import translate

from letterply.catalogue import NOTHING_MEASURED, Catalogue, CutterRack, Measured
from letterply.errors import GeometryError
from letterply.findings import Finding
from letterply.lettering import ArtworkLibrary, FontLibrary, Lettering
from letterply.memo import Once, every_time
from letterply.requests import (
    ArtworkOutline,
    BlankOutline,
    Holes,
    LayerRecipe,
    LetteringOutline,
    LetteringRecipe,
    PlateOutline,
    Recess,
    Recipe,
    Ribbon,
)
from letterply.shapes import (
    DEFAULT_TOLERANCES,
    EMPTY,
    Region,
    Tolerances,
    as_region,
    box_of,
    normalise,
    polygons,
    thinned_out,
)
from letterply.stacks.alignment.kinds import align_layers
from letterply.stacks.blanks.fixtures import assembly_frames, fixture_boards, fixture_of
from letterply.stacks.blanks.shapes import blank_region, fitted_to_blanks, place_blank, safe_area
from letterply.stacks.draft import LayerDraft
from letterply.stacks.features.kinds import apply_features, drop_islands, recess_layer
from letterply.stacks.model import Layer, Repair, Stack
from letterply.stacks.outlines.artwork import Drawings, artwork_outline, with_ornaments
from letterply.stacks.outlines.kinds import lettering_outline, plate_outline, ribbon_hole
from letterply.stacks.outlines.lettering import (
    join_findings,
    reading_findings,
    set_recipe_lettering,
)
from letterply.stacks.repairs.named import (
    bridge_draft,
    repair_outline,
    repair_report,
    repair_words,
    smallest_gap,
)
from letterply.stacks.work import Hole

__all__ = ["build_stack"]

LeftThin = Callable[[str, object], bool]
"""Whether the layer of this name, whose outline this question is about, keeps its thin strokes."""

_Repaired = Callable[
    [LayerRecipe, Region, Lettering, CutterRack, Tolerances], tuple[Region, tuple[Repair, ...]]
]


def _none_left_thin(_name: str, _question: object) -> bool:
    return False


def build_stack(
    recipe: Recipe,
    catalogue: Catalogue,
    library: FontLibrary,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
    artworks: ArtworkLibrary | None = None,
    *,
    reported: bool = True,
    once: Once = every_time,
    measured: Measured = NOTHING_MEASURED,
    left_thin: LeftThin = _none_left_thin,
) -> Stack:
    """Return the stack that a recipe describes.

    Where repairs of outlines need not be `reported`, they are made all the same, and quicker. What
    takes longest is asked for through `once`, as questions that name all but catalogue, fonts,
    drawings and tolerances. What the recipe leaves to the shop is as it was `measured` there. Of
    each layer whose strokes are to be strengthened it is asked whether it is `left_thin`: then it
    is not the layer that the recipe describes, and only to be looked at.

    Raises:
        InputError: and its children, naming the field of the recipe that cannot be met.

    """
    cache: dict[str, Lettering] = {}
    drawings = Drawings(artworks or ArtworkLibrary(), tolerances, library)

    def set_own(spec: LetteringRecipe, field: str) -> Lettering:
        key = spec.model_dump_json()
        if key not in cache:
            drawn = drawings.with_baseline(spec, field)
            plain = set_recipe_lettering(drawn, library, tolerances, field)
            cache[key] = with_ornaments(plain, spec.ornaments, drawings, field)
        return cache[key]

    recipe = fitted_to_blanks(recipe, set_own, tolerances)
    base = None if recipe.lettering is None else set_own(recipe.lettering, "recipe.lettering")
    words = EMPTY if base is None else base.region
    ask = partial(_repaired, once=once, reported=reported, left_thin=left_thin)
    drafts = _outlines(recipe, catalogue, base, set_own, drawings, tolerances, ask)
    for draft in drafts:
        draft.measured = measured
    for draft in drafts:
        apply_features(draft, drafts, words, set_own, drawings, tolerances)
        bridge_draft(draft, catalogue.material(draft.recipe.material), base, set_own, tolerances)
    findings = align_layers(recipe, drafts, catalogue, tolerances, once)
    findings += [finding for draft in drafts for finding in draft.findings]
    dx, dy = _to_origin(drafts)
    for draft in drafts:
        draft.shift(dx, dy)
    findings = [f.moved(dx, dy) for f in findings]
    findings += join_findings(drafts)
    if recipe.lettering is not None and base is not None:
        findings += reading_findings(recipe.lettering, base)
    frames, unframed = assembly_frames(recipe, drafts, catalogue, tolerances)
    findings += unframed
    findings += drawings.findings()
    layers: list[Layer] = []
    z = 0.0
    for draft in drafts:
        z = _lowered(draft, drafts, z)
        layer, dropped = _layer(draft, z, tolerances)
        layers.append(layer)
        findings.extend(dropped)
        z += draft.sheet_mm
    return Stack(
        title=recipe.title,
        layers=tuple(layers),
        copies=recipe.copies,
        text="" if recipe.lettering is None else recipe.lettering.text,
        findings=tuple(findings),
        fixtures=(*fixture_boards(drafts, catalogue, tolerances), *frames),
        lettering_at=(dx, dy),
    )


def _outlines(
    recipe: Recipe,
    catalogue: Catalogue,
    base: Lettering | None,
    set_own: Callable[[LetteringRecipe, str], Lettering],
    drawings: Drawings,
    tolerances: Tolerances,
    repaired: _Repaired,
) -> list[LayerDraft]:
    """Return a draft of every layer, bottom first, each with its solid outline."""
    drafts: list[LayerDraft] = []
    ink: list[Region] = []
    words = EMPTY if base is None else base.region
    for index in reversed(range(len(recipe.layers))):
        spec = recipe.layers[index]
        path = f"recipe.layers.{index}"
        field = f"{path}.outline"
        material = catalogue.material(spec.material, field=f"{path}.material")
        outline = spec.outline
        if isinstance(outline, LetteringOutline):
            lettering = base
            if outline.lettering is not None:
                lettering = set_own(outline.lettering, f"{field}.lettering")
            assert lettering is not None  # the recipe was refused otherwise
            rack = CutterRack(tuple(catalogue.cutters.values()), material)
            draft = _of_letters(spec, index, lettering, rack, tolerances, repaired)
        elif isinstance(outline, BlankOutline):
            draft = _blank(spec, index, words, ink, tolerances)
        else:
            below = as_region(shapely.union_all([words, *ink]))
            if isinstance(outline, ArtworkOutline):
                region = artwork_outline(below, outline, drawings, tolerances, field=field)
                draft = LayerDraft(spec, index, region)
            else:
                plate = plate_outline(below, outline, tolerances, field=field)
                draft = LayerDraft(spec, index, plate)
                if outline.ribbon is not None:
                    draft.holes.append(_ribbon_hole(plate, outline, outline.ribbon, field))
        draft.from_back = spec.face == "back"
        ink.append(draft.solid)
        drafts.append(draft)
    return drafts[::-1]


def _of_letters(
    spec: LayerRecipe,
    index: int,
    lettering: Lettering,
    rack: CutterRack,
    tolerances: Tolerances,
    repaired: _Repaired,
) -> LayerDraft:
    """Return the draft of a layer in the shape of its lettering."""
    outline = spec.outline
    assert isinstance(outline, LetteringOutline)
    field = f"recipe.layers.{index}.outline"
    plain = lettering_outline(lettering.region, outline, tolerances, field=field)
    region, repairs = repaired(spec, plain, lettering, rack, tolerances)
    draft = LayerDraft(spec, index, region, lettering=lettering)
    draft.history.extend(lettering.history)
    if repairs:
        draft.plain_solid = plain
        draft.repairs.extend(repairs)
    return draft


def _repaired(
    spec: LayerRecipe,
    plain: Region,
    lettering: Lettering,
    rack: CutterRack,
    tolerances: Tolerances,
    *,
    once: Once,
    reported: bool,
    left_thin: LeftThin,
) -> tuple[Region, tuple[Repair, ...]]:
    """Return an outline as it is cut, and what was repaired."""
    asked, thickness_mm = spec.outline, spec.thickness
    assert isinstance(asked, LetteringOutline)
    letters = tuple(x.region for x in lettering.letters) if asked.join == "letters" else ()
    # All that is asked of material, thickness and cutters: many have the same answers.
    least = rack.material.min_web(thickness_mm), smallest_gap(rack, thickness_mm)

    def question(outline: LetteringOutline) -> tuple[object, ...]:
        return "outline", plain, letters, outline.model_dump_json(), *least, reported

    if asked.strengthen and left_thin(spec.name, question(asked)):
        outline = asked.model_copy(update={"strengthen": None})
    else:
        outline = asked

    def find_out() -> tuple[Region, tuple[Repair, ...]]:
        region, repairs = repair_outline(
            outline, plain, letters, rack, thickness_mm, tolerances, reported=reported
        )
        # After softening, whose arcs have most of the points.
        return thinned_out(region, tolerances.thin_out_mm), repairs

    if not (outline.strengthen or outline.soften or outline.join):
        return find_out()
    return once(question(outline), find_out)


def _ribbon_hole(plate: Region, outline: PlateOutline, ribbon: Ribbon, field: str) -> Hole:
    x, y = ribbon_hole(plate, outline, ribbon)
    if not plate.contains(shapely.Point(x, y)):
        raise GeometryError(
            "The ribbon hole lies outside its plate.",
            code="hole-outside-layer",
            field=f"{field}.ribbon",
            expected="a smaller inset or diameter",
        )
    return Hole(round(x, 4), round(y, 4), ribbon.diameter, None, "ribbon")


def _blank(
    spec: LayerRecipe, index: int, words: Region, above: list[Region], tolerances: Tolerances
) -> LayerDraft:
    """Return the draft of a blank, laid so that what is on it lies in its safe area."""
    outline = spec.outline
    assert isinstance(outline, BlankOutline)
    wears_words = any(
        getattr(f, "lettering", None) is None and not isinstance(f, Holes) for f in spec.features
    )
    on_it = [words, *above] if wears_words or not above else above
    field = f"recipe.layers.{index}.outline"
    if any(not region.is_empty for region in on_it):
        ink = as_region(shapely.union_all(on_it))
        x, y = place_blank(outline, ink, tolerances, field=field)
    else:
        left, low, right, high = box_of(words)
        x, y = (left + right) / 2, (low + high) / 2

    def here(region: Region) -> Region:
        return normalise(translate(region, x, y))

    draft = LayerDraft(spec, index, here(blank_region(outline, tolerances)))
    draft.safe = here(safe_area(outline, tolerances))
    draft.history.append("it is there already: only worked, not cut")
    return draft


def _lowered(draft: LayerDraft, drafts: list[LayerDraft], z: float) -> float:
    """Return the height of a layer's underside: lower where a layer below takes it in.

    It lies on the deepest floor that the nearest layer has for it: several recesses there, one in
    the other, do not add up.
    """
    for below in reversed(drafts[: draft.index]):
        depths = [
            feature.depth
            for number, feature in enumerate(below.recipe.features)
            if isinstance(feature, Recess)
            and recess_layer(below, drafts, feature, f"{below.path}.features.{number}") is draft
        ]
        if depths:
            return z - max(depths)
    return z


def _layer(draft: LayerDraft, z: float, tolerances: Tolerances) -> tuple[Layer, list[Finding]]:
    report = repair_report(draft)
    if report is not None:
        draft.history.extend(repair_words(report))
    cut, dropped = drop_islands(draft, draft.cut_region(tolerances.flatten_mm))
    if cut.is_empty:
        raise GeometryError(
            f"Nothing is left of the layer {draft.recipe.name!r}.",
            code="outline-vanishes",
            field=draft.path,
            expected="an outline larger than what is cut out of it",
        )
    parts = draft.parts(polygons(cut))
    outline = draft.recipe.outline
    layer = Layer(
        name=draft.recipe.name,
        material=draft.recipe.material,
        thickness_mm=draft.recipe.thickness,
        z_mm=z,
        parts=parts,
        from_back=draft.from_back,
        repair=report,
        fixture=fixture_of(draft) if isinstance(outline, BlankOutline) else None,
        true_mm=draft.true_mm,
    )
    return layer, dropped


def _to_origin(drafts: list[LayerDraft]) -> tuple[float, float]:
    """Return the move that brings the lower left of the widest layer to the origin.

    In whole steps of the grid, so that what was on the grid stays there.
    """
    boxes = [d.solid.bounds for d in drafts]
    left, low, _, _ = max(boxes, key=lambda b: b[2] - b[0])
    return -round(left, 5), -round(low, 5)
