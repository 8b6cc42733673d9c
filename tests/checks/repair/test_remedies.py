"""From findings to a changed recipe: each remedy where it acts, the rest with a reason."""

import pytest

from boathouse import changed, locker_tag, rack_letters, rack_sign
from letterply.checks.repair.remedies import repair_recipe
from letterply.findings import Finding, Remedy, RemedyAction, Severity
from letterply.requests.recipe import parse_recipe


def blocker(code, layer, *remedies, **facts):
    return Finding(code, Severity.BLOCKER, "because", layer=layer, remedies=remedies, **facts)


def remedy(action, value=None, unit="mm"):
    return Remedy(action, "do it", value, unit)


GROW = remedy(RemedyAction.GROW_BY, 0.4)
LARGER = remedy(RemedyAction.RAISE_SIZE_TO, 1.5, "times")
DROPS_OUT = blocker("island", "tag", remedy(RemedyAction.BRIDGE))


def stencil():
    recipe = locker_tag("80")
    recipe["layers"][0]["features"] = [{"kind": "through_lettering"}]
    return recipe


def outline_of(repair, number):
    return repair.recipe["layers"][number]["outline"]


def test_islands_of_a_stencil_get_bridges_once_for_all():
    repair = repair_recipe(stencil(), [DROPS_OUT, DROPS_OUT])
    (applied,) = repair.applied
    assert applied.action is RemedyAction.BRIDGE
    assert applied.field == "recipe.layers.0.features.0.bridges"
    assert (applied.was, applied.findings, applied.layer) == (None, 2, "tag")
    assert repair.left == ()
    assert parse_recipe(repair.recipe).layers[0].features[0].bridges is not None


def test_loose_dots_are_joined_to_their_letters_then_to_everything():
    loose = blocker("island", "backer", remedy(RemedyAction.JOIN, "join"), GROW)
    first = repair_recipe(rack_letters("i"), [loose])
    assert outline_of(first, 0)["join"] == "letters"
    second = repair_recipe(first.recipe, [loose])
    assert outline_of(second, 0)["join"] is True
    third = repair_recipe(second.recipe, [loose])
    assert third.applied == ()
    assert "joined already" in third.left[0].why


@pytest.mark.parametrize("code", ["neck", "stroke"])
def test_thin_places_are_strengthened_then_the_outline_grows(code):
    thin = blocker(code, "face", GROW, LARGER, measured=2.2, limit=3.0)
    first = repair_recipe(rack_letters(), [thin], gaps_mm={"face": 1.5})
    assert outline_of(first, 1)["strengthen"] == {"limit": None, "gap": 1.5, "way": "taper"}
    assert outline_of(first, 1)["grow"] == 0
    more = blocker(code, "face", remedy(RemedyAction.GROW_BY, 0.7), limit=3.0)
    second = repair_recipe(first.recipe, [thin, more])
    (applied,) = second.applied
    assert (applied.was, applied.now, applied.findings) == (0.0, 0.7, 2)
    far = blocker(code, "face", remedy(RemedyAction.GROW_BY, 9.0), limit=3.0)
    assert "that is more than a repair" in repair_recipe(first.recipe, [far]).left[0].why


def test_holes_that_are_no_counters_are_filled_and_counters_are_left():
    slit = blocker("slot", "face", LARGER, measured=0.3, data=(("length_mm", 1.5),))
    counter = blocker("slot", "face", LARGER, measured=0.8, data=(("length_mm", 6.0),))
    repair = repair_recipe(rack_letters(), [slit], gaps_mm={"face": 1.0})
    assert outline_of(repair, 1)["soften"] == 0.5
    both = repair_recipe(rack_letters(), [slit, counter], gaps_mm={"face": 1.0})
    assert both.applied == ()
    assert all("would change the letter" in u.why for u in both.left)


def test_depths_are_limited_where_they_are_deeper():
    recipe = rack_sign()
    deep = blocker("depth", "board", remedy(RemedyAction.LIMIT_DEPTH, 5.2))
    repair = repair_recipe(recipe, [deep])
    assert repair.recipe["layers"][0]["features"][1]["floor_at"] == 5.2
    assert repair_recipe(repair.recipe, [deep]).applied == ()
    reach = blocker("depth", "board", remedy(RemedyAction.SWAP_CUTTER))
    assert "longer cutter" in repair_recipe(recipe, [reach]).left[0].why


def test_a_thin_plate_is_left_unless_its_bridges_are_narrow():
    thin = blocker("neck", "tag", GROW, limit=1.2)
    assert repair_recipe(stencil(), [thin]).applied == ()
    bridged = changed(stencil(), layers__0__features=[
        {"kind": "through_lettering", "bridges": {"width": 0.6}}])  # fmt: skip
    (applied,) = repair_recipe(bridged, [thin]).applied
    assert applied.field == "recipe.layers.0.features.0.bridges.width"
    assert (applied.was, applied.now) == (0.6, 1.2)


def test_lettering_becomes_larger_only_on_request_and_only_as_a_last_resort():
    slot = blocker("slot", "face", LARGER, measured=0.8, data=(("length_mm", 6.0),))
    thin = blocker("neck", "face", GROW, LARGER, limit=3.0)
    assert repair_recipe(rack_letters(), [slot]).applied == ()
    (applied,) = repair_recipe(rack_letters(), [slot], raise_size=True).applied
    assert applied.field == "recipe.lettering.size"
    assert applied.now["cap_height"] == pytest.approx(50 * 1.5 * 1.02)
    together = repair_recipe(rack_letters(), [slot, thin], raise_size=True)
    assert [a.action for a in together.applied] == [RemedyAction.GROW_BY]
    assert [u.finding for u in together.left] == [slot]


def test_a_size_that_a_sheet_gives_is_not_raised():
    recipe = rack_letters()
    recipe["lettering"]["size"] = {"fit_disc": "200 mm"}
    slot = blocker("slot", "face", LARGER, measured=0.8, data=(("length_mm", 6.0),))
    repair = repair_recipe(recipe, [slot], raise_size=True)
    assert repair.applied == ()
    assert len(repair.left) == 1


def test_only_blockers_are_repaired_and_nothing_is_passed_over():
    caution = Finding("neck", Severity.CAUTION, "", layer="face", remedies=(GROW,))
    room = blocker("room", None)
    uncut = blocker("uncut", "face")
    repair = repair_recipe(rack_letters(), [caution, room, uncut])
    assert repair.applied == ()
    assert {u.finding.code for u in repair.left} == {"room", "uncut"}
    assert all(u.why for u in repair.left)
    assert repair.recipe == parse_recipe(rack_letters()).model_dump(mode="json")


def test_the_recipe_that_comes_in_is_not_touched():
    recipe = stencil()
    before = changed(recipe)
    repair_recipe(recipe, [DROPS_OUT])
    assert recipe == before
