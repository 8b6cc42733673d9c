"""Surveys as HTTP: made once, found again, in the type that is asked for; mistakes named."""

import csv
import io

import pytest

from letterply.api.http.problem_types import PROBLEM_TYPES
from letterply.api.schemas import ResultPage, SurveyDocument
from letterply.lettering.fonts.library import shipped_faces

DIGITS = {"font": "oswald", "set": "digits", "cap_height": "30 mm"}


@pytest.fixture(scope="module")
def made(service_url):
    import httpx

    with httpx.Client(base_url=service_url, timeout=120) as client:
        return client.post("/v1/surveys", json=DIGITS)


def test_a_survey_is_made_and_has_a_place(api, made):
    assert made.status_code == 201, made.text
    document = made.json()
    SurveyDocument.model_validate(document)
    assert made.headers["location"] == f"/v1/surveys/{document['id']}"
    assert document["title"] == "Survey of oswald"
    assert len(document["glyphs"]) == 10
    assert "goods made for sale" in document["licence"]["licence_caution"].lower()
    assert document["ready"] is (document["counts"]["blocker"] == 0)
    again = api.post("/v1/surveys", json=DIGITS)
    assert again.status_code == 200
    assert again.json()["id"] == document["id"]


@pytest.mark.parametrize(
    ("suffix", "media", "start"),
    [
        ("json", "application/json", b"{"),
        ("csv", "text/csv", b"rank,glyph,"),
        ("svg", "image/svg+xml", b"<?xml"),
        ("png", "image/png", b"\x89PNG"),
        ("zip", "application/zip", b"PK"),
    ],
)
def test_a_survey_comes_in_the_type_that_is_asked_for(api, made, suffix, media, start):
    answer = api.get(f"/v1/surveys/{made.json()['id']}.{suffix}")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(media)
    assert answer.content.startswith(start)


def test_the_table_has_a_row_a_glyph(api, made):
    text = api.get(f"/v1/surveys/{made.json()['id']}/files/survey.csv").text
    assert {row["text"] for row in csv.DictReader(io.StringIO(text))} == set("0123456789")


def test_surveys_are_listed(api, made):
    page = api.get("/v1/surveys").json()
    ResultPage.model_validate(page)
    assert made.json()["id"] in [item["id"] for item in page["items"]]


@pytest.mark.parametrize(
    ("request_", "code", "field"),
    [
        ({"font": "oswald", "set": "runes"}, "unknown-set", "set"),
        ({"font": "oswald", "set": "all", "count": 60_000}, "too-many-glyphs", "count"),
        ({"font": "nope"}, "unknown-font", "font"),
        ({"font": "oswald", "text": "鷸"}, "glyph-missing", "text"),
        ({"font": "oswald", "recipe": {}}, "unknown-field", "recipe"),
        ({"font": "oswald", "material": "cheese"}, "unknown-material", "material"),
    ],
)
def test_a_mistake_is_a_problem_that_names_its_field(api, request_, code, field):
    answer = api.post("/v1/surveys", json=request_)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert (problem["code"], problem["field"]) == (code, field)
    assert problem["code"] in PROBLEM_TYPES


def test_an_own_font_is_surveyed(api):
    data = shipped_faces()["varela-round"].path.read_bytes()
    key = api.post(
        "/v1/fonts", content=data, headers={"Content-Type": "application/octet-stream"}
    ).json()["key"]
    answer = api.post("/v1/surveys", json={"font": key, "characters": "AB"})
    assert answer.status_code == 201, answer.text
    assert answer.json()["font"]["family"] == "Varela Round"


def test_the_description_has_the_request_with_examples(api):
    described = api.get("/openapi.json").json()
    post = described["paths"]["/v1/surveys"]["post"]
    body = post["requestBody"]["content"]["application/json"]
    assert body["schema"]["$ref"].endswith("/SurveyRequest")
    assert set(body["examples"]) == {"letters", "words"}
    assert "compare" in described["components"]["schemas"]["SurveyRequest"]["properties"]


@pytest.mark.parametrize("name", ["letters", "words"])
def test_the_examples_work(api, name):
    described = api.get("/openapi.json").json()
    post = described["paths"]["/v1/surveys"]["post"]
    example = post["requestBody"]["content"]["application/json"]["examples"][name]["value"]
    answer = api.post("/v1/surveys", json=example)
    assert answer.status_code in (200, 201), answer.text
