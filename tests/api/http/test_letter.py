"""HTTP to the letter: ranges, conditions, hosts, patience with clients, an end without a trace."""

import asyncio
import io
import json
import signal
import socket
import threading
import time
import zipfile
from urllib.parse import urlsplit

import httpx
import pytest
from fastapi import FastAPI, Request

from letterply.api.http.problems import install_handlers
from letterply.api.responses.caching import answer_bytes, answer_stream

DATA = bytes(range(256)) * 40
TAG = '"a-tag"'


@pytest.fixture(scope="module", params=["bytes", "stream"])
def ask(request):
    """Give a function that asks an app that answers the same file, whole or as it is made."""
    app = FastAPI()
    install_handlers(app)

    @app.get("/it")
    async def it(request_: Request):
        if request.param == "bytes":
            return await answer_bytes(request_, TAG, lambda: DATA, "image/png")
        parts = [DATA[n : n + 999] for n in range(0, len(DATA), 999)]
        return await answer_stream(request_, TAG, lambda: iter(parts), "image/png", headers={})

    it.__annotations__["request_"] = Request

    def get(**headers):
        async def go():
            transport = httpx.ASGITransport(app=app)
            async with httpx.AsyncClient(transport=transport, base_url="http://it") as client:
                return await client.get(
                    "/it", headers={n.replace("_", "-"): v for n, v in headers.items()}
                )

        return asyncio.run(go())

    return get


@pytest.mark.parametrize(
    ("wanted", "part"),
    [
        ("bytes=0-0", slice(0, 1)),
        ("bytes=10-19", slice(10, 20)),
        ("bytes=10000-", slice(10000, None)),
        ("bytes=-7", slice(-7, None)),
        ("bytes=0-999999", slice(None)),
        ("bytes=-999999", slice(None)),
    ],
)
def test_a_range_is_answered_by_its_bytes(ask, wanted, part):
    """RFC 9110, section 14."""
    answer = ask(Range=wanted)
    assert answer.status_code == 206
    assert answer.content == DATA[part]
    start, stop, _ = part.indices(len(DATA))
    assert answer.headers["content-range"] == f"bytes {start}-{stop - 1}/{len(DATA)}"
    assert answer.headers["content-length"] == str(stop - start)
    assert answer.headers["etag"] == TAG


@pytest.mark.parametrize(
    "wanted", ["bytes=5-1", "lines=1-2", "bytes=1-2,5-6", "bytes=", "bytes=a-b", "bytes=-", "x"]
)
def test_what_is_no_single_range_is_answered_by_the_whole(ask, wanted):
    answer = ask(Range=wanted)
    assert (answer.status_code, answer.content) == (200, DATA)
    assert answer.headers["accept-ranges"] == "bytes"


@pytest.mark.parametrize("wanted", [f"bytes={len(DATA)}-", "bytes=999999-1000000", "bytes=-0"])
def test_a_range_outside_is_refused_with_the_size(ask, wanted):
    answer = ask(Range=wanted)
    assert (answer.status_code, answer.json()["code"]) == (416, "range-not-satisfiable")
    assert answer.headers["content-range"] == f"bytes */{len(DATA)}"


def test_conditions_come_before_ranges(ask):
    """RFC 9110, section 13.2.2."""
    assert ask(If_None_Match=TAG, Range="bytes=0-1").status_code == 304
    assert ask(If_None_Match='"other"').status_code == 200
    refused = ask(If_Match='"other"', Range="bytes=0-1")
    assert (refused.status_code, refused.json()["code"]) == (412, "precondition-failed")
    # If-Match compares strongly, If-None-Match weakly (section 13.1).
    assert ask(If_Match=f"W/{TAG}").status_code == 412
    assert ask(If_None_Match=f"W/{TAG}").status_code == 304
    assert ask(If_Match=f'"other", {TAG}').status_code == 200
    assert ask(If_Match="*").status_code == 200
    assert ask(If_Range=TAG, Range="bytes=0-1").status_code == 206
    assert ask(If_Range='"other"', Range="bytes=0-1").status_code == 200
    assert ask(If_Range="Sat, 29 Oct 1994 19:43:31 GMT", Range="bytes=0-1").status_code == 200


def test_files_pictures_and_bundles_of_a_result_come_in_parts(api):
    recipe = {
        "title": "Sanderling",
        "lettering": {"text": "i", "font": "lobster", "size": {"cap_height": "30 mm"}},
        "layers": [
            {"name": "a", "material": "mdf", "thickness": "3 mm", "outline": {"kind": "lettering"}}
        ],
        "align": {"kind": "none"},
    }
    where = api.post("/v1/stacks", json={"recipe": recipe}).headers["location"]
    for path in (f"{where}.zip", f"{where}.svg", f"{where}.json", "/v1/fonts/lobster/file"):
        whole = api.get(path)
        tag, size = whole.headers["etag"], len(whole.content)
        first = api.get(path, headers={"Range": "bytes=0-99", "If-Range": tag})
        rest = api.get(path, headers={"Range": "bytes=100-", "If-Range": tag})
        assert (first.status_code, rest.status_code) == (206, 206), path
        assert first.content + rest.content == whole.content
        assert len(rest.content) == size - 100
    assert zipfile.ZipFile(io.BytesIO(api.get(f"{where}.zip").content)).testzip() is None
    assert api.delete(where, headers={"If-Match": '"another"'}).status_code == 412
    tag = api.get(where).headers["etag"]
    assert api.delete(where, headers={"If-Match": tag}).status_code == 204
    assert api.get(where).status_code == 404


@pytest.mark.parametrize(
    "host",
    ["user@localhost", "localhost:pass@evil.example", "localhost:80:80", "a b", "[::1", "[::1]x"],
)
def test_a_host_with_more_than_a_name_and_a_port_is_refused(service_url, host):
    answer = httpx.get(f"{service_url}/health/live", headers={"Host": host})
    assert answer.status_code == 400
    assert answer.json()["code"] == "bad-host"


def exchange(url, *parts, pause_s=0.0, wait_s=20.0):
    """Send these bytes one after the other; return what comes back until the line is closed."""
    at = urlsplit(url)
    with socket.create_connection((at.hostname, at.port), timeout=wait_s) as line:
        for part in parts:
            line.sendall(part)
            time.sleep(pause_s)
        received = b""
        while chunk := line.recv(65536):
            received += chunk
        return received


def test_who_does_not_send_a_head_in_time_is_let_go(tmp_path, run_service):
    with run_service(tmp_path, workers=1, preview_workers=0, header_wait_s=0.4) as url:
        for parts in ([], [b"GET /health/live HTTP/1.1\r\n"], [b"G"]):
            answer = exchange(url, *parts)
            assert answer.startswith(b"HTTP/1.1 408 "), parts
            assert json.loads(answer.partition(b"\r\n\r\n")[2])["code"] == "request-timeout"
        # A second request on the same line is waited for as the first one was.
        whole = b"GET /health/live HTTP/1.1\r\nHost: localhost\r\n\r\n"
        answer = exchange(url, whole, b"GET /", pause_s=0.1)
        assert answer.startswith(b"HTTP/1.1 200 ")
        assert b"HTTP/1.1 408 " in answer
        # A body may take its time.
        head = b"POST /v1/stacks HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        head += b"Content-Length: 2\r\nConnection: close\r\n\r\n"
        assert b"HTTP/1.1 422 " in exchange(url, head, b"{", b"}", pause_s=0.6)


def test_a_service_that_is_stopped_ends_its_streams_and_leaves_no_trace(tmp_path, start_service):
    """Somebody follows a job that runs for long, another waits for it: both are told the end."""
    process, url = start_service(tmp_path, workers=1, preview_workers=0, wait_s=60)
    slow = {
        "title": "Slow",
        "lettering": {"text": "Bar-tailed godwit " * 8, "font": "great-vibes",
                      "size": {"cap_height": "90 mm"}},
        "layers": [{"name": "a", "material": "mdf", "thickness": "6 mm",
                    "outline": {"kind": "lettering", "grow": "5 mm"}}],
    }  # fmt: skip
    with httpx.Client(base_url=url, timeout=60) as client:
        placed = client.post(
            "/v1/plans", json={"recipe": slow}, headers={"Prefer": "respond-async"}
        )
        assert placed.status_code == 202, placed.text
        heard = []

        def follow():
            with httpx.stream("GET", f"{url}{placed.headers['location']}/events") as stream:
                heard.extend(stream.iter_lines())

        follower = threading.Thread(target=follow)
        follower.start()
        while not heard:
            time.sleep(0.02)
        process.send_signal(signal.SIGTERM)
        follower.join(60)
        process.wait(60)
        process.stdin.close()
    log = (tmp_path / "log").read_text()
    assert "Traceback" not in log, log
    assert "trace" not in log, log
    assert process.returncode in (0, -signal.SIGTERM)
    assert any(line.startswith("event:") for line in heard)
