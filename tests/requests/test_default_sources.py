"""Every figure that a recipe has when it names none says where it comes from."""

import typing

from pydantic import BaseModel

from letterply.requests.default_sources import RECIPE_DEFAULTS
from letterply.requests.recipe import Recipe
from letterply.sources import STATUSES


def models(kind, found):
    """Collect the models that a recipe is made of."""
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        if kind not in found:
            found.add(kind)
            for field in kind.model_fields.values():
                models(field.annotation, found)
    else:
        for part in typing.get_args(kind):
            models(part, found)
    return found


def figures():
    return {
        f"{model.__name__}.{name}": field.default
        for model in models(Recipe, set())
        for name, field in model.model_fields.items()
        if isinstance(field.default, int | float)
        and not isinstance(field.default, bool)
        and field.default != 0
    }


def test_every_default_of_a_recipe_has_a_source_and_no_source_is_left_over():
    assert len(figures()) > 30
    assert sorted(figures()) == sorted(RECIPE_DEFAULTS)


def test_statuses_are_true():
    """None of these figures was found in a document: only a choice within a table is derived."""
    for name, source in RECIPE_DEFAULTS.items():
        assert source.status in STATUSES
        assert source.status != "published", name
    derived = [name for name, source in RECIPE_DEFAULTS.items() if source.status == "derived"]
    assert derived == ["Reading.baseline_height"]
    # 2010 ADA Standards, Table 703.5.5: baseline heights of 40 in to 70 in in its first row.
    assert 40 <= figures()["Reading.baseline_height"] / 25.4 <= 70


def test_the_schema_shows_the_source_beside_the_default():
    schema = Recipe.model_json_schema()
    clearance = schema["$defs"]["FixtureWish"]["properties"]["clearance"]
    assert clearance["default"] == 0.1
    assert clearance["x-source"].endswith("(common practice)")
