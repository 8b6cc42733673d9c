"""Proofs of programs as they are now: what is refused, and with which field."""

from __future__ import annotations

import pytest


def test_a_plan_that_is_not_there_is_not_found(api):
    answer = api.post("/v1/proofs", json={"plan": "0" * 32, "programs": {"a.nc": "M30"}})
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_request_without_programs_says_so(api):
    answer = api.post("/v1/proofs", json={"plan": "0" * 32})
    assert answer.status_code == 422
    assert answer.json()["field"] == "programs"


RECIPE = {
    "title": "Knot",
    "lettering": {"text": "o", "font": "lobster", "size": {"cap_height": "20 mm"}},
    "layers": [
        {"name": "face", "material": "mdf", "thickness": 3, "outline": {"kind": "lettering"}}
    ],
}


def planned(api, **request):
    """Return a plan of the recipe, and its programs by name."""
    asked = {"recipe": RECIPE, **request}
    plan = api.post("/v1/plans", json=asked, headers={"Prefer": "wait=120"}).json()
    while plan.get("state") in ("queued", "running"):
        plan = api.get(plan["links"]["self"], headers={"Prefer": "wait=60"}).json()
    if "files" not in plan:
        plan = api.get(plan["links"]["result"], headers={"Accept": "application/json"}).json()
    files = {f["path"]: f["url"] for f in plan["files"]}
    programs = {
        path.removeprefix("programs/"): api.get(url).text
        for path, url in files.items()
        if path.startswith("programs/")
    }
    return plan, files, programs


def test_the_film_of_programs_is_that_of_the_plan_until_they_are_changed(api):
    plan, files, programs = planned(api)
    asked = {"plan": plan["id"], "programs": programs, "film": 1}
    film = api.post("/v1/proofs", json=asked)
    assert film.headers["content-type"] == "application/octet-stream"
    assert film.content == api.get(files["films/sheet-1.bin"]).content
    name = next(iter(programs))
    cut_short = programs[name].splitlines()[:-8]
    changed = {**programs, name: "\n".join([*cut_short, "M5", "M30", ""])}
    other = api.post("/v1/proofs", json={**asked, "programs": changed})
    assert other.status_code == 200
    assert other.content != film.content
    none = api.post("/v1/proofs", json={**asked, "film": 7})
    assert none.status_code == 422
    assert (none.json()["field"], none.json()["expected"]) == ("film", "1")


SHEET = {"key": "board", "material": "mdf", "thickness": 3, "width": 300, "height": 200}
SCREW = {"kind": "screw", "x": 16, "y": 16, "diameter": 12}
ANOTHER = {"machines": {"slow": {"like": "bench-router", "max_feed": 100}}}


@pytest.fixture
def shed(api):
    """Give a function that stores what the shop is now, and returns its version."""

    def put(shop):
        return api.put("/v1/shops/shed", json={"stock": [SHEET], **shop}).json()["version"]

    yield put
    api.delete("/v1/shops/shed")


def test_programs_are_judged_by_the_shop_as_it_was_or_by_one_that_is_named(api, shed):
    """A screw that came to the sheets, a slower machine and a smaller rack count where asked."""
    first = shed({})
    plan, _, programs = planned(api, shop="shed")
    asked = {"plan": plan["id"], "programs": programs}
    shed({"stock": [{**SHEET, "keep_clear": [SCREW]}], "catalogue": ANOTHER})

    def faults(**more):
        answer = api.post("/v1/proofs", json={**asked, **more}).json()
        return {f["code"] for s in answer["sheets"] for f in s["faults"]}

    assert "clamp" not in faults()
    assert "clamp" in faults(shop="shed")
    assert "clamp" not in faults(shop={"name": "shed", "version": first})
    assert "feed" in faults(shop={"name": "shed", "machine": "slow"})
    film = api.post("/v1/proofs", json={**asked, "shop": "shed", "film": 1})
    assert film.headers["content-type"] == "application/octet-stream"
    for shop, code, field in (
        ({"cutters": ["vbit-60"]}, "unknown-cutter", "shop.cutters"),
        ("nowhere", "unknown-shop", "shop"),
        ({"machine": "nowhere"}, "unknown-machine", "shop.machine"),
        (7, "bad-shop", "shop"),
    ):
        told = api.post("/v1/proofs", json={**asked, "shop": shop})
        assert (told.status_code, told.json()["code"]) == (422, code)
        assert told.json()["field"] == field


def test_proofs_are_described(api):
    described = api.get("/openapi.json").json()
    assert "post" in described["paths"]["/v1/proofs"]
    assert "ProofDocument" in described["components"]["schemas"]
