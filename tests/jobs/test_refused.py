"""What must not be done: no drawing to cut it by, whichever way it is asked for."""

import json

import pytest

from letterply.errors import InputError
from letterply.jobs.run import Resources, run_job

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
    files = run_job(kind, {"recipe": RECIPE, "shop": BEAM}, Resources())
    findings = json.loads(files["findings.json"])["findings"]
    (refused,) = [f for f in findings if f["code"] == "refused"]
    assert (refused["severity"], refused["layer"]) == ("blocker", "face")
    assert "hydrogen chloride" in refused["why"]
    assert {p for p in files if p.startswith("layers/")} == {"layers/base.svg", "layers/base.dxf"}


@pytest.mark.parametrize("kind", ["check", "stack"])
def test_on_a_router_it_is_drawn(kind):
    shop = {"machine": "bench-router", "stock": STOCK}
    files = run_job(kind, {"recipe": RECIPE, "shop": shop}, Resources())
    assert "layers/face.dxf" in files
    assert b'"refused"' not in files["findings.json"]


def test_a_plan_is_refused_with_the_same_reason():
    with pytest.raises(InputError) as caught:
        run_job("plan", {"recipe": RECIPE, "shop": BEAM}, Resources())
    assert caught.value.code == "beam-refused"
    assert "hydrogen chloride" in caught.value.message
