"""Questions of size as HTTP: answered once, found again; mistakes named; examples that work."""

import pytest

from letterply.api.schemas import SizeDocument

RECIPE = {
    "title": "Rack numbers",
    "lettering": {"text": "17", "font": "oswald", "size": {"cap_height": 40}},
    "layers": [
        {"name": "face", "material": "mdf", "thickness": 3, "outline": {"kind": "lettering"}}
    ],
}


@pytest.fixture(scope="module")
def made(service_url):
    import httpx

    with httpx.Client(base_url=service_url, timeout=120) as client:
        return client.post("/v1/sizes", json={"recipe": RECIPE, "fit": "2 in", "each": True})


def test_a_question_is_answered_and_has_a_place(api, made):
    assert made.status_code == 201, made.text
    document = made.json()
    SizeDocument.model_validate(document)
    assert made.headers["location"] == f"/v1/sizes/{document['id']}"
    assert (document["kind"], document["question"]) == ("size", "fit")
    assert [x["text"] for x in document["letters"]] == ["1", "7"]
    assert document["summary"].startswith("Each letter as large as it may be")
    again = api.post("/v1/sizes", json={"recipe": RECIPE, "fit": 50.8, "each": True})
    assert again.status_code == 200
    assert again.json()["id"] == document["id"]


@pytest.mark.parametrize(
    ("suffix", "start"), [("json", b"{"), ("svg", b"<?xml"), ("png", b"\x89PNG"), ("zip", b"PK")]
)
def test_an_answer_comes_in_the_type_that_is_asked_for(api, made, suffix, start):
    answer = api.get(f"/v1/sizes/{made.json()['id']}.{suffix}")
    assert answer.status_code == 200
    assert answer.content.startswith(start)


def test_the_recipe_of_the_answer_is_a_file(api, made):
    id_ = made.json()["id"]
    recipe = api.get(f"/v1/sizes/{id_}/files/sized_recipe.json").json()
    size = made.json()["answer"]["cap_height_mm"]
    assert recipe["lettering"]["size"] == {"cap_height": size}
    assert id_ in {entry["id"] for entry in api.get("/v1/sizes").json()["items"]}


@pytest.mark.parametrize(
    ("asked", "code", "field"),
    [
        ({"fit": "2 in", "width": 9}, "bad-size", "width"),
        ({"fit": "wide"}, "bad-length", "fit.width"),
        ({"width": 90, "each": True}, "bad-value", "each"),
        ({"smallest": True, "shop": {"machine": "moon"}}, "unknown-machine", "shop.machine"),
    ],
)
def test_a_bad_question_is_a_problem(api, asked, code, field):
    answer = api.post("/v1/sizes", json={"recipe": RECIPE, **asked})
    assert answer.status_code == 422
    assert (answer.json()["code"], answer.json()["field"]) == (code, field)


def test_its_examples_are_described(api):
    post = api.get("/openapi.json").json()["paths"]["/v1/sizes"]["post"]
    examples = post["requestBody"]["content"]["application/json"]["examples"]
    assert set(examples) == {"letters", "sheet", "smallest", "wide"}
