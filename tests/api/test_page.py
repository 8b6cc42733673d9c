"""The bench page as it is served: strict, compressed, known again, open where the rest is not."""

import re

import httpx


def test_the_page_comes_with_a_strict_policy(api):
    page = api.get("/")
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "require-trusted-types-for 'script'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "<style" not in page.text
    assert not re.search(r"<script(?![^>]*\bsrc=)", page.text)
    assert " style=" not in page.text
    for part in re.findall(r'(?:src|href)="([^"]+)"', page.text):
        assert part.startswith("/page/")
        assert api.get(part).status_code == 200


def test_parts_are_compressed_and_known_again(api):
    script = api.get("/page/bench.js")
    assert script.headers["content-encoding"] == "gzip"
    assert script.headers["content-type"].startswith("text/javascript")
    plain = api.get("/page/bench.js", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert plain.content == script.content
    known = api.get("/page/bench.js", headers={"If-None-Match": script.headers["etag"]})
    assert known.status_code == 304


def test_the_icon_is_not_asked_for_with_every_letter(api):
    assert api.get("/page/icon.svg").headers["cache-control"].startswith("max-age=")
    assert api.get("/page/bench.js").headers["cache-control"] == "no-cache"


def test_no_other_file_is_served(api):
    for name in ("docs.js", "..%2fdocs.js", "main.tsx", "bench.js.map"):
        assert api.get(f"/page/{name}").status_code == 404


def test_the_page_is_open_and_what_it_asks_for_is_not(tmp_path, run_service):
    keys = '[{"name": "bench", "secret": "a-long-secret-of-a-key"}]'
    with run_service(tmp_path, api_keys=keys, workers=1) as url, httpx.Client(base_url=url) as api:
        assert api.get("/").status_code == 200
        assert api.get("/page/bench.js").status_code == 200
        for path in ("/v1/templates", "/v1/fonts", "//v1/fonts", "/pages"):
            assert api.get(f"{url}{path}").status_code == 401, path


def test_a_font_can_be_fetched_to_show_words_in_it(api):
    file = api.get("/v1/fonts/lobster/file")
    assert file.headers["content-type"] in ("font/ttf", "font/otf")
    assert file.content[:4] in (b"\x00\x01\x00\x00", b"OTTO")
    assert api.get("/v1/fonts/no-such/file").json()["code"] == "font-not-found"
