"""Errors: every one of httpx has a place in our tree."""

import re

import httpx
import pytest

from letterply_client import (
    AccessProblem,
    BadAnswer,
    Client,
    ClientError,
    ConflictProblem,
    InputProblem,
    NotFoundProblem,
    NotReachable,
    Problem,
    ServiceProblem,
    TimedOut,
)
from letterply_client._errors import problem_from, translated


def all_below(kind):
    for child in kind.__subclasses__():
        yield child
        yield from all_below(child)


def made(kind):
    if issubclass(kind, httpx.HTTPStatusError):
        request = httpx.Request("GET", "http://localhost")
        return kind("x", request=request, response=httpx.Response(500, request=request))
    return kind("x")


@pytest.mark.parametrize("kind", sorted(set(all_below(httpx.HTTPError)), key=lambda k: k.__name__))
def test_every_error_of_httpx_is_translated(kind):
    found = translated(made(kind), "http://localhost")
    assert isinstance(found, ClientError)
    assert not isinstance(found, Problem)
    assert isinstance(found, TimedOut) == issubclass(kind, httpx.TimeoutException)
    if issubclass(kind, httpx.NetworkError | httpx.ProtocolError | httpx.ProxyError):
        assert isinstance(found, NotReachable)


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (400, InputProblem),
        (401, AccessProblem),
        (403, AccessProblem),
        (404, NotFoundProblem),
        (409, ConflictProblem),
        (413, InputProblem),
        (422, InputProblem),
        (500, ServiceProblem),
        (503, ServiceProblem),
    ],
)
def test_a_problem_is_of_the_kind_that_its_status_says(status, kind):
    document = {"code": "glyph-missing", "detail": "No ß.", "field": "f", "expected": "text"}
    found = problem_from(document, status)
    assert type(found) is kind
    assert (found.code, found.field, found.expected) == ("glyph-missing", "f", "text")
    assert str(found) == "No ß. (f) Expected: text."


def answering(status, body=b"", kind="text/html", headers=None):
    def answer(_request):
        return httpx.Response(
            status, content=body, headers={"content-type": kind, **(headers or {})}
        )

    return Client(transport=httpx.MockTransport(answer))


def test_a_service_that_is_not_there_is_not_reachable():
    with (
        Client("http://127.0.0.1:1") as client,
        pytest.raises(NotReachable, match=re.escape("127.0.0.1:1")),
    ):
        client.materials()


def test_who_waits_for_a_job_asks_again_when_its_service_goes_away(monkeypatch):
    """Behind one address another service answers by the id of the job, a moment later."""
    job = {"state": "running", "links": {"self": "/v1/jobs/1", "result": "/v1/stacks/1"}}
    looks = iter([None, None, job | {"state": "done"}])
    pauses = []

    def answer(request):
        if request.method == "POST":
            return httpx.Response(202, json=job)
        if request.url.path == "/v1/stacks/1":
            return httpx.Response(404, json={"status": 404, "code": "job-not-found"},
                                  headers={"content-type": "application/problem+json"})  # fmt: skip
        found = next(looks)
        if found is None:
            raise httpx.ConnectError("refused")
        return httpx.Response(200, json=found)

    monkeypatch.setattr("letterply_client._client.time.sleep", pauses.append)
    with Client(transport=httpx.MockTransport(answer)) as client, pytest.raises(NotFoundProblem):
        client.build_stack({})
    assert pauses == [1.0, 2.0]
    looks = iter([None] * 9)
    with Client(transport=httpx.MockTransport(answer)) as client, pytest.raises(NotReachable):
        client.build_stack({})


@pytest.mark.parametrize("url", ["ftp://localhost", "http://[nonsense", "localhost:80"])
def test_an_address_that_is_none_is_not_reachable(url):
    with pytest.raises((NotReachable, ValueError)), Client(url) as client:
        client.materials()


@pytest.mark.parametrize("status", [404, 502])
def test_an_answer_of_another_server_is_a_bad_answer(status):
    with answering(status, b"<h1>gateway</h1>") as client, pytest.raises(BadAnswer):
        client.materials()


@pytest.mark.parametrize("body", [b"", b"<html>", b"{}", b'{"files": []}', b"[]"])
def test_a_result_that_is_none_is_a_bad_answer(body):
    with answering(200, body, "application/json") as client, pytest.raises(BadAnswer):
        client.get("stack", "0" * 32)


def test_a_busy_service_is_asked_again_after_its_pause():
    asked = []

    def answer(request):
        asked.append(request)
        if len(asked) < 3:
            return httpx.Response(
                503,
                json={"code": "service-busy", "detail": "Busy."},
                headers={"content-type": "application/problem+json", "retry-after": "0"},
            )
        return httpx.Response(200, json={"version": "7"})

    with Client(transport=httpx.MockTransport(answer)) as client:
        assert client.version() == "7"
    assert len(asked) == 3


def test_a_service_that_stays_busy_is_a_problem_in_the_end():
    busy = answering(
        503,
        b'{"code": "service-busy", "detail": "Busy."}',
        "application/problem+json",
        {"retry-after": "0"},
    )
    with busy as client, pytest.raises(ServiceProblem) as caught:
        client.version()
    assert caught.value.code == "service-busy"


@pytest.mark.parametrize(
    "path", ["../../evil", "/etc/evil", "a/../../evil", "..\\evil", "c:evil", ""]
)
def test_a_service_cannot_write_outside_of_the_folder(tmp_path, path):
    document = {
        "id": "0" * 32,
        "kind": "stack",
        "ready": True,
        "files": [
            {
                "path": path,
                "url": "/file",
                "media_type": "text/plain",
                "size_bytes": 0,
                "digest": "cae66941d9efbd404e4d88758ea67670",
                "held_back": False,
            }
        ],
    }

    def answer(request):
        return (
            httpx.Response(200, content=b"")
            if request.url.path == "/file"
            else httpx.Response(200, json=document)
        )

    with Client(transport=httpx.MockTransport(answer)) as client:
        result = client.get("stack", "0" * 32)
        with pytest.raises(BadAnswer):
            client.download(result, tmp_path / "out")
    assert list(tmp_path.rglob("*evil*")) == []
