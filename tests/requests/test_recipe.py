"""The recipe's edge: every mistake names its field and says what would be right."""

import math

import pytest

from boathouse import changed, locker_tag, rack_sign
from letterply.errors import InputError
from letterply.requests.recipe import parse_recipe


def test_lengths_in_any_unit_come_out_in_mm():
    recipe = parse_recipe(changed(rack_sign(), layers__2__thickness="1/8 in"))
    assert recipe.layers[2].thickness == 3.175


def test_a_parsed_recipe_parses_again_to_itself():
    once = parse_recipe(rack_sign())
    assert parse_recipe(once.model_dump(mode="json")) == once


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"lettering__size__cap_height": "60 mmm"}, "unknown-unit",
         "recipe.lettering.size.cap_height"),
        ({"lettering__size__cap_height": "sixty"}, "bad-length",
         "recipe.lettering.size.cap_height"),
        ({"lettering__size__cap_height": -60}, "out-of-range", "recipe.lettering.size.cap_height"),
        ({"lettering__size__cap_height": 0}, "out-of-range", "recipe.lettering.size.cap_height"),
        ({"lettering__size__cap_height": 1e9}, "out-of-range",
         "recipe.lettering.size.cap_height"),
        ({"lettering__size__cap_height": math.nan}, "bad-length",
         "recipe.lettering.size.cap_height"),
        ({"lettering__size": {}}, "bad-size", "recipe.lettering.size"),
        ({"lettering__size__width": 3}, "bad-size", "recipe.lettering.size"),
        ({"lettering__text": 27}, "bad-value", "recipe.lettering.text"),
        ({"lettering__baseline": {"kind": "wavy"}}, "unknown-kind", "recipe.lettering.baseline"),
        ({"lettering__baseline": {"kind": "arc"}}, "missing-field",
         "recipe.lettering.baseline.radius"),
        ({"lettering__baseline": {"kind": "circle", "radius": -3}}, "out-of-range",
         "recipe.lettering.baseline.radius"),
        ({"lettering__baseline": {"kind": "path"}}, "bad-path", "recipe.lettering.baseline"),
        ({"layers": []}, "empty-value", "recipe.layers"),
        ({"layers__0__outline__kind": "cloud"}, "unknown-kind", "recipe.layers.0.outline"),
        ({"layers__0__outline__shape": "heart"}, "unknown-choice",
         "recipe.layers.0.outline.shape"),
        ({"layers__0__outline__margin": -3}, "out-of-range",
         "recipe.layers.0.outline.margin.left"),
        ({"layers__0__outline__width": 100}, "bad-plate", "recipe.layers.0.outline"),
        ({"layers__0__thickness": "-3 mm"}, "out-of-range", "recipe.layers.0.thickness"),
        ({"layers__0__features__0__at": "everywhere"}, "unknown-choice",
         "recipe.layers.0.features.0.at"),
        ({"layers__0__features__0__kind": "hinges"}, "unknown-kind",
         "recipe.layers.0.features.0"),
        ({"layers__1__name": "FACE"}, "duplicate-layer", "recipe"),
        ({"layers__1__name": "../face"}, "bad-name", "recipe.layers.1.name"),
        ({"align__kind": "luck"}, "unknown-kind", "recipe.align"),
        ({"copies": 0}, "out-of-range", "recipe.copies"),
        ({"colour": "blue"}, "unknown-field", "recipe.colour"),
        ({"layers__0__outline__colour": "blue"}, "unknown-field",
         "recipe.layers.0.outline.colour"),
    ],
)  # fmt: skip
def test_each_mistake_has_a_code_and_a_field(changes, code, field):
    with pytest.raises(InputError) as caught:
        parse_recipe(changed({**rack_sign(), "copies": 1}, **changes))
    assert caught.value.code == code
    assert caught.value.field == field
    assert caught.value.expected


@pytest.mark.parametrize("raw", [None, [], "recipe", 3])
def test_what_is_no_object_is_refused(raw):
    with pytest.raises(InputError) as caught:
        parse_recipe(raw)
    assert caught.value.code == "bad-recipe"


def test_all_mistakes_are_listed_beside_the_first():
    bad = changed(locker_tag(), layers__0__thickness=-1, lettering__size__cap_height="x")
    with pytest.raises(InputError) as caught:
        parse_recipe(bad)
    assert len(caught.value.data["mistakes"]) == 2


def test_a_title_is_what_it_looks_like():
    assert parse_recipe({**rack_sign(), "title": "Avo\u202ecet"}).title == "Avocet"
    with pytest.raises(InputError) as caught:
        parse_recipe({**rack_sign(), "title": "\u202e\u2066"})
    assert caught.value.code == "empty-value"
