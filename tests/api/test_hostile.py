"""Whatever a client sends is answered as its own mistake, never as a failure of the service."""

import contextlib
import copy
import json
import re
import socket
import time
from urllib.parse import urlsplit

import httpx
import pytest

from api.conftest import result_of
from boathouse import changed, one_layer

RECIPE = changed(
    one_layer(
        "27",
        {"kind": "plate", "shape": "circle", "diameter": "50 mm"},
        name="tag",
        thickness="3 mm",
        size={"cap_height": "12 mm"},
        title="Locker 27",
    ),
    lettering__features={"liga": 1},
)
SHOP = {
    "feeds": {"flat-3175": {"spindle": 10_000, "feed": 1000}},
    "finish": 0.1,
    "stock": [{"key": "rest", "material": "mdf", "thickness_mm": 3, "width_mm": 90}],
}
REQUESTS = {
    "/v1/stacks": {"recipe": RECIPE},
    "/v1/plans": {
        "recipe": RECIPE,
        "shop": SHOP,
        "limits": {"safety_factor": 3, "materials": {"mdf": {"min_web": 1}}},
        "use": {"raised": True, "viewing_distance": 900},
    },
    "/v1/surveys": {"font": "oswald", "text": "27", "axes": {"wght": 400}, "cap_height": 20},
    "/v1/sizes": {"recipe": RECIPE, "fit": {"width": 40, "height": 40}, "each": False},
    "/v1/orders?dry_run=true": {
        "title": "Racks",
        "recipe": "rack-sign",
        "lines": [{"text": "Knot", "quantity": 1, "reference": "7", "size": 20}],
        "search_s": 0,
        "prices": {"minimum": 1},
    },
}
HUGE = "9" * 400
VALUES = {
    "half of a character": '"\\ud800"',
    "a key that is half of one": '{"\\udfff": 1}',
    "400 digits": HUGE,
    "400 digits below nought": f"-{HUGE}",
    "beyond any float": "1e999",
    "5000 digits in quotes": f'"{"9" * 5000}"',
    "no digit": '"²"',
    "nothing": "null",
    "a list in a list": "[[]]",
    "below nought": "-1",
    "a zero byte": '"\\u0000"',
}
_HERE = "@here@"


def places(value, path=()):
    """Yield the path of every member below a JSON value."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for name, item in inner:
        yield (*path, name)
        if isinstance(item, dict | list):
            yield from places(item, (*path, name))


def bodies(request, value):
    """Yield the request with the value, JSON text, in the place of each of its members."""
    for path in places(request):
        made = copy.deepcopy(request)
        at = made
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = _HERE
        yield json.dumps(made).replace(f'"{_HERE}"', value)


@pytest.mark.parametrize("value", VALUES.values(), ids=VALUES.keys())
@pytest.mark.parametrize("path", REQUESTS)
def test_no_value_in_any_field_is_a_failure_of_ours(api, path, value):
    for body in bodies(REQUESTS[path], value):
        headers = {"content-type": "application/json", "prefer": "respond-async"}
        answer = api.post(path, content=body, headers=headers)
        while answer.status_code == 503 and answer.json()["code"] == "service-busy":
            time.sleep(0.2)
            answer = api.post(path, content=body, headers=headers)
        assert answer.status_code < 500, (body, answer.text)
        if answer.status_code == 202:
            job = answer.json()
            while job.get("state") in ("queued", "running"):
                job = api.get(job["links"]["self"], headers={"prefer": "wait=10"}).json()
            code = job.get("problem", {}).get("code")
            assert code not in ("job-crashed", "internal-error"), (body, job)


@pytest.mark.parametrize(
    ("path", "body", "code", "field"),
    [
        ("/v1/stacks", '{"recipe": {"title": "\\ud800"}}', "not-text", "recipe.title"),
        ("/v1/stacks", '{"\\ud800": {"\\udc00": "\\ud800"}}', "not-text", "?"),
        ("/v1/surveys", f'{{"font": "oswald", "count": {HUGE}}}', "bad-value", "count"),
        ("/v1/orders", f'{{"search_s": {HUGE}}}', "bad-value", "search_s"),
        ("/v1/orders", f'{{"prices": {{"minimum": {HUGE}}}}}', "out-of-range", "prices.minimum"),
    ],
)
def test_the_field_is_named(api, path, body, code, field):
    answer = api.post(path, content=body, headers={"content-type": "application/json"})
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert problem["code"] == code
    assert problem["field"].encode("utf-8", "replace").decode() == field


@pytest.mark.parametrize("text", ["1e308", "27", "true", '["27"]', '{"a": 1}'])
@pytest.mark.parametrize("name", ["text", "reference", "font", "material"])
def test_what_is_not_in_quotes_is_no_text(api, name, text):
    line = {"text": "Knot", name: _HERE}
    body = json.dumps({"recipe": "rack-sign", "lines": [line]}).replace(f'"{_HERE}"', text)
    answer = api.post(
        "/v1/orders?dry_run=true", content=body, headers={"content-type": "application/json"}
    )
    assert answer.status_code == 422
    assert {m["column"] for m in answer.json()["mistakes"]} == {name}


ODD = [
    "²", "wait=²", f"wait={'9' * 5000}", "wait=-1", "\xff\xfe", '"', ";;=,=;", "q=nan",
    "*/*;q=²", "text/csv; charset*=utf-8''x", "text/csv; charset*0=a; charset*1=b",
    'text/csv; charset="', "multipart/form-data", "multipart/form-data; boundary=x; charset=²",
]  # fmt: skip
HEADERS = [
    "content-type", "accept", "prefer", "if-none-match", "idempotency-key", "last-event-id",
    "range", "authorization",
]  # fmt: skip


@pytest.mark.parametrize("value", ODD)
@pytest.mark.parametrize("name", HEADERS)
def test_no_header_is_a_failure_of_ours(api, name, value):
    headers = {"content-type": "text/csv", name: value}
    sent = [(n.encode(), v.encode("latin-1")) for n, v in headers.items()]
    for path in ("/v1/orders?dry_run=true&recipe=rack-sign", "/v1/stacks"):
        assert api.post(path, content=b"text\n", headers=sent).status_code < 500
    assert api.get("/v1/materials", headers=sent).status_code < 500


@pytest.mark.parametrize("name", ["search_s", "title", "recipe", "marks", "revises", "dry_run"])
@pytest.mark.parametrize("value", ["%C2%B2", "9" * 5000, "%ED%A0%80", "%00", "%FF", "-1"])
def test_nothing_in_the_query_is_a_failure_of_ours(api, name, value):
    path = f"/v1/orders?{name}={value}" + ("" if name == "dry_run" else "&dry_run=true")
    answer = api.post(path, content=b"text\n", headers={"content-type": "text/csv"})
    assert 400 <= answer.status_code < 500
    assert api.get(f"/v1/stacks?after={value}&limit={value}").status_code < 500


def test_who_hangs_up_in_mid_body_is_no_failure_of_ours(tmp_path, run_service):
    with run_service(tmp_path, workers=1) as url, httpx.Client(base_url=url) as api:
        at = urlsplit(url)
        for kind in ("application/json", "multipart/form-data; boundary=x", "text/csv"):
            with socket.create_connection((at.hostname, at.port)) as line:
                head = f"POST /v1/orders HTTP/1.1\r\nHost: {at.netloc}\r\nContent-Type: {kind}\r\n"
                line.sendall(f"{head}Content-Length: 5000\r\n\r\n--x\r\n".encode())
                time.sleep(0.3)
        deadline = time.monotonic() + 300
        while not (counted := re.search(r'status="499"\} 3\b', api.get("/metrics").text)):
            assert time.monotonic() < deadline, "the three are not counted as hung up"
            time.sleep(0.1)
        assert counted
        assert 'status="500"' not in api.get("/metrics").text
    assert "unforeseen" not in (tmp_path / "log").read_text()


def flip_stored(room, digest):
    """Change one byte of a stored file and leave its size as it is."""
    path = room / "data" / "blobs" / digest[:2] / digest
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))


@pytest.mark.parametrize("name", ["stack.png", "stack.json"])
@pytest.mark.parametrize("wait", ["", "respond-async"])
def test_a_damaged_file_is_told_and_made_again(api, room, name, wait):
    recipe = {**RECIPE, "title": f"Damaged {name} {wait}"}
    made = result_of(api, "/v1/stacks", {"recipe": recipe})
    (file,) = (f for f in made["files"] if f["path"] == name)
    whole = api.get(file["url"])
    flip_stored(room, whole.headers["etag"].strip('"'))
    assert api.get(file["url"]).json()["code"] == "artifact-damaged"
    answer = api.post("/v1/stacks", json={"recipe": recipe}, headers={"prefer": wait})
    with contextlib.suppress(KeyError):
        while answer.json()["state"] in ("queued", "running"):
            answer = api.get(answer.json()["links"]["self"], headers={"prefer": "wait=10"})
    assert api.get(f"/v1/stacks/{made['id']}").json()["files"] == made["files"]
    assert api.get(file["url"]).content == whole.content


@pytest.mark.parametrize("suffix", [".pdf", ".nc"])
def test_a_damaged_file_of_an_order_is_made_again(api, room, suffix):
    wish = {"title": "Damaged", "recipes": {"tag": RECIPE}, "recipe": "tag", "lines": ["7"]}

    def finished():
        state = api.post("/v1/orders", json=wish).json()
        while state["state"] in ("queued", "running"):
            state = api.get(state["links"]["self"], headers={"prefer": "wait=10"}).json()
        assert state["state"] == "done", state
        return api.get(state["links"]["self"]).json()

    made = finished()
    file = next(f for f in made["files"] if f["path"].endswith(suffix))
    whole = api.get(file["url"])
    flip_stored(room, whole.headers["etag"].strip('"'))
    assert api.get(file["url"]).json()["code"] == "artifact-damaged"
    assert finished()["files"] == made["files"]
    assert api.get(file["url"]).content == whole.content
