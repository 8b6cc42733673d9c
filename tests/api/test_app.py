"""The app as HTTP: methods, types, limits, health, description."""

import asyncio
import json
import re
import socket
import time

import httpx
import pytest
from fastapi import FastAPI

from letterply.api.http.metrics import Metrics
from letterply.api.http.middleware import RequestLog

PROBLEM = "application/problem+json"


def assert_problem(answer, status, code):
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == PROBLEM
    problem = answer.json()
    assert problem["status"] == status
    assert problem["code"] == code
    assert problem["type"] == f"/problems/{code}"
    assert problem["title"]
    assert re.fullmatch(r"urn:uuid:[0-9a-f-]{36}", problem["instance"])
    assert problem["instance"].endswith(answer.headers["x-request-id"])
    return problem


def test_an_unknown_path_is_a_problem(api):
    assert_problem(api.get("/v1/nothing"), 404, "not-found")


@pytest.mark.parametrize(
    ("method", "path", "allow"),
    [
        ("DELETE", "/v1/stacks", "GET, HEAD, POST"),
        ("PUT", f"/v1/plans/{'0' * 32}", "DELETE, GET, HEAD"),
        ("POST", "/v1/materials", "GET, HEAD"),
        ("PATCH", "/v1/fonts", "GET, HEAD, POST"),
    ],
)
def test_a_method_that_is_not_there_names_those_that_are(api, method, path, allow):
    """RFC 9110 section 15.5.6: a 405 answer lists the methods in Allow."""
    answer = api.request(method, path)
    assert_problem(answer, 405, "method-not-allowed")
    assert answer.headers["allow"] == allow


@pytest.mark.parametrize(
    "body",
    [b"", b"{nope", b'{"recipe": NaN}', b"\xff\xfe", b'{"a": 1e', b"[" * 200_000],
    ids=["empty", "no JSON", "NaN", "no UTF-8", "cut off", "bottomless"],
)
def test_a_body_that_is_no_json_is_a_problem(api, body):
    answer = api.post("/v1/stacks", content=body, headers={"content-type": "application/json"})
    assert_problem(answer, 400, "malformed-json")


def test_a_place_is_named_in_broken_json(api):
    answer = api.post(
        "/v1/checks", content=b'{\n "recipe": }', headers={"content-type": "application/json"}
    )
    problem = assert_problem(answer, 400, "malformed-json")
    assert (problem["line"], problem["column"]) == (2, 12)


@pytest.mark.parametrize("body", ["[]", "3", "null", '"text"'])
def test_a_body_that_is_no_object_is_a_problem(api, body):
    answer = api.post("/v1/stacks", content=body, headers={"content-type": "application/json"})
    assert_problem(answer, 422, "not-an-object")


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_a_body_of_another_type_is_a_problem(api, kind):
    answer = api.post("/v1/stacks", content=b"{}", headers={"content-type": kind} if kind else {})
    assert_problem(answer, 415, "unsupported-media-type")


def test_ten_megabytes_are_turned_away(api):
    body = json.dumps({"recipe": {"lettering": {"text": "A" * 10_000_000}}}).encode()
    answer = api.post("/v1/stacks", content=body, headers={"content-type": "application/json"})
    problem = assert_problem(answer, 413, "body-too-large")
    assert problem["limit_bytes"] == 5_000_000


def test_a_body_without_end_is_answered_at_once(service_url):
    host, port = service_url.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=10) as line:
        line.sendall(
            b"POST /v1/stacks HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
            b"Content-Length: 900000000000\r\n\r\n{"
        )
        assert line.recv(1000).startswith(b"HTTP/1.1 413 ")


def test_a_body_that_does_not_say_how_long_it_is_is_turned_away_too(api):
    chunks = (b" " * 100_000 for _ in range(80))
    answer = api.post("/v1/stacks", content=chunks, headers={"content-type": "application/json"})
    assert_problem(answer, 413, "body-too-large")


def test_a_font_may_be_larger_than_a_recipe(api):
    answer = api.post("/v1/fonts", content=b"x" * 6_000_000, headers={"content-type": "font/ttf"})
    assert_problem(answer, 422, "not-a-font")
    answer = api.post("/v1/fonts", content=b"x" * 21_000_000, headers={"content-type": "font/ttf"})
    assert_problem(answer, 413, "body-too-large")


@pytest.mark.parametrize("query", ["limit=0", "limit=201", "limit=many"])
def test_a_wrong_parameter_is_named(api, query):
    problem = assert_problem(api.get(f"/v1/stacks?{query}"), 422, "invalid-request")
    assert problem["field"] == "query.limit"


def test_head_answers_as_get_without_a_body(api):
    got, headed = api.get("/v1/materials"), api.head("/v1/materials")
    assert headed.status_code == 200
    assert headed.content == b""
    assert headed.headers["content-length"] == got.headers["content-length"]


def test_health_says_live_and_ready(api):
    assert api.get("/health/live").json()["status"] == "live"
    deadline = time.monotonic() + 300
    while (ready := api.get("/health/ready")).status_code == 503 and time.monotonic() < deadline:
        assert ready.json()["checks"]["store"]  # workers may still be getting ready
    assert ready.status_code == 200
    checks = ready.json()["checks"]
    assert set(checks) == {"store", "workers", "lane jobs", "lane short", "lane previews"}
    assert all(checks.values())
    assert ready.json()["missing"] == []


def test_metrics_count_requests_by_route(api):
    def count():
        found = re.search(
            r'^letterply_requests_total\{method="GET",route="/v1/materials/\{key\}",status="200"\}'
            r" (\d+)\.0$",
            api.get("/metrics").text,
            re.MULTILINE,
        )
        return int(found[1]) if found else 0

    before = count()
    api.get("/v1/materials/mdf")
    assert count() == before + 1


def test_the_description_is_openapi_3_1_and_its_references_resolve(api):
    description = api.get("/openapi.json").json()
    assert description["openapi"].startswith("3.1")

    def walk(value):
        if isinstance(value, dict):
            if "$ref" in value:
                at = description
                for step in value["$ref"].removeprefix("#/").split("/"):
                    at = at[step]
            for member in value.values():
                walk(member)
        elif isinstance(value, list):
            for member in value:
                walk(member)

    walk(description)


def test_every_post_describes_its_body_and_its_problems(api):
    description = api.get("/openapi.json").json()
    posts = {path: ops["post"] for path, ops in description["paths"].items() if "post" in ops}
    said_by_the_path = (
        "/v1/orders/{id}/again",
        "/v1/orders/{id}/cancel",
        "/v1/orders/{id}/commit",
        "/v1/plans/{id}/commit",
        "/v1/offers/{id}/withdraw",
        "/v1/webhooks/{id}/test",
    )
    for path in said_by_the_path:
        assert "requestBody" not in posts.pop(path)
    assert len(posts) == 16
    for operation in posts.values():
        assert operation["requestBody"]["content"]
        assert list(operation["responses"]["422"]["content"]) == [PROBLEM]


def test_the_page_of_operations_needs_nothing_from_elsewhere(api):
    page = api.get("/docs")
    assert page.headers["content-type"].startswith("text/html")
    assert "default-src 'none'" in page.headers["content-security-policy"]
    parts = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert parts
    for part in parts:
        assert part.startswith("/docs/")
        assert api.get(part).status_code == 200
    script = api.get("/docs/docs.js").text
    assert "://" not in script


def test_every_problem_type_is_explained(api):
    items = api.get("/problems").json()["items"]
    for item in items:
        page = api.get(item["type"])
        assert page.status_code == 200
        assert item["code"] in page.text
    assert_problem(api.get("/problems/<script>"), 404, "problem-not-found")


@pytest.mark.parametrize("library", ["materials", "cutters", "machines", "stock"])
def test_each_entry_of_a_list_is_found_by_its_key(api, library):
    items = api.get(f"/v1/{library}").json()["items"]
    assert items
    for item in items:
        assert api.get(f"/v1/{library}/{item['key']}").json() == item


def test_figures_of_a_material_come_with_their_sources(api):
    sources = api.get("/v1/materials/mdf").json()["sources"]
    assert sources["bending_strength_mpa"]["text"]
    assert sources["bending_strength_mpa"]["status"] in (
        "published",
        "derived",
        "from memory",
        "common practice",
    )


def test_names_that_the_catalogue_does_not_hold_are_problems(api):
    assert_problem(api.get("/v1/materials/moss"), 404, "material-not-found")
    assert_problem(api.get("/v1/stock/moss"), 404, "stock-not-found")


def test_the_service_answers_when_a_client_leaves_in_the_middle(api, service_url):
    host, port = service_url.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port))) as line:
        line.sendall(b"POST /v1/stacks HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99\r\n\r\n{")
    assert api.get("/health/live").status_code == 200


def test_an_unforeseen_error_says_nothing_of_the_inside():
    app = FastAPI()
    app.add_middleware(RequestLog, metrics=Metrics())

    @app.get("/broken")
    def broken():
        raise RuntimeError("secret wording")

    async def ask():
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            return await client.get("/broken")

    answer = asyncio.run(ask())
    assert_problem(answer, 500, "internal-error")
    assert "secret" not in answer.text
