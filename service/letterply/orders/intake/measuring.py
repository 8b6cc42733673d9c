"""What only fonts can tell of an order, before anything is made. Runs in a worker.

For every different recipe the lettering is measured by the extents of its glyphs. That names
letters that a font lacks and signs that are larger than any sheet, and gives an estimate of
area, length of cut and time. Estimates are rough by nature: they say so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import shapely

from letterply.catalogue import Catalogue, NoRoom, load_catalogue, resolve_shop, turns_on
from letterply.errors import InputError
from letterply.lettering import FontLibrary
from letterply.orders.codec import Facts
from letterply.orders.intake.face_lengths import CUT_A_WIDTH, INK_SHARE, drawn_size, worked_length
from letterply.requests import (
    ArtworkOutline,
    BlankOutline,
    Box,
    FixtureWish,
    Frame,
    LayerRecipe,
    LetteringOutline,
    LetteringRecipe,
    PlacementLines,
    PlateOutline,
    Recipe,
    SizeSpec,
    parse_recipe,
)
from letterply.sheets import Rack, why_no_room
from letterply.stacks import measure_recipe_lettering
from letterply.storage import canonical_json, digest
from letterply.units import format_mm, speaking

__all__ = ["LayerMeasure", "Measured", "measure_designs"]

_RIM_MM = 12.0
"""Round the pockets of a board and the openings of a frame, about."""


@dataclass(frozen=True, slots=True)
class LayerMeasure:
    """What a layer of one copy will be, by estimate.

    Attributes:
        name: of the layer.
        material, thickness_mm: of its sheet.
        width_mm, height_mm: of the box round it.
        area_mm2: of what is left of the sheet.
        cut_mm: length of its outlines.
        work_mm: how far cutters go for what is worked into its face.
        blank: for a layer of blanks, the kind under which lines share a fixture; else empty.
        load: how many blanks the fixture holds.
        price: of one blank.
        once: empty for what each copy has; `line` for what a line has once; for what lines share,
            the name under which they do.

    """

    name: str
    material: str
    thickness_mm: float
    width_mm: float
    height_mm: float
    area_mm2: float
    cut_mm: float
    once: str = ""
    work_mm: float = 0.0
    blank: str = ""
    load: int = 0
    price: float = 0.0


@dataclass(frozen=True, slots=True)
class Measured:
    """A recipe, measured: its layers, or what is wrong with it."""

    layers: tuple[LayerMeasure, ...] = ()
    code: str = ""
    field: str = ""
    message: str = ""
    expected: str = ""


def measure_designs(
    designs: Sequence[Facts],
    shop_wish: Facts | None,
    catalogue_files: Sequence[str],
    font_files: Mapping[str, str],
) -> list[Measured]:
    """Return a measure of each recipe, in order; equal recipes are measured once."""
    catalogue = load_catalogue(*(Path(p) for p in catalogue_files))
    shop = resolve_shop(shop_wish, catalogue)
    rack = Rack(shop.stock)
    library = FontLibrary(font_files)
    known: dict[str, Measured] = {}
    found = []
    for design in designs:
        key = digest(canonical_json(design))
        if key not in known:
            with speaking(shop.units):
                known[key] = _measure(design, rack, library, catalogue)
        found.append(known[key])
    return found


def _measure(design: Facts, rack: Rack, library: FontLibrary, catalogue: Catalogue) -> Measured:
    try:
        recipe = parse_recipe(design)
        layers = _layers(recipe, library)
    except InputError as exc:
        return Measured(
            code=exc.code,
            field=exc.field or "",
            message=exc.message,
            expected=exc.expected or "",
        )
    helpers = list(_helpers(recipe, layers))
    numbered = [*zip(layers, recipe.layers, range(len(layers)), strict=True)]
    wanted = [(m, f"layers.{n}", _must_be_whole(la), _is_box(la)) for m, la, n in numbered]
    wanted += [(m, "layers", True, True) for m in helpers]
    for measured, field, whole, is_box in wanted:
        grain = catalogue.material(measured.material).grain
        none = _no_room(measured, rack, grain=grain, is_box=is_box) if whole else None
        if none is not None:
            return Measured(
                code="larger-than-any-sheet",
                field=f"recipe.{field}",
                message=(
                    f"The layer {measured.name!r} is about {format_mm(measured.width_mm)} × "
                    f"{format_mm(measured.height_mm)}. {none.why}"
                ),
                expected=f"a smaller size, or another rack or machine: {none.remedy}",
            )
    return Measured((*layers, *helpers))


def _must_be_whole(layer: LayerRecipe) -> bool:
    """Whether a layer is one piece, cut from a sheet, whose size is known before it is made."""
    outline = layer.outline
    if isinstance(outline, LetteringOutline):
        return outline.join is True
    return not isinstance(outline, ArtworkOutline | BlankOutline)


def _is_box(layer: LayerRecipe) -> bool:
    return isinstance(layer.outline, PlateOutline) and layer.outline.shape in _BOXES


_BOXES = ("rectangle", "rounded")

_SURE = 0.98
"""What is measured by the extents of glyphs may come out smaller by so much."""


def _no_room(measured: LayerMeasure, rack: Rack, *, grain: bool, is_box: bool) -> NoRoom | None:
    """Return why no sheet surely takes a layer; None where one may."""
    width, height = _SURE * measured.width_mm, _SURE * measured.height_mm
    sheets = rack.suitable(measured.material, measured.thickness_mm)
    whole = shapely.box(0.0, 0.0, width, height)
    if turns_on(whole, sheets, grain=grain):
        return None
    # What does not fill its box may fit at a turn at which the box does not.
    if not is_box and any(_may_take(s.room_mm, width, height) for s in sheets):
        return None
    return why_no_room(whole, rack, measured.material, measured.thickness_mm, grain=grain)


def _may_take(room_mm: tuple[float, float], width_mm: float, height_mm: float) -> bool:
    """Whether something in a box of this size may fit a room at some turn."""
    short, long = sorted((width_mm, height_mm))
    return short <= min(room_mm) and long <= math.hypot(*room_mm)


def _layers(recipe: Recipe, library: FontLibrary) -> list[LayerMeasure]:
    """Return a measure of each layer, with what is worked into it.

    Raises:
        InputError: what is wrong with a lettering, as `measure_recipe_lettering`.

    """
    blanks = [la.outline for la in recipe.layers if isinstance(la.outline, BlankOutline)]
    room = blanks[0] if blanks else None

    def measured(words: LetteringRecipe, field: str) -> tuple[float, float]:
        return measure_recipe_lettering(_on_blank(words, room), library, field)

    ink = (0.0, 0.0)
    if recipe.lettering is not None:
        ink = measured(recipe.lettering, "recipe.lettering")
    found: list[LayerMeasure] = []
    for number, layer in enumerate(recipe.layers):
        field = f"recipe.layers.{number}"
        own = getattr(layer.outline, "lettering", None)
        size = ink if own is None else measured(own, f"{field}.outline.lettering")

        def words_of(
            own: LetteringRecipe | None, at: int, field: str = field
        ) -> tuple[float, float]:
            return ink if own is None else measured(own, f"{field}.features.{at}.lettering")

        found.append(replace(_layer(layer, size), work_mm=worked_length(layer.features, words_of)))
    if isinstance(recipe.align, PlacementLines):
        for at, upper in enumerate(found[1:]):
            found[at] = replace(found[at], work_mm=found[at].work_mm + upper.cut_mm)
    return found


def _on_blank(words: LetteringRecipe, blank: BlankOutline | None) -> LetteringRecipe:
    """Return the lettering; one that is fitted to a blank as large as its safe area at most."""
    if not words.size.fit_blank or blank is None:
        return words
    width, height = (max(side - 2 * blank.safe_margin, 1.0) for side in _size_of(blank))
    fit = SizeSpec(fit=Box(width=width, height=height))
    return words.model_copy(update={"size": fit})


def _size_of(blank: BlankOutline) -> tuple[float, float]:
    return blank.width or blank.diameter or 0.0, blank.height or blank.diameter or 0.0


def _helpers(recipe: Recipe, layers: Sequence[LayerMeasure]) -> Iterator[LayerMeasure]:
    """Yield what helps to make the copies: boards with pockets for blanks, frames."""
    for layer in recipe.layers:
        outline = layer.outline
        if isinstance(outline, BlankOutline) and outline.fixture is not None:
            wish = outline.fixture
            width, height = (
                count * (side + wish.gap) + 2 * _RIM_MM
                for count, side in zip((wish.columns, wish.rows), _size_of(outline), strict=True)
            )
            yield _helper(f"{layer.name}-fixture", wish, width, height, _kind(layer))
    if isinstance(recipe.align, Frame):
        for upper in layers[1:]:
            width, height = upper.width_mm + 2 * _RIM_MM, upper.height_mm + 2 * _RIM_MM
            yield _helper(f"{upper.name}-frame", recipe.align, width, height, "line")


def _kind(layer: LayerRecipe) -> str:
    """Return the name under which lines share a fixture: blanks of one kind have one."""
    return digest(canonical_json([layer.name, layer.material, layer.outline.model_dump()]))


def _blank(layer: LayerRecipe, outline: BlankOutline) -> LayerMeasure:
    width, height = _size_of(outline)
    wish = outline.fixture
    return LayerMeasure(
        layer.name,
        layer.material,
        layer.thickness,
        width,
        height,
        round(width * height, 1),
        cut_mm=0.0,
        blank=_kind(layer),
        load=wish.columns * wish.rows if wish else 1,
        price=outline.price,
    )


def _helper(
    name: str, wish: FixtureWish | Frame, width: float, height: float, once: str
) -> LayerMeasure:
    size = round(width, 2), round(height, 2)
    cut = 2 * (width + height)
    area = round(width * height, 1)
    return LayerMeasure(name, wish.material, wish.thickness, *size, area, round(cut, 1), once)


def _layer(layer: LayerRecipe, ink: tuple[float, float]) -> LayerMeasure:
    width, height = ink
    outline = layer.outline
    if isinstance(outline, LetteringOutline):
        width, height = width + 2 * outline.grow, height + 2 * outline.grow
        box = max(width, 0.0) * max(height, 0.0)
        share = min(1.0, INK_SHARE + 2 * max(outline.grow, 0.0) / max(height, 1.0))
        area, cut = box * share, CUT_A_WIDTH * max(width, 0.0)
        if outline.join:
            cut *= 0.5
    elif isinstance(outline, ArtworkOutline):
        # No drawing is opened here.
        width, height = drawn_size(outline.artwork, ink)
        area, cut = width * height / 2, 2 * (width + height)
    elif isinstance(outline, PlateOutline):
        if outline.diameter is not None:
            width = height = outline.diameter
        elif outline.width is not None and outline.height is not None:
            width, height = outline.width, outline.height
        elif outline.margin is not None:
            m = outline.margin
            width, height = width + m.left + m.right, height + m.top + m.bottom
            if outline.shape == "circle":
                width = height = math.hypot(*ink) + 2 * max(m.left, m.right, m.top, m.bottom)
        area, cut = width * height, 2 * (width + height)
    else:
        return _blank(layer, outline)
    return LayerMeasure(
        layer.name,
        layer.material,
        layer.thickness,
        round(width, 2),
        round(height, 2),
        round(area, 1),
        round(cut, 1),
    )
