"""A sign's use in a request: read, refused, and held against the standard on the built stack."""

import json

import pytest

from boathouse import rack_letters
from jobs.whole import all_files
from letterply.errors import InputError
from letterply.requests import SignUse, read_request

USE = {"raised": True, "baseline_height": "1.3 m", "border": "1/2 in", "braille": False}


def test_a_use_is_read_in_one_form():
    use = read_request(SignUse, USE, field="use")
    assert (use.raised, use.baseline_height_mm, use.border_mm) == (True, 1300.0, 12.7)
    assert use.viewing_distance_mm is None
    normal = use.model_dump(by_alias=True, exclude_defaults=True)
    assert normal == {"raised": True, "baseline_height": 1300.0, "border": 12.7, "braille": False}
    assert read_request(SignUse, normal) == use


@pytest.mark.parametrize(
    ("raw", "code", "field"),
    [
        (True, "bad-value", "use"),
        ({}, "missing-field", "use.raised"),
        ({"raised": "yes"}, "bad-value", "use.raised"),
        ({"raised": True, "depth": -1}, "out-of-range", "use.depth"),
        ({"raised": True, "depth": "1 league"}, "unknown-unit", "use.depth"),
        ({"raised": True, "colour": "blue"}, "unknown-field", "use.colour"),
    ],
)
def test_what_makes_no_sense_is_refused_and_named(raw, code, field):
    with pytest.raises(InputError) as caught:
        read_request(SignUse, raw, field="use")
    assert (caught.value.code, caught.value.field) == (code, field)


def findings(use, **lettering):
    recipe = rack_letters("KNOT")
    recipe["lettering"] |= lettering
    files = all_files("check", {"recipe": recipe, "use": use})
    found = json.loads(files["findings.json"])["findings"]
    return [f for f in found if f["code"] in ("tactile", "reading")]


def test_advice_is_given_on_request_only_and_names_the_standard():
    assert findings(None) == []
    small = findings({"raised": True}, size={"cap_height": 10})
    heights = [f for f in small if "703.2.5" in f["why"]]
    assert [f["severity"] for f in heights] == ["caution"]
    assert heights[0]["measured"] == pytest.approx(10, abs=0.2)
    assert not [f for f in small if "stand out by" in f["why"]]  # told by the layer's thickness
    told = findings({"raised": True, "depth": 0.2}, size={"cap_height": 25})
    assert [f["measured"] for f in told if "stand out by" in f["why"]] == [0.2]


def test_places_are_those_of_the_stack():
    crowded = findings({"raised": True}, size={"cap_height": 25}, tracking=-1)
    gaps = [f for f in crowded if f["where"]]
    recipe = rack_letters("KNOT")
    assert gaps
    files = all_files("stack", {"recipe": recipe})
    stack = json.loads(files["stack.json"])
    for finding in gaps:
        for x, y in finding["where"]["points_mm"]:
            assert 0 <= x <= stack["width_mm"] + 10
            assert 0 <= y <= stack["height_mm"] + 10
