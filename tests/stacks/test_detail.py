"""How deep a corner may stay round: of a feature, else of its layer, else of the shop."""

from __future__ import annotations

import pytest

from boathouse import one_layer
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.errors import InputError
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack

RECESS = {"kind": "recess", "depth": 2, "of": "lettering"}
GROOVE = {"kind": "groove_lettering", "floor_at": 1}
PLATE = {"kind": "plate", "margin": 10}


def built(layer_detail, *features):
    recipe = one_layer("Sora", PLATE, *features)
    recipe["layers"][0] |= {} if layer_detail is None else {"detail": layer_detail}
    stack = build_stack(parse_recipe(recipe), load_catalogue(), FontLibrary())
    (part,) = stack.layers[0].parts
    return part


def test_a_feature_says_it_before_its_layer_and_a_layer_before_the_shop():
    part = built("0.5 mm", RECESS, RECESS | {"detail": 0.1}, GROOVE, GROOVE | {"detail": "1/64 in"})
    assert part.detail_mm == 0.5
    assert [p.detail_mm for p in part.pockets] == [0.5, 0.1]
    assert [g.detail_mm for g in part.grooves] == [0.5, pytest.approx(25.4 / 64)]
    plain = built(None, RECESS)
    assert plain.detail_mm is None
    assert plain.pockets[0].detail_mm is None


def test_a_shop_has_a_detail_of_its_own_or_the_usual_one():
    catalogue = load_catalogue()
    assert resolve_shop(None, catalogue).detail_mm == 0.25
    assert resolve_shop({"detail": "0.6 mm"}, catalogue).detail_mm == 0.6


@pytest.mark.parametrize("detail", [0, -1, "25 mm", "sharp"])
def test_a_detail_that_no_cutter_gives_is_refused(detail):
    with pytest.raises(InputError) as caught:
        resolve_shop({"detail": detail}, load_catalogue())
    assert caught.value.field == "shop.detail"
