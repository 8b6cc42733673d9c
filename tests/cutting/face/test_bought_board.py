"""A bought board with large carved letters: which end mills clear its floors is compared."""

from __future__ import annotations

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.context import SheetContext
from letterply.cutting.face.bits import settle_grooves
from letterply.cutting.face.clearing import choose_floor_cutters
from letterply.cutting.face.operations import groove_floor
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests import CatalogueFile
from letterply.requests.recipe import parse_recipe
from letterply.shapes.tolerances import DEFAULT_TOLERANCES
from letterply.sheets import PlacedPart, Placement
from letterply.stacks.build import build_stack

BOARD = {
    "title": "Dunlin",
    "lettering": {"text": "DUN", "font": "frank-ruhl-libre", "size": {"cap_height": "120 mm"}},
    "layers": [
        {
            "name": "board",
            "material": "ponderosa-pine",
            "thickness": "18 mm",
            "outline": {
                "kind": "blank",
                "width": "500 mm",
                "height": "220 mm",
                "fixture": {"depth": "6 mm"},
            },
            "features": [{"kind": "groove_lettering", "floor_at": "5 mm", "angle": 30}],
        }
    ],
}
QUARTER, EIGHTH, SIXTEENTH = "flat-635", "flat-3175", "flat-1588"
RACK = {
    "machine": "shop-router",
    "cutters": [QUARTER, EIGHTH, SIXTEENTH, "vbit-30"],
}
CUTTERS = {QUARTER: {"like": "flat-6", "name": "1/4 in end mill, 2 flutes", "diameter": "1/4 in"}}


@pytest.fixture(scope="module")
def compared():
    """Return the sets of end mills compared for the floors of one board, by their cutters."""
    own = CatalogueFile.model_validate({"cutters": CUTTERS}, by_name=False)
    catalogue = load_catalogue(own)
    shop = resolve_shop(RACK, catalogue)
    (layer,) = build_stack(parse_recipe(BOARD), catalogue, FontLibrary()).layers
    material = catalogue.material(layer.material)
    context = SheetContext(shop, material, layer.thickness_mm, 0.0, 10.0, DEFAULT_TOLERANCES)
    (part,) = layer.parts
    board = PlacedPart.at("1.board", 1, part, Placement(0.0, 0.0, 0.0))
    settled, _ = settle_grooves(context, {part.name: board}, {part.name: 1})
    found = (groove_floor(context, g, part.name, 1) for g in settled[part.name].part.grooves)
    _, choice = choose_floor_cutters(context, [floor for floor in found if floor is not None])
    return {s.cutters: s for s in choice.sets}


def test_the_large_cutter_clears_and_smaller_ones_only_what_it_leaves(compared):
    """Three cutters, with their changes, are quicker than the smallest and leave as little."""
    three, smallest = compared[QUARTER, EIGHTH, SIXTEENTH], compared[(SIXTEENTH,)]
    assert [s.cutters for s in compared.values() if s.chosen] == [three.cutters]
    assert three.time_s < smallest.time_s / 4
    assert three.left_round_mm <= smallest.left_round_mm + 0.01
    assert three.left_area_mm2 <= 1.1 * smallest.left_area_mm2


def test_what_was_not_chosen_is_shown_with_what_it_leaves(compared):
    """The 1/8 in alone is told, and leaves far more, far deeper; so is the smallest alone."""
    eighth, three = compared[(EIGHTH,)], compared[QUARTER, EIGHTH, SIXTEENTH]
    assert eighth.left_area_mm2 > 10 * three.left_area_mm2
    assert eighth.left_round_mm > 10 * three.left_round_mm
    assert (SIXTEENTH,) in compared
