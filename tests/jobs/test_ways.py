"""What strengthening costs either way: both are told, whichever was chosen."""

import json

import pytest

from boathouse import one_layer
from jobs.whole import all_files
from letterply.catalogue.loading import load_catalogue
from letterply.errors import GeometryError
from letterply.jobs.ways import WayCost, cost_words, ways_of
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack


def knot(**strengthen):
    outline = {"kind": "lettering", **({"strengthen": strengthen} if strengthen else {})}
    return one_layer(
        "Kno", outline, name="face", font="playfair-display", size={"cap_height": 25},
        material="acrylic-cast", thickness=3,
    )  # fmt: skip


@pytest.fixture(scope="module")
def build():
    catalogue, library = load_catalogue(), FontLibrary()
    return lambda recipe: build_stack(recipe, catalogue, library)


def both(build, **strengthen):
    recipe = parse_recipe(knot(**strengthen))
    (ways,) = ways_of(recipe, build(recipe), build)
    return ways


def test_both_ways_cost_the_same_whichever_is_chosen(build):
    fading, even = both(build, way="taper"), both(build, way="even")
    assert (fading.chosen, even.chosen) == ("taper", "even")
    assert fading.costs == even.costs
    assert fading.adds_less == even.adds_less == "taper"
    report = build(parse_recipe(knot(way="even"))).layers[0].repair
    cost = fading.costs["even"]
    assert isinstance(cost, WayCost)
    assert cost.area_added_mm2 == report.area_added_mm2
    assert (cost.along_mm, cost.crotches_mm) == (report.along_mm, report.crotches_mm)
    assert cost.counters_before == 1
    assert 0 < fading.costs["taper"].gaps_closed < cost.gaps_closed < 1


def test_without_strengthening_there_is_nothing_to_choose(build):
    recipe = parse_recipe(knot())
    assert ways_of(recipe, build(recipe), build) == ()
    sturdy = parse_recipe(knot(limit=0.2))
    assert ways_of(sturdy, build(sturdy), build) == ()


def test_a_way_that_cannot_be_made_says_why(build):
    def refuse(recipe):
        raise GeometryError("The holes leave the layer.", code="hole-outside-layer")

    recipe = parse_recipe(knot(limit=3))
    (ways,) = ways_of(recipe, build(recipe), refuse)
    assert ways.costs["even"] == "The holes leave the layer."
    assert ways.adds_less == "taper"
    assert cost_words(ways).endswith(
        "growth that is even cannot be made: The holes leave the layer."
    )


@pytest.mark.parametrize(
    ("recipe", "repair"), [(knot(limit=3), False), (knot(), True)], ids=["named", "repaired"]
)
def test_the_answer_of_a_check_tells_both_costs(recipe, repair):
    files = all_files("check", {"recipe": recipe, "repair": repair})
    told = json.loads(files["findings.json"])["strengthening"]["face"]
    assert told["way"] == "taper"
    assert set(told["costs"]) == {"taper", "even"}
    assert told["text"].startswith("Thin places of the face layer: growth that fades out moves")
    made = json.loads(files["stack.json"])["layers"][0]["repair"]
    assert told["costs"]["taper"]["area_added_mm2"] == made["area_added_mm2"]
    for name in ("move_along_strokes_mm", "move_where_strokes_meet_mm"):
        assert told["costs"]["taper"][name] == made[name]
