"""Bad input: each a problem with a stable code and the field, and the store as it was."""

import json

import pytest

from boathouse import changed, one_layer
from letterply.lettering.fonts.library import shipped_faces

TAG = one_layer(
    "27",
    {"kind": "plate", "shape": "circle", "diameter": "50 mm"},
    {"kind": "scribe_lettering"},
    name="tag",
    material="acrylic-cast",
    thickness="3 mm",
    size={"cap_height": "12 mm"},
    title="Locker 27",
)


def changed_tag(path, value):
    """Return the recipe with one member changed."""
    return changed(TAG, **{path.replace(".", "__"): value})


def trace(room):
    """Return what the store of the service holds, by its files."""
    return sorted(p.name for p in (room / "data" / "blobs").rglob("*") if p.is_file())


def listed(api):
    return {
        name: api.get(f"/v1/{name}?limit=200").json()
        for name in ("stacks", "checks", "plans", "fonts")
    }


HUGE = 123456.789
"""Stands for 1e400, which JSON can spell and no float can hold."""

RECIPES = [
    ("lettering.font", "no-such-font", "unknown-font", "recipe.lettering.font"),
    ("lettering.text", "Reihe 2 鷸", "glyph-missing", "recipe.lettering.text"),
    ("lettering.text", "", "empty-text", "recipe.lettering.text"),
    ("lettering.text", "   ", "empty-text", "recipe.lettering.text"),
    ("lettering.text", "A" * 4_000_000, "too-long", "recipe.lettering.text"),
    ("lettering.text", 27, "bad-value", "recipe.lettering.text"),
    ("lettering.size", {"cap_height": -12}, "out-of-range", "recipe.lettering.size.cap_height"),
    ("lettering.size", {"cap_height": 0}, "out-of-range", "recipe.lettering.size.cap_height"),
    ("lettering.size", {"cap_height": "9 km"}, "unknown-unit", "recipe.lettering.size.cap_height"),
    ("lettering.size", {"cap_height": "12 mn"}, "unknown-unit", "recipe.lettering.size.cap_height"),
    ("lettering.size", {"cap_height": 1e9}, "out-of-range", "recipe.lettering.size.cap_height"),
    ("lettering.size", {"cap_height": HUGE}, "bad-length", "recipe.lettering.size.cap_height"),
    ("lettering.size", {}, "bad-size", "recipe.lettering.size"),
    ("layers.0.material", "moss", "unknown-material", "recipe.layers.0.material"),
    ("layers.0.thickness", "1/0 in", "bad-length", "recipe.layers.0.thickness"),
    ("layers.0.outline.diameter", "12 mm", "plate-too-small", "recipe.layers.0.outline"),
    ("layers.0.outline.kind", "cloud", "unknown-kind", "recipe.layers.0.outline"),
    ("layers.0.colour", "red", "unknown-field", "recipe.layers.0.colour"),
    ("layers", [], "empty-value", "recipe.layers"),
    ("title", None, "bad-value", "recipe.title"),
    ("copies", 10**9, "out-of-range", "recipe.copies"),
]


@pytest.mark.parametrize(
    ("path", "value", "code", "field"),
    RECIPES,
    ids=[f"{path}={str(value)[:20]}" for path, value, _, _ in RECIPES],
)
def test_a_recipe_that_cannot_be_met(api, room, path, value, code, field):
    before = trace(room), listed(api)
    body = json.dumps({"recipe": changed_tag(path, value)}).replace(str(HUGE), "1e400")
    answer = api.post("/v1/stacks", content=body, headers={"content-type": "application/json"})
    problem = answer.json()
    assert 400 <= answer.status_code < 500, problem
    assert answer.headers["content-type"] == "application/problem+json"
    assert problem["code"] == code
    assert problem["field"] == field
    assert problem["expected"]
    assert (trace(room), listed(api)) == before


def test_a_missing_glyph_names_the_character(api):
    answer = api.post("/v1/stacks", json={"recipe": changed_tag("lettering.text", "27 鷸")})
    problem = answer.json()
    assert problem["character"] == "鷸"
    assert problem["codepoint"] == "U+9DF8"
    assert problem["position"] == 3


def test_an_unknown_font_names_those_that_there_are(api):
    problem = api.post("/v1/stacks", json={"recipe": changed_tag("lettering.font", "x")}).json()
    assert "oswald" in problem["known"]


SHOPS = [
    ({"machine": "no-such-machine"}, "unknown-machine", "shop.machine"),
    ({"cutters": ["no-such-cutter"]}, "unknown-cutter", "shop.cutters.0"),
    ({"stock": ["no-such-stock"]}, "unknown-stock", "shop.stock.0"),
    ({"hold_down": "magnets"}, "unknown-choice", "shop.hold_down"),
    ({"colour": "red"}, "unknown-field", "shop.colour"),
    ("bench", "unknown-shop", "shop"),
    ({"stock": [{"material": "mdf"}]}, "missing-field", "shop.stock.0.thickness"),
]


@pytest.mark.parametrize(("shop", "code", "field"), SHOPS, ids=[str(s[0])[:40] for s in SHOPS])
def test_a_shop_that_cannot_be_used(api, room, shop, code, field):
    before = trace(room), listed(api)
    answer = api.post("/v1/plans", json={"recipe": TAG, "shop": shop})
    assert answer.status_code == 422
    assert answer.json()["code"] == code
    assert answer.json()["field"] == field
    assert (trace(room), listed(api)) == before


@pytest.mark.parametrize(
    ("request_", "code", "field"),
    [
        ({}, "missing-field", "recipe"),
        ({"recipe": TAG, "limits": {}}, "unknown-field", "limits"),
        ({"recipe": []}, "bad-recipe", "recipe"),
        ({"recipe": None}, "bad-recipe", "recipe"),
    ],
)
def test_a_request_of_the_wrong_form(api, request_, code, field):
    answer = api.post("/v1/stacks", json=request_)
    assert answer.status_code == 422
    assert answer.json()["code"] == code
    assert answer.json()["field"] == field


FONT = shipped_faces()["oswald"].path.read_bytes()


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "not-a-font"),
        (b"Avocet", "not-a-font"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 1000, "not-a-font"),
        (FONT[: len(FONT) // 2], "font-unreadable"),
        (FONT[:12] + b"\xff" * (len(FONT) - 12), "font-without-outlines"),
    ],
    ids=["nothing", "text", "picture", "half", "noise"],
)
@pytest.mark.parametrize("form", [True, False], ids=["form", "plain"])
def test_a_font_file_that_is_none(api, room, data, code, form):
    before = trace(room), listed(api)
    if form:
        answer = api.post("/v1/fonts", files={"file": ("font.ttf", data)})
    else:
        answer = api.post("/v1/fonts", content=data, headers={"content-type": "font/ttf"})
    assert answer.status_code == 422
    assert answer.json()["code"] == code
    assert answer.json()["field"] == "font"
    assert (trace(room), listed(api)) == before


def test_a_form_without_a_file(api):
    answer = api.post("/v1/fonts", files={"other": ("font.ttf", FONT)})
    assert answer.status_code == 422
    assert answer.json()["code"] == "file-missing"


def small_letters():
    recipe = changed_tag("layers.0.outline", {"kind": "lettering"})
    recipe["layers"][0]["features"] = []
    recipe["lettering"]["size"]["cap_height"] = "8 mm"
    return recipe


def test_a_cutter_larger_than_the_part(api, room):
    before = trace(room), listed(api)
    request = {"recipe": small_letters(), "shop": {"cutters": ["flat-6"]}}
    answer = api.post("/v1/plans", json=request)
    assert answer.status_code == 422
    assert answer.json()["code"] == "cutter-too-large"
    assert answer.json()["field"] == "shop.cutters"
    assert (trace(room), listed(api)) == before


def test_a_check_with_a_cutter_larger_than_the_part_says_where(api):
    """Doubt about the work is a finding, and a blocker when it will not come out as drawn."""
    recipe = small_letters()
    recipe["lettering"]["text"] = "86"  # their counters stay closed
    request = {"recipe": recipe, "shop": {"cutters": ["flat-6"]}}
    document = api.post("/v1/checks", json=request).json()
    blockers = [f for f in document["findings"] if f["severity"] == "blocker"]
    assert blockers
    assert document["ready"] is False
