"""Hostile requests of our own: none is answered by a fault, and the service lives after each.

Made from lists of what has broken services elsewhere (OWASP Web Security Testing Guide 4.2: input
validation; RFC 9110 and 9112 for what HTTP does not allow), crossed with what this one takes.
"""

import copy
import itertools
import json
import socket
from urllib.parse import quote, urlsplit

import pytest

from api.conftest import running

SIGN = {
    "title": "Knot",
    "lettering": {"text": "i", "font": "lobster", "size": {"cap_height": "30 mm"}},
    "layers": [
        {"name": "a", "material": "mdf", "thickness": "3 mm", "outline": {"kind": "lettering"}}
    ],
    "align": {"kind": "none"},
}
IDS = [
    "..", "../../etc/passwd", "..%2f..%2fetc%2fpasswd", "%2e%2e/%2e%2e", "%00", "a%00.svg",
    "%ff%fe", "' OR 1=1 --", "\"; DROP TABLE jobs; --", "${jndi:ldap://x}", "{{7*7}}",
    "%0d%0aX-A:%20b", "~root",
    "CON", "a" * 4000, "😀", "\u202egnp", "0" * 32, "-1", "null", "*", ".", "%25%32%65", "\\..\\..",
]  # fmt: skip
PATHS = [
    "/v1/plans/{}", "/v1/plans/{}.zip", "/v1/stacks/" + "0" * 32 + "/files/{}", "/v1/jobs/{}",
    "/v1/orders/{}", "/v1/fonts/{}/file", "/v1/templates/{}.svg", "/problems/{}", "/docs/{}",
]  # fmt: skip
HEADERS = {
    "Range": ["bytes=-9999999999999999999", "bytes=" + "0-1," * 500, "bytes=²-5", "bytes=\t0-"],
    "If-None-Match": ["*" * 3000, '"' * 99, 'W/"', ","],
    "If-Match": ["W/*", '"a", *', ";" * 500],
    "Accept": ["*/*;q=nan", "a" * 5000, "image/png;q=1;q=0;q=-1", ";;;,,,", "\x80/\x81"],
    "Prefer": ["wait=99999999999999999999", "wait=-1", "wait=²", "respond-async," * 300],
    "Idempotency-Key": ['"' + "k" * 255 + '"', "k" * 256, '""', '"\x80"', "a\tb"],
    "Letterply-Owner": ["../x", "A", "a" * 61, "house'--", "x y"],
    "Authorization": ["Bearer " + "x" * 5000, "Bearer \x80\xff", "Basic Og==", "Bearer"],
    "Content-Type": [
        "application/json; charset=" + "x" * 999, "multipart/form-data", "text/csv; charset=utf-7",
        "multipart/form-data; boundary=" + "b" * 500, "application/xml", "*/*", "json", "",
    ],
    "Content-Encoding": ["gzip", "br, gzip, gzip"],
    "X-Forwarded-Host": ["evil.example"],
    "X-HTTP-Method-Override": ["DELETE"],
    "traceparent": ["00-" + "f" * 999],
    "Last-Event-ID": ["-1", "9" * 40, "²", "1; DROP"],
}  # fmt: skip
VALUES = [
    None, True, -1, 1e308, 10**25, "", "\x00", "9" * 400 + " mm", "1/0 mm", "-5 mm", "nan",
    "1e999 mm", [], {}, [[]] * 50, {"$ref": "#"}, "../../x", "\u202e" + "a" * 50,
    "=cmd|' /C calc'!A0",
]  # fmt: skip
FIELDS = [
    ("title",), ("lettering", "text"), ("lettering", "font"), ("lettering", "size"),
    ("lettering", "size", "cap_height"), ("layers",), ("layers", 0, "material"),
    ("layers", 0, "thickness"), ("layers", 0, "outline"), ("align",),
]  # fmt: skip
BODIES = [
    b"", b"{", b"[]", b"null", b"1", b'"x"', b"\xff\xfe", b"\xef\xbb\xbf{}", b"{" * 5000,
    b'{"a":' * 900 + b"1" + b"}" * 900, b"[" * 50_000, b'{"recipe":' + b"9" * 5000 + b"}",
    b'{"recipe":NaN}', b'{"recipe":"\\ud800"}', b'{"recipe":{},"recipe":{}}', b"\x00" * 1000,
    b'{"__proto__":{"x":1},"recipe":{}}',
    b'{"recipe":{"lettering":{"text":"' + b"W" * 200_000 + b'"}}}',
]  # fmt: skip
SVGS = [
    b'<!DOCTYPE s [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]><svg>&b;</svg>',
    b'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><svg><text>&x;</text></svg>',
    b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
    b'<svg xmlns="http://www.w3.org/2000/svg"><image href="http://127.0.0.1/"/></svg>',
    b'<svg xmlns="http://www.w3.org/2000/svg" width="1e300mm"><path d="M0 0H9V9Z"/></svg>',
    b'<svg xmlns="http://www.w3.org/2000/svg"><path d="' + b"M0 0L1 1" * 3000 + b'"/></svg>',
    b"<svg>" + b"<g>" * 3000,
    b"\x89PNG\r\n\x1a\n", b"GIF89a", b"<?xml version='1.0' encoding='utf-7'?><svg/>",
]  # fmt: skip
FONTS = [
    b"OTTO" + b"\xff" * 200,
    b"\x00\x01\x00\x00" + b"\x00" * 50,
    b"wOF2" + b"\x00" * 90,
    b"ttcf",
]
CSVS = [
    b"", b"text\n", b"text,quantity\nA,-1\n", b"text,quantity\nA,1e99\n", b"a" * 9000 + b"\nx\n",
    b'text\n"unclosed', b"text,text\nA,B\n", b"\xff\xfet\x00e\x00", b"text\n=HYPERLINK(1)\n" * 3,
    b"text\x00\nA\n", b"text;quantity\nA;9999999999999\n", b"text\n" + b"\n" * 2000,
]  # fmt: skip


def requests():
    """Yield what is sent: method, target, headers, body."""
    for path, id_ in itertools.product(PATHS, IDS):
        yield "GET", path.format(id_ if "%" in id_ else quote(id_, safe="")), {}, None
    for name, values in HEADERS.items():
        for value in values:
            yield (
                "GET",
                "/v1/fonts/lobster/file" if name == "Range" else "/v1/plans",
                {name: value},
                None,
            )
            body = json.dumps({"recipe": {}}).encode()
            yield "POST", "/v1/stacks", {"Content-Type": "application/json", name: value}, body
    for body in BODIES:
        yield "POST", "/v1/checks", {"Content-Type": "application/json"}, body
    for field, value in itertools.product(FIELDS, VALUES):
        recipe = copy.deepcopy(SIGN)
        place = recipe
        for part in field[:-1]:
            place = place[part]
        place[field[-1]] = value
        yield (
            "POST",
            "/v1/previews",
            {"Content-Type": "application/json"},
            json.dumps({"recipe": recipe}).encode(),
        )
    for body, (path, kind) in [
        *itertools.product(SVGS, [("/v1/artworks", "image/svg+xml")]),
        *itertools.product(FONTS, [("/v1/fonts", "font/ttf"), ("/v1/fonts", "font/woff2")]),
        *itertools.product(CSVS, [("/v1/orders?recipe=rack-sign&dry_run=true", "text/csv")]),
    ]:
        yield "POST", path, {"Content-Type": kind}, body
    for query in (
        "limit=0",
        "limit=1e9",
        "limit=²",
        "after=" + "x" * 101,
        "after=%00",
        "limit=1&limit=2",
    ):
        for path in ("/v1/plans", "/v1/fonts", "/v1/orders"):
            yield "GET", f"{path}?{query}", {}, None
    for method in ("TRACE", "CONNECT", "PROPFIND", "PATCH", "PUT", "DELETE", "get", "A" * 300):
        yield method, "/v1/keys/x", {}, None


POST = b"POST /v1/stacks HTTP/1.1\r\nHost: localhost\r\n"
RAW = [
    b"GET /health/live HTTP/1.1\r\n\r\n",
    b"GET /health/live HTTP/9.9\r\nHost: localhost\r\n\r\n",
    b"GET  /health/live HTTP/1.1\r\nHost: localhost\r\n\r\n",
    b"GET /health/live HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n",
    b"GET http://evil.example/ HTTP/1.1\r\nHost: localhost\r\n\r\n",
    POST + b"Content-Length: 5\r\nContent-Length: 6\r\n\r\n{}",
    POST + b"Content-Length: -1\r\n\r\n",
    POST + b"Transfer-Encoding: chunked\r\nContent-Length: 4\r\n\r\n0\r\n\r\n",
    POST + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n",
    b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"a" * 100_000 + b"\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: localhost\r\n" + b"X: y\r\n" * 9000 + b"\r\n",
    b"GET / HTTP/1.1\r\nHost : localhost\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: localhost\r\nX: a\r\n b\r\n\r\n",
    b"GET /v1/plans/\xff\xfe HTTP/1.1\r\nHost: localhost\r\n\r\n",
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    b"\x00" * 100,
    b"\r\n" * 100,
    b"GET / HTTP/1.1\nHost: localhost\n\n",
]


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with running(
        tmp_path_factory.mktemp("hostile"), workers=1, preview_workers=0, wait_s=5,
        header_wait_s=1, time_limit_s=20,
    ) as url:  # fmt: skip
        yield urlsplit(url)


def status_of(address, raw):
    """Send these bytes; return the status of what comes back, 0 for a line that was closed."""
    with socket.create_connection((address.hostname, address.port), timeout=60) as line:
        line.sendall(raw)
        received = b""
        while b"\r\n" not in received:
            try:
                chunk = line.recv(4096)
            except ConnectionResetError:
                return 0
            if not chunk:
                return 0
            received += chunk
    return int(received.split(b" ", 2)[1])


def written(method, target, headers, body):
    head = f"{method} {target} HTTP/1.1\r\n"
    head += "".join(f"{n}: {v}\r\n" for n, v in {"Host": "localhost", **headers}.items())
    if body is not None:
        head += f"Content-Length: {len(body)}\r\n"
    return f"{head}Connection: close\r\n\r\n".encode("latin-1", "replace") + (body or b"")


def test_none_is_answered_by_a_fault_and_the_service_lives_after_each(address):
    sent = [*(written(*request) for request in requests()), *RAW]
    assert len(sent) >= 400
    healthy = written("GET", "/health/live", {}, None)
    faults = []
    for raw in sent:
        status = status_of(address, raw)
        if status >= 500 and status != 503:
            faults.append((status, raw[:300]))
        assert status_of(address, healthy) == 200, raw[:300]
    assert faults == []
