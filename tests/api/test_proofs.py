"""Proofs of programs as they are now: what is refused, and with which field."""

from __future__ import annotations


def test_a_plan_that_is_not_there_is_not_found(api):
    answer = api.post("/v1/proofs", json={"plan": "0" * 32, "programs": {"a.nc": "M30"}})
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_request_without_programs_says_so(api):
    answer = api.post("/v1/proofs", json={"plan": "0" * 32})
    assert answer.status_code == 422
    assert answer.json()["field"] == "programs"


def test_the_film_of_programs_is_that_of_the_plan_until_they_are_changed(api):
    recipe = {
        "title": "Knot",
        "lettering": {"text": "o", "font": "lobster", "size": {"cap_height": "20 mm"}},
        "layers": [
            {"name": "face", "material": "mdf", "thickness": 3, "outline": {"kind": "lettering"}}
        ],
    }
    plan = api.post("/v1/plans", json={"recipe": recipe}, headers={"Prefer": "wait=120"}).json()
    files = {f["path"]: f["url"] for f in plan["files"]}
    programs = {
        path.removeprefix("programs/"): api.get(url).text
        for path, url in files.items()
        if path.startswith("programs/")
    }
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


def test_proofs_are_described(api):
    described = api.get("/openapi.json").json()
    assert "post" in described["paths"]["/v1/proofs"]
    assert "ProofDocument" in described["components"]["schemas"]
