"""Orders over HTTP: vetted whole, accepted, followed, cancelled, fetched as one bundle."""

import contextlib
import io
import json
import sqlite3
import zipfile

import httpx
import pytest

from orders.drills.scene import wait_until
from orders.pipeline.small import PLAIN

ORDER = {
    "title": "Tags",
    "recipe": "tag",
    "recipes": {"tag": PLAIN},
    "lines": [{"text": "Knot"}, {"text": "Ruff", "quantity": 2}],
}


def events_of(text):
    """Read a stream of events; comments are passed over."""
    found = []
    for block in text.strip().split("\n\n"):
        fields = dict(line.split(": ", 1) for line in block.splitlines() if line[0] != ":")
        if fields:
            found.append((int(fields["id"]), fields["event"], json.loads(fields["data"])))
    return found


@pytest.fixture(scope="module")
def done(service_url):
    """Make an order: its first answer, its events, its document."""
    with httpx.Client(base_url=service_url, timeout=120) as client:
        first = client.post("/v1/orders", json=ORDER)
        assert first.status_code == 202, first.text
        told = client.get(first.json()["links"]["events"])
        document = client.get(first.json()["links"]["self"]).json()
    return first, events_of(told.text), document


def test_an_order_is_accepted_then_made(done):
    first, events, document = done
    assert first.json()["state"] == "queued"
    assert first.headers["location"] == f"/v1/orders/{document['id']}"
    assert document["state"] == "done"
    assert document["ready"], document["summary"]
    assert document["line_states"] == ["made", "made"]
    assert document["totals"]["parts"] == 6
    assert [n for n, _, _ in events] == list(range(1, len(events) + 1))
    assert events[-1][1] == "done"


def test_events_go_on_after_the_last_one_seen(api, done):
    _, events, document = done
    middle = len(events) // 2
    where = document["links"]["events"]
    rest = events_of(api.get(where, headers={"Last-Event-ID": str(middle)}).text)
    assert rest == events[middle:]
    assert events_of(api.get(where, params={"after": middle}).text) == rest


def test_the_bundle_holds_every_file_as_it_is(api, done):
    _, _, document = done
    answer = api.get(document["links"]["zip"])
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        assert names == [f["path"] for f in document["files"]]
        one = next(f for f in document["files"] if f["path"] == "parts.csv")
        assert archive.read("parts.csv") == api.get(one["url"]).content
    assert any(n.startswith("programs/") for n in names)
    tag = answer.headers["etag"]
    assert api.get(document["links"]["zip"], headers={"If-None-Match": tag}).status_code == 304


def test_the_same_order_is_answered_from_store(api, done):
    again = api.post("/v1/orders", json=ORDER)
    assert (again.status_code, again.json()["id"]) == (200, done[2]["id"])


def test_a_dry_run_says_what_it_takes_and_stores_nothing(api):
    order = {**ORDER, "title": "Dry"}
    before = api.get("/v1/orders", params={"limit": 200}).json()["items"]
    found = api.post("/v1/orders", params={"dry_run": "true"}, json=order).json()
    assert found["dry_run"]
    assert found["copies"] == 3
    assert {m["thickness_mm"] for m in found["materials"]} == {3, 6}
    assert all(m["enough"] for m in found["materials"])
    assert found["quote"]["total"] > 0
    assert api.get("/v1/orders", params={"limit": 200}).json()["items"] == before


def test_a_table_is_refused_with_all_mistakes_and_nothing_is_stored(api):
    before = api.get("/v1/orders", params={"limit": 200}).json()["items"]
    table = "text;quantity;size\nKnot;0;30\nRuff;1;big\n"
    answer = api.post(
        "/v1/orders",
        params={"recipe": "rack-sign"},
        content=table.encode("utf-16"),
        headers={"Content-Type": "text/csv"},
    )
    problem = answer.json()
    assert (answer.status_code, problem["code"]) == (422, "order-not-accepted")
    found = [(m["line"], m["row"], m["column"], m["code"]) for m in problem["mistakes"]]
    assert found == [(1, 2, "quantity", "bad-quantity"), (2, 3, "size", "bad-length")]
    assert api.get("/v1/orders", params={"limit": 200}).json()["items"] == before


def test_what_the_font_lacks_is_refused_before_it_is_accepted(api):
    answer = api.post("/v1/orders", json={**ORDER, "lines": ["Knot", "千鳥"]})
    assert answer.status_code == 422
    (mistake,) = answer.json()["mistakes"]
    assert (mistake["line"], mistake["code"]) == (2, "glyph-missing")


def test_a_form_brings_recipe_and_table(api):
    form = {"order": json.dumps({k: v for k, v in ORDER.items() if k != "lines"})}
    files = {"lines": ("list.csv", "text\nDunlin\n".encode("cp1252"), "text/csv; charset=cp1252")}
    answer = api.post("/v1/orders", params={"dry_run": "true"}, data=form, files=files)
    assert (answer.status_code, answer.json()["lines"]) == (200, 1)


def test_an_order_can_be_cancelled_and_asked_for_again(api):
    slow = {**ORDER, "title": "Slow", "lines": [f"Sanderling {n}" for n in range(40)]}
    placed = api.post("/v1/orders", json=slow).json()
    cancelled = api.post(placed["links"]["cancel"]).json()
    assert cancelled["state"] == "cancelled"
    assert cancelled["problem"]["code"] == "order-cancelled"
    assert api.get(placed["links"]["zip"]).status_code == 409
    again = api.post("/v1/orders", json=slow).json()
    assert (again["id"], again["attempt"], again["state"]) == (placed["id"], 2, "queued")
    assert api.post(again["links"]["cancel"]).json()["state"] == "cancelled"
    kinds = [kind for _, kind, _ in events_of(api.get(placed["links"]["events"]).text)]
    assert kinds.count("accepted") == 2
    assert kinds.count("cancelled") == 2


def test_only_what_was_lost_can_be_asked_for_again(api, done):
    _, _, document = done
    answer = api.post(document["links"]["again"])
    assert (answer.status_code, answer.json()["code"]) == (409, "nothing-lost")
    slow = {**ORDER, "title": "Slower", "lines": [f"Turnstone {n}" for n in range(40)]}
    placed = api.post("/v1/orders", json=slow).json()
    answer = api.post(placed["links"]["again"])
    assert (answer.status_code, answer.json()["code"]) == (409, "order-unfinished")
    api.post(placed["links"]["cancel"])
    again = api.post(placed["links"]["again"])
    assert (again.status_code, again.json()["id"]) == (202, placed["id"])
    assert (again.json()["attempt"], again.json()["state"]) == (2, "queued")
    api.post(placed["links"]["cancel"])


def test_while_another_process_holds_the_database_the_answer_is_to_wait(tmp_path, run_service):
    """Both for the first order of a service, which makes tables of its own, and for later ones."""
    with (
        run_service(tmp_path, workers=1) as url,
        httpx.Client(base_url=url, timeout=120) as api,
    ):
        for title in ("Held up", "Held up again"):
            holder = sqlite3.connect(tmp_path / "data" / "index.sqlite", isolation_level=None)
            try:
                holder.execute("BEGIN IMMEDIATE")
                answer = api.post("/v1/orders", json={**ORDER, "title": title})
            finally:
                holder.close()
            assert (answer.status_code, answer.json()["code"]) == (503, "store-busy")
            assert answer.headers["retry-after"]
            later = api.post("/v1/orders", json={**ORDER, "title": title})
            assert later.status_code == 202
            api.post(later.json()["links"]["cancel"])


def test_who_asks_what_an_order_takes_finds_its_worker_up(tmp_path, run_service):
    def workers():
        with contextlib.closing(sqlite3.connect(tmp_path / "data" / "index.sqlite")) as index:
            return index.execute("SELECT count(*) FROM workers").fetchone()[0]

    with run_service(tmp_path, workers=1, preview_workers=0) as url:
        assert workers() == 0
        asked = httpx.post(f"{url}/v1/orders?dry_run=true", json=ORDER, timeout=120)
        assert asked.json()["dry_run"]
        wait_until(lambda: workers() == 1, 120)


@pytest.mark.parametrize("path", ["", ".zip", "/events", "/files/order.json"])
def test_an_order_that_is_not_there_is_named(api, path):
    answer = api.get(f"/v1/orders/{'0' * 32}{path}")
    assert (answer.status_code, answer.json()["code"]) == (404, "order-not-found")


def test_other_bodies_are_refused(api):
    answer = api.post("/v1/orders", content=b"x", headers={"Content-Type": "application/pdf"})
    assert answer.status_code == 415
