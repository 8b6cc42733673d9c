"""Estimates beside the quotes of the same orders made: never far off, whatever is worked."""

import re

import pytest

from boathouse import one_layer
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.orders.intake.estimating import estimate_order
from letterply.orders.intake.measuring import measure_designs
from letterply.orders.intake.sampling import choose_sample
from letterply.orders.pipeline.rehearsal import rehearse
from orders.intake.ordering import read
from orders.pipeline.small import DISC, PLAIN, document_of, made

GROOVE = {"kind": "groove_lettering"}
PRICE = 2.5


def board(*features):
    """Return the recipe of a maple board with work in its face."""
    return one_layer(
        "{text}",
        {"kind": "plate", "margin": "15 mm"},
        *features,
        material="sugar-maple",
        thickness="12 mm",
        font="playfair-display",
        size={"cap_height": "40 mm"},
        title="{text} board",
    )


def priced(price):
    """Return the recipe of a disc with the price of its blank."""
    (layer,) = DISC["layers"]
    return {**DISC, "layers": [{**layer, "outline": {**layer["outline"], "price": price}}]}


def estimated(recipe, *lines, most_designs=10, **shop):
    wish = {"recipe": "own", "recipes": {"own": recipe}, "lines": list(lines), "shop": shop}
    order = read(wish)
    measures = measure_designs([line.recipe for line in order.lines], order.shop or None, (), {})
    shop = resolve_shop(order.shop, load_catalogue())
    sample = choose_sample(order, measures, most_designs=most_designs)
    return order, estimate_order(order, sample, rehearse(sample.order, (), {}, {}), shop)


def quoted(order, folder):
    return document_of(*made(order, folder))


@pytest.mark.parametrize(
    ("recipe", "words"),
    [(PLAIN, ("Knot", "Ruff", "Dunlin")), (board(GROOVE), ("Avocet", "Stint")),
     (priced(PRICE), ("Knot", "Sora")), (board({"kind": "recess", "depth": "3 mm"}), ("Avocet",))],
    ids=["tags", "carved boards", "discs", "recess"],
)  # fmt: skip
def test_time_and_price_of_a_short_list_are_those_of_the_quote(recipe, words, tmp_path):
    order, estimate = estimated(recipe, *words)
    done = quoted(order, tmp_path)
    assert done["ready"], done["summary"]
    said, true = estimate["quote"], done["quote"]
    assert said.pop("currency") == true.pop("currency")
    assert said == pytest.approx(true, rel=0.01)
    assert estimate["rehearsed_whole"]
    assert "within 5 %" in estimate["summary"]
    # With changes of cutters by hand, as whoever stands at the machine counts it.
    minutes = [re.search(r"about (.+) on the machine", d["summary"])[1] for d in (estimate, done)]
    assert minutes[0] == minutes[1]


def test_a_sample_of_a_list_tells_time_and_price_within_its_band(tmp_path):
    words = ("Knot", "Ruff", "Dunlin", "Redshank", "Sora")
    order, estimate = estimated(PLAIN, *words, most_designs=2)
    assert not estimate["rehearsed_whole"]
    done = quoted(order, tmp_path)
    for what in ("machine_minutes", "total"):
        off = abs(estimate["quote"][what] / done["quote"][what] - 1)
        assert 100 * off < estimate["band_percent"], what


def test_a_dry_run_tells_what_cannot_be_made():
    stock = {"material": "mdf", "thickness_mm": 6, "width_mm": 200, "height_mm": 100, "count": 2}
    thin = {**stock, "thickness_mm": 3}
    _, estimate = estimated(PLAIN, {"text": "Knot", "quantity": 30}, stock=[stock, thin])
    base, _ = sorted(estimate["materials"], key=lambda m: -m["thickness_mm"])
    assert not base["enough"]
    assert base["sheets"] == 2
    assert estimate["not_made"]
    assert all("rack" in m["why"] for m in estimate["not_made"])
    assert "Not all of it can be made" in estimate["summary"]


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
    _, without = estimated(board(), "Avocet")
    _, carved = estimated(board(GROOVE), "Avocet")
    assert carved["quote"]["machine_minutes"] > 1.1 * without["quote"]["machine_minutes"]


def test_words_of_a_feature_are_vetted_before_the_order_is_accepted():
    own = {"text": "千鳥", "font": "oswald", "size": {"cap_height": "10 mm"}}
    recipe = board({**GROOVE, "lettering": own})
    order = read({"recipe": "own", "recipes": {"own": recipe}, "lines": ["Knot"]})
    (found,) = measure_designs([order.lines[0].recipe], None, (), {})
    assert (found.code, found.field) == (
        "glyph-missing",
        "recipe.layers.0.features.0.lettering.text",
    )
