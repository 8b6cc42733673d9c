"""Estimates beside the quotes of the same orders made: never far off, whatever is worked."""

import json

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.orders.intake.estimating import estimate_order
from letterply.orders.intake.measuring import measure_designs
from orders.intake.ordering import read
from orders.pipeline.small import DISC, PLAIN, made

BOARD = {
    "title": "{text} board",
    "lettering": {"text": "{text}", "font": "playfair-display", "size": {"cap_height": "40 mm"}},
    "layers": [
        {
            "name": "board",
            "material": "sugar-maple",
            "thickness": "12 mm",
            "outline": {"kind": "plate", "margin": "15 mm"},
            "features": [{"kind": "groove_lettering"}],
        }
    ],
}
PRICE = 2.5


def priced(price):
    """Return the recipe of a disc with the price of its blank."""
    (layer,) = DISC["layers"]
    return {**DISC, "layers": [{**layer, "outline": {**layer["outline"], "price": price}}]}


def inlaid(depth):
    return {
        **BOARD,
        "layers": [{**BOARD["layers"][0], "features": [{"kind": "recess", "depth": depth}]}],
    }


def estimated(recipe, *lines):
    order = read({"recipe": "own", "recipes": {"own": recipe}, "lines": list(lines)})
    measures = measure_designs([line.recipe for line in order.lines], order.shop or None, (), {})
    catalogue = load_catalogue()
    shop = resolve_shop(order.shop, catalogue)
    return order, estimate_order(order, measures, catalogue, shop)


def quoted(order, folder):
    manifest, vault = made(order, folder)
    (found,) = [f for f in manifest["files"] if f["path"] == "order.json"]
    return json.loads(vault.read(found["digest"]))


@pytest.mark.parametrize(
    ("recipe", "words"),
    [(PLAIN, ("Knot", "Ruff", "Dunlin")), (BOARD, ("Avocet", "Stint")),
     (priced(PRICE), ("Knot", "Sora")), (inlaid("3 mm"), ("Avocet",))],
    ids=["tags", "carved boards", "discs", "recess"],
)  # fmt: skip
def test_time_and_price_are_within_a_factor_of_two_of_the_quote(recipe, words, tmp_path):
    order, estimate = estimated(recipe, *words)
    done = quoted(order, tmp_path)
    assert done["ready"], done["summary"]
    for what in ("machine_minutes", "total"):
        ratio = estimate["quote"][what] / done["quote"][what]
        assert 0.5 < ratio < 2, what


def test_blanks_are_paid_for_and_loaded_as_they_are_in_the_quote(tmp_path):
    order, estimate = estimated(priced(PRICE), "Knot", {"text": "Ruff", "quantity": 5}, "Sora")
    assert estimate["blanks"] == [
        {"material": "brass", "thickness_mm": 1.5, "blanks": 7, "loads": 4}
    ]
    assert "1 sheet and 4 loads of blanks" in estimate["summary"]
    done = quoted(order, tmp_path)["quote"]
    assert done["set_up_minutes"] == pytest.approx(estimate["quote"]["set_up_minutes"], abs=4.1)
    free, _ = estimated(priced(0), "Knot", {"text": "Ruff", "quantity": 5}, "Sora")
    without = quoted(free, tmp_path / "free")["quote"]
    more = 7 * PRICE * order.prices.material_markup
    assert done["material"] - without["material"] == pytest.approx(more, abs=0.02)


def test_carving_takes_time_in_an_estimate():
    plain = {**BOARD, "layers": [{**BOARD["layers"][0], "features": []}]}
    _, without = estimated(plain, "Avocet")
    _, carved = estimated(BOARD, "Avocet")
    assert carved["quote"]["machine_minutes"] > 1.1 * without["quote"]["machine_minutes"]


def test_words_of_a_feature_are_vetted_before_the_order_is_accepted():
    own = {"text": "千鳥", "font": "oswald", "size": {"cap_height": "10 mm"}}
    features = [{"kind": "groove_lettering", "lettering": own}]
    order = read(
        {
            "recipe": "own",
            "recipes": {"own": {**BOARD, "layers": [{**BOARD["layers"][0], "features": features}]}},
            "lines": ["Knot"],
        }
    )
    (found,) = measure_designs([order.lines[0].recipe], None, (), {})
    assert (found.code, found.field) == (
        "glyph-missing",
        "recipe.layers.0.features.0.lettering.text",
    )
