"""The guard: closed to strangers, open to holders of keys as far as their scopes reach."""

import asyncio
import json
import os
import subprocess
import sys

import httpx
import pytest
from starlette.responses import PlainTextResponse

from letterply.api.security.guard import Guard
from letterply.api.settings import ApiKey, Settings

READER = {"name": "reader", "secret": "reads-only-0123456789", "scopes": ["read"]}
ROWER = {"name": "rower", "secret": "reads-and-writes-01234", "scopes": ["read", "write"]}


def ask(method, url, *, keys=(), server=None, **options):
    """Send one request to a guarded app that says yes to everything."""

    async def yes(scope, receive, send):
        await PlainTextResponse(scope["state"].get("key_name", ""))(scope, receive, send)

    guarded = Guard(yes, tuple(ApiKey(**key) for key in keys))

    async def app(scope, receive, send):
        scope["state"] = {"request_id": "0"}
        if server is not None:
            scope["server"] = server
        await guarded(scope, receive, send)

    async def go():
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport) as client:
            return await client.request(method, url, **options)

    return asyncio.run(go())


def bearer(key):
    return {"Authorization": f"Bearer {key['secret']}"}


@pytest.mark.parametrize(
    "url", ["http://localhost:8467/", "http://127.0.0.1/", "http://[::1]:8467/"]
)
def test_without_keys_this_machine_is_served(url):
    assert ask("POST", url).status_code == 200


@pytest.mark.parametrize(
    ("url", "headers", "server"),
    [
        ("http://boathouse.example:8467/", {}, ("127.0.0.1", 8467)),
        ("http://localhost:8467/", {"Host": "boathouse.example"}, ("127.0.0.1", 8467)),
        ("http://localhost:8467/", {}, ("192.0.2.7", 8467)),
        ("http://localhost:8467/", {"Origin": "https://page.example"}, ("127.0.0.1", 8467)),
        ("http://localhost:8467/", {"Origin": "null"}, ("127.0.0.1", 8467)),
    ],
    ids=["foreign name", "rebound name", "foreign address", "foreign page", "page without origin"],
)
def test_without_keys_nobody_else_is(url, headers, server):
    answer = ask("POST", url, headers=headers, server=server)
    assert answer.status_code == 403
    assert answer.json()["code"] == "loopback-only"


def test_a_page_of_the_service_itself_is_served():
    headers = {"Origin": "http://localhost:8467"}
    assert ask("POST", "http://localhost:8467/", headers=headers).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Authorization": "Bearer "},
        {"Authorization": "Bearer wrong"},
        {"Authorization": f"Basic {ROWER['secret']}"},
        {"Authorization": ROWER["secret"]},
        {"Authorization": "Bearer ünknown".encode()},
    ],
)
def test_with_keys_a_stranger_is_asked_for_one(headers):
    answer = ask("GET", "http://boathouse.example/v1/stacks", keys=[ROWER], headers=headers)
    assert answer.status_code == 401
    assert answer.json()["code"] == "missing-key"
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_a_scope_reaches_so_far_and_no_further():
    url, keys = "http://boathouse.example/v1/stacks", [READER, ROWER]
    assert ask("GET", url, keys=keys, headers=bearer(READER)).text == "reader"
    assert ask("POST", url, keys=keys, headers=bearer(ROWER)).text == "rower"
    refused = ask("POST", url, keys=keys, headers=bearer(READER))
    assert refused.status_code == 403
    assert refused.json()["code"] == "insufficient-scope"
    assert refused.json()["needed"] == "write"


@pytest.mark.parametrize(
    "path", ["/health/live", "/problems/glyph-missing", "/docs", "/openapi.json"]
)
def test_open_paths_need_no_key(path):
    assert ask("GET", f"http://boathouse.example{path}", keys=[ROWER]).status_code == 200


@pytest.mark.parametrize("path", ["/docsx", "/healthy", "/metrics", "/v1/stacks", "//docs"])
def test_paths_that_only_look_open_need_one(path):
    assert ask("GET", f"http://boathouse.example{path}", keys=[ROWER]).status_code == 401


def test_a_settings_file_with_keys_is_what_the_environment_holds(monkeypatch):
    monkeypatch.setenv("LETTERPLY_API_KEYS", json.dumps([READER, ROWER]))
    assert [key.name for key in Settings().api_keys] == ["reader", "rower"]


def test_the_service_does_not_start_beyond_loopback_without_keys(tmp_path):
    ended = subprocess.run(
        [sys.executable, "-m", "letterply.api.serve", "--host", "0.0.0.0", "--port", "0"],
        env={**os.environ, "LETTERPLY_DATA_FOLDER": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ended.returncode == 2
    assert "needs API keys" in ended.stderr
    assert "Traceback" not in ended.stderr
