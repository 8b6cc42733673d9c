"""Shops over HTTP: stored, changed only by who has seen them, named by what was made in them."""

import json

import pytest

SHED = """\
name = "shed"
units = "inch"
[catalogue.cutters.eighth]
like = "flat-3175"
diameter = "0.1246 in"
"""
TOML = {"Content-Type": "application/toml"}


@pytest.fixture(autouse=True)
def no_shops(api):
    yield
    for shop in api.get("/v1/shops").json()["items"]:
        api.delete(f"/v1/shops/{shop['key']}")


def test_a_shop_is_made_read_changed_and_removed(api):
    made = api.post("/v1/shops", content=SHED, headers=TOML)
    assert made.status_code == 201
    assert made.headers["location"] == "/v1/shops/shed"
    assert made.headers["etag"] == f'"{made.json()["version"]}"'
    assert api.post("/v1/shops", content=SHED, headers=TOML).json()["code"] == "shop-exists"
    found = api.get("/v1/shops/shed")
    assert found.json()["shop"]["catalogue"]["cutters"]["eighth"]["diameter"] == "0.1246 in"
    seen = {"If-None-Match": found.headers["etag"]}
    assert api.get("/v1/shops/shed", headers=seen).status_code == 304
    changed = api.put("/v1/shops/shed", json={}, headers={"If-Match": found.headers["etag"]})
    assert changed.status_code == 200
    late = api.put("/v1/shops/shed", json={}, headers={"If-Match": found.headers["etag"]})
    assert (late.status_code, late.json()["code"]) == (412, "shop-changed")
    old = api.get("/v1/shops/shed", params={"version": made.json()["version"]})
    assert old.json()["shop"]["units"] == "inch"
    had = {v["version"] for v in api.get("/v1/shops/shed").json()["versions"]}
    assert {made.json()["version"], changed.json()["version"]} <= had
    assert api.delete("/v1/shops/shed").status_code == 204
    assert api.get("/v1/shops/shed").json()["code"] == "shop-not-found"


def test_a_shop_comes_back_as_the_file_that_it_is(api):
    api.post("/v1/shops", content=SHED, headers=TOML)
    text = api.get("/v1/shops/shed.toml").text
    version = api.get("/v1/shops/shed").json()["version"]
    again = api.put("/v1/shops/shed", content=text, headers=TOML)
    assert again.json()["version"] == version


@pytest.mark.parametrize("toml", [True, False])
def test_mistakes_come_with_their_lines(api, toml):
    text = 'units = "feet"\nhold_down = "glue"\n'
    if not toml:
        text = json.dumps({"units": "feet", "hold_down": "glue"}, indent=1)
    kind = TOML if toml else {"Content-Type": "application/json"}
    told = api.put("/v1/shops/shed", content=text, headers=kind)
    assert told.status_code == 422
    first = 1 if toml else 2
    assert [(m["field"], m["line"]) for m in told.json()["mistakes"]] == [
        ("units", first), ("hold_down", first + 1),
    ]  # fmt: skip


def test_what_is_no_toml_is_told_as_such(api):
    told = api.put("/v1/shops/shed", content="units = ", headers=TOML)
    assert (told.status_code, told.json()["code"]) == (400, "malformed-toml")


def test_a_check_names_the_shop_and_its_version_and_speaks_in_inches(api):
    version = api.post("/v1/shops", content=SHED, headers=TOML).json()["version"]
    layer = {"name": "base", "material": "mdf", "thickness": "1/8 in",
             "outline": {"kind": "plate", "width": "2 in", "height": "1 in"}}  # fmt: skip
    request = {"recipe": {"title": "Tag", "layers": [layer]}, "shop": "shed"}
    made = api.post("/v1/checks", json=request).json()
    assert made["shop"] == {"name": "shed", "version": version}
    assert made["units"] == "inch"
    api.put("/v1/shops/shed/default")
    request.pop("shop")
    assert api.post("/v1/checks", json=request).json()["id"] == made["id"]
    cutters = {c["key"]: c for c in api.get("/v1/cutters").json()["items"]}
    assert cutters["eighth"]["told"]["diameter_mm"] == "0.1246 in"
    assert api.delete("/v1/shops/shed/default").status_code == 204
    shipped = {c["key"] for c in api.get("/v1/cutters").json()["items"]}
    assert "eighth" not in shipped


def test_an_unknown_shop_is_told(api):
    told = api.post("/v1/checks", json={"recipe": {"title": "x", "layers": []}, "shop": "attic"})
    assert told.status_code == 422


def test_an_offer_speaks_in_inches_of_what_is_the_shops_own(api):
    own = '[catalogue.materials.board]\nlike = "mdf"\nname = "Our board"\n'
    own += '[[stock]]\nmaterial = "board"\nthickness = "1/4 in"\nwidth = 400\nheight = 200\n'
    api.post("/v1/shops", content=SHED + own, headers=TOML)
    layer = {"name": "base", "material": "board", "thickness": "1/4 in",
             "outline": {"kind": "plate", "width": "2 in", "height": "1 in"}}  # fmt: skip
    request = {"recipe": {"title": "Tag", "layers": [layer]}, "shop": "shed"}
    check = api.post("/v1/checks", json=request).json()
    assert check["ready"], check["summary"]
    wish = {"check": check["id"], "price": 4, "currency": "USD"}
    offer = api.post("/v1/offers", json=wish).json()
    assert offer["pieces"][0]["materials"] == ["Our board, 1/4 in"]
    assert "2 × 1 in, 1/4 in thick" in api.get(offer["link"]).text
