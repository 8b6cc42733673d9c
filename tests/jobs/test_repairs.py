"""Repair in rounds: what can be repaired is, what cannot says why, and never gets worse."""

import json

import pytest

from boathouse import locker_tag, rack_letters
from jobs.whole import all_files
from letterply.catalogue.loading import load_catalogue
from letterply.checks.repair.remedies import Unrepaired
from letterply.errors import GeometryError, InputError
from letterply.findings import Finding, Remedy, RemedyAction, Severity
from letterply.jobs.repairs import repair_until_clear
from letterply.jobs.run import normalise_request
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.recipe import parse_recipe
from letterply.stacks.build import build_stack


def stencil(text="8"):
    recipe = locker_tag(text)
    recipe["layers"][0]["features"] = [{"kind": "through_lettering"}]
    return recipe


def thin_letters():
    recipe = rack_letters("Ko")
    recipe["lettering"] |= {"font": "playfair-display", "size": {"cap_height": 25}, "tracking": 3}
    recipe["layers"] = [recipe["layers"][1]]
    recipe["align"] = {"kind": "none"}
    return recipe


def answer(recipe, repair=True):
    return all_files("check", {"recipe": recipe, "repair": repair})


def test_a_repaired_stencil_has_no_islands_left():
    files = answer(stencil())
    repair = json.loads(files["repair.json"])
    assert repair["counts_before"]["blocker"] == 1
    assert repair["counts"]["blocker"] == 0
    assert repair["left"] == []
    assert repair["layers"]["tag"]["bridges"] == 3
    before = json.loads(files["findings_before.json"])
    (dropped,) = [f for f in before["findings"] if f["severity"] == "blocker"]
    assert (dropped["code"], dropped["data"]["count"]) == ("island", 2)
    now = json.loads(files["findings.json"])
    assert now["summary"].startswith("Repaired with 1 change of the recipe: no blocker is left.")
    assert files["repair.svg"].startswith(b"<?xml")
    assert files["repair.png"].startswith(b"\x89PNG")
    again = answer(json.loads(files["repaired_recipe.json"]))
    assert json.loads(again["repair.json"])["summary"] == "Nothing had to be repaired."
    assert again["layers/tag.svg"] == files["layers/tag.svg"]


def test_thin_letters_have_no_blocker_left_and_the_rest_is_as_it_was():
    files = answer(thin_letters())
    repair = json.loads(files["repair.json"])
    assert repair["counts_before"]["blocker"] > 0
    assert repair["counts"]["blocker"] == 0
    (applied,) = repair["rounds"][0]["applied"]
    assert applied["field"] == "recipe.layers.0.outline.strengthen"
    recipe = json.loads(files["repaired_recipe.json"])
    recipe["layers"][0]["outline"]["strengthen"] = None
    assert recipe == parse_recipe(thin_letters()).model_dump(mode="json")


def test_the_same_request_gives_the_same_bytes():
    assert answer(stencil("4")) == answer(stencil("4"))


@pytest.fixture(scope="module")
def stack():
    recipe = parse_recipe(rack_letters("H"))
    return recipe, build_stack(recipe, load_catalogue(), FontLibrary())


THIN = Finding(
    "neck",
    Severity.BLOCKER,
    "thin",
    layer="face",
    limit=3.0,
    remedies=(Remedy(RemedyAction.GROW_BY, "grow", 0.5, "mm"),),
)


def test_a_round_that_helps_no_further_is_taken_back(stack):
    recipe, built = stack
    repaired = repair_until_clear(
        recipe, built, (THIN,), build=lambda r: built, check=lambda r, s: (THIN,), gaps_mm={}
    )
    assert not repaired.changed
    assert repaired.recipe == recipe.model_dump(mode="json")
    (tried,) = repaired.rounds
    assert not tried.kept
    assert repaired.left == (Unrepaired(THIN, tried.why),)


def test_rounds_go_on_while_they_help_and_end(stack):
    recipe, built = stack
    counts = iter([4, 3, 2, 1])
    repaired = repair_until_clear(recipe, built, (THIN,) * 5, build=lambda r: built,
                  check=lambda r, s: (THIN,) * next(counts), gaps_mm={})  # fmt: skip
    assert [r.after for r in repaired.rounds] == [4, 3, 2]
    assert len(repaired.left) == 2
    assert "3 rounds" in repaired.left[0].why
    assert repaired.recipe["layers"][1]["outline"]["grow"] == 1.0


def test_a_repair_that_cannot_be_built_is_taken_back_and_told(stack):
    recipe, built = stack

    def fail(_):
        raise GeometryError("It does not fit.", code="plate-too-small")

    repaired = repair_until_clear(
        recipe, built, (THIN,), build=fail, check=lambda r, s: (), gaps_mm={}
    )
    assert not repaired.changed
    assert repaired.left[0].why == "with the repair it cannot be built: It does not fit."


@pytest.mark.parametrize(
    ("repair", "normal"),
    [
        (True, {}),
        ({}, {}),
        ({"raise_size": True}, {"raise_size": True}),
        (False, None),
        (None, None),
    ],
)
def test_a_wish_for_repair_has_one_form(repair, normal):
    request = normalise_request("check", {"recipe": stencil(), "repair": repair})
    assert request.get("repair") == normal
    assert normalise_request("check", request) == request


@pytest.mark.parametrize(
    ("kind", "repair", "code", "field"),
    [
        ("check", "please", "bad-value", "repair"),
        ("check", {"raise_size": 2}, "bad-value", "repair.raise_size"),
        ("check", {"colour": 1}, "unknown-field", "repair.colour"),
        ("stack", True, "unknown-field", "repair"),
    ],
)
def test_mistakes_in_a_wish_for_repair_name_the_field(kind, repair, code, field):
    with pytest.raises(InputError) as caught:
        normalise_request(kind, {"recipe": stencil(), "repair": repair})
    assert caught.value.code == code
    assert caught.value.field == field
