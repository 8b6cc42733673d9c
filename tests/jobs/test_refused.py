"""What must not be done: no drawing to cut it by, whichever way it is asked for."""

import json

import pytest

from jobs.whole import all_files
from letterply.errors import InputError

RECIPE = {
    "title": "Dunlin",
    "lettering": {"text": "Dunlin", "font": "oswald", "size": {"cap_height": 20}},
    "layers": [
        {"name": "base", "material": "mdf", "thickness": 3,
         "outline": {"kind": "plate", "margin": 8}},
        {"name": "face", "material": "pvc-sheet", "thickness": 3,
         "outline": {"kind": "lettering"}},
    ],
}  # fmt: skip
STOCK = [
    {"material": m, "thickness_mm": 3, "width_mm": 300, "height_mm": 200}
    for m in ("mdf", "pvc-sheet")
]
BEAM = {"machine": "bench-beam", "stock": STOCK}


@pytest.mark.parametrize("kind", ["check", "stack"])
def test_a_refused_layer_is_a_blocker_and_has_no_drawing(kind):
    files = all_files(kind, {"recipe": RECIPE, "shop": BEAM})
    findings = json.loads(files["findings.json"])["findings"]
    (refused,) = [f for f in findings if f["code"] == "refused"]
    assert (refused["severity"], refused["layer"]) == ("blocker", "face")
    assert "hydrogen chloride" in refused["why"]
    assert {p for p in files if p.startswith("layers/")} == {"layers/base.svg", "layers/base.dxf"}


@pytest.mark.parametrize("kind", ["check", "stack"])
def test_on_a_router_it_is_drawn(kind):
    shop = {"machine": "bench-router", "stock": STOCK}
    files = all_files(kind, {"recipe": RECIPE, "shop": shop})
    assert "layers/face.dxf" in files
    assert b'"refused"' not in files["findings.json"]


def test_a_plan_is_refused_with_the_same_reason():
    with pytest.raises(InputError) as caught:
        all_files("plan", {"recipe": RECIPE, "shop": BEAM})
    assert caught.value.code == "beam-refused"
    assert "hydrogen chloride" in caught.value.message


def test_what_must_not_be_done_is_told_first_and_a_part_without_room_once():
    shop = {"machine": "bench-beam", "stock": STOCK[:1], "power": [
        {"material": "mdf", "thickness": 3, "cut": 60}
    ]}  # fmt: skip
    files = all_files("plan", {"recipe": RECIPE, "shop": shop})
    findings = json.loads(files["findings.json"])["findings"]
    assert findings[0]["code"] == "refused"
    without_room = [f["part"] for f in findings if f["code"] in ("room", "unplaced")]
    assert sorted(without_room) == sorted(set(without_room))
    assert "face.D" in without_room
