"""Offers for the maker: made of what can be made, priced, listed, taken back, on the job sheet."""

import copy
import io
import re
import zipfile

import httpx
import pypdfium2
import pytest

from api.conftest import result_of
from api.test_orders import ORDER
from boathouse import changed, locker_tag, one_layer

TAG = one_layer("Knot", {"kind": "plate", "margin": "8 mm"}, title="Knot tag")
LOOSE = one_layer(
    "O", {"kind": "plate", "margin": "8 mm"}, {"kind": "through_lettering"}, title="Stencil"
)


def words_of(pdf):
    """Return the text of a document, page by page."""
    with pypdfium2.PdfDocument(pdf) as document:
        return [page.get_textpage().get_text_range() for page in document]


@pytest.fixture(scope="module")
def check(service_url):
    with httpx.Client(base_url=service_url, timeout=120) as client:
        return result_of(client, "/v1/checks", {"recipe": TAG})


@pytest.fixture(scope="module")
def order(service_url):
    with httpx.Client(base_url=service_url, timeout=120) as client:
        first = client.post("/v1/orders", json={**ORDER, "title": "Offered tags"}).json()
        client.get(first["links"]["events"])
        return client.get(first["links"]["self"]).json()


@pytest.fixture
def offer(api, check):
    body = {"check": check["id"], "price": 40, "currency": "EUR"}
    return api.post("/v1/offers", json=body).json()


def test_an_offer_freezes_what_was_checked(api, check, offer):
    assert offer["title"] == "Knot tag"
    assert offer["source"] == {"kind": "check", "id": check["id"]}
    assert offer["version"] == check["recipe_version"] == offer["pieces"][0]["version"]
    assert offer["pieces"][0]["materials"] == ["MDF, 6 mm"]
    assert (offer["state"], offer["price"], offer["currency"]) == ("open", 40, "EUR")
    found = api.get(offer["links"]["self"]).json()
    assert found == {k: v for k, v in offer.items() if k not in ("link", "link_reaches")}


def test_the_link_is_told_once_and_by_nothing_else(api, room, offer):
    token = re.fullmatch(r"http://.*/offer/([\w-]{32})/", offer["link"])[1]
    assert offer["link_reaches"] == "machine"
    for path in (offer["links"]["self"], "/v1/offers", offer["links"]["source"]):
        assert token not in api.get(path).text
    api.get(offer["link"])
    kept = b"".join(file.read_bytes() for file in room.rglob("*") if file.is_file())
    assert offer["id"].encode() in kept
    assert token.encode() not in kept  # neither in the database nor in the log


def test_a_dry_run_says_what_would_be_offered_and_keeps_nothing(api, check):
    body = {"check": check["id"], "price": 1, "title": "Only a try"}
    found = api.post("/v1/offers?dry_run=true", json=body)
    assert (found.status_code, found.json()["title"]) == (200, "Only a try")
    assert "link" not in found.json()
    assert api.get(f"/v1/offers/{found.json()['id']}").json()["code"] == "offer-not-found"


@pytest.mark.parametrize("by", ["checks", "jobs"])
def test_what_a_customer_is_shown_is_not_deleted(api, by):
    recipe = {**TAG, "title": f"Held by an offer, {by}"}
    check = result_of(api, "/v1/checks", {"recipe": recipe})
    made = api.post("/v1/offers", json={"check": check["id"], "price": 40}).json()
    refused = api.delete(f"/v1/{by}/{check['id']}")
    told = refused.json()
    assert (refused.status_code, told["code"]) == (409, "offer-open")
    assert told["offers"] == [made["id"]]
    assert made["id"] in told["detail"]
    assert api.get(made["link"]).status_code == 200
    api.post(f"/v1/offers/{made['id']}/withdraw")
    assert api.delete(f"/v1/{by}/{check['id']}").status_code == 204
    assert api.get(made["links"]["self"]).status_code == 404


def test_the_price_of_a_plan_is_that_of_an_order_of_it(api):
    recipe = {**locker_tag(), "hand_minutes": 30}
    shop = {"hold_down": "tape"}
    plan = api.post("/v1/plans", json={"recipe": recipe, "shop": shop}, timeout=120).json()
    found = api.post("/v1/offers", json={"plan": plan["id"]})
    assert found.status_code == 201, found.text
    line = {"text": "27", "recipe": "tag"}
    same = {"recipes": {"tag": recipe}, "lines": [line], "shop": shop}
    quote = api.post("/v1/orders?dry_run=true", json=same, timeout=120).json()["quote"]
    assert found.json()["price"] == pytest.approx(quote["total"], abs=0.02)
    assert found.json()["currency"] == quote["currency"]
    rules = {"currency": "GBP", "hand_hour": 76.0}
    dearer = api.post("/v1/offers", json={"plan": plan["id"], "prices": rules}).json()
    assert dearer["price"] == pytest.approx(quote["total"] + 19, abs=0.02)  # 38 more an hour
    assert dearer["currency"] == "GBP"


def test_what_cannot_be_made_is_not_offered(api):
    check = api.post("/v1/checks", json={"recipe": LOOSE}).json()
    assert not check["ready"]
    found = api.post("/v1/offers", json={"check": check["id"], "price": 40})
    assert (found.status_code, found.json()["code"]) == (409, "offer-not-ready")


def test_a_repaired_check_is_offered_as_it_was_repaired(api):
    check = api.post("/v1/checks", json={"recipe": LOOSE, "repair": True}).json()
    assert check["ready"]
    file = next(f for f in check["files"] if f["path"] == "repaired_recipe.json")
    found = api.post("/v1/offers", json={"check": check["id"], "price": 40}).json()
    again = api.post("/v1/stacks", json={"recipe": api.get(file["url"]).json()}).json()
    plain = api.post("/v1/stacks", json={"recipe": LOOSE}).json()
    assert found["version"] == again["recipe_version"] != plain["recipe_version"]


@pytest.mark.parametrize(
    ("more", "code", "field"),
    [
        ({}, "missing-field", "price"),
        ({"price": -1}, "out-of-range", "price"),
        ({"price": "40"}, "bad-value", "price"),
        ({"price": 40, "days": 0}, "out-of-range", "days"),
        ({"price": 40, "days": 91}, "out-of-range", "days"),
        ({"price": 40, "title": "Kn\u202eot"}, "bad-value", "title"),
        ({"price": 40, "title": ""}, "empty-value", "title"),
        ({"price": 40, "note": "n" * 1001}, "too-long", "note"),
        ({"price": 40, "lines": [1]}, "bad-value", "lines"),
        ({"currency": "EUR"}, "missing-field", "price"),
        ({"price": 40, "prices": {}}, "bad-value", "prices"),
        ({"price": 40, "plan": "a" * 32}, "bad-request", None),
        ({"price": 40, "token": "mine"}, "unknown-field", "token"),
    ],
)
def test_mistakes_are_named(api, check, more, code, field):
    found = api.post("/v1/offers", json={"check": check["id"], **more})
    assert (found.status_code, found.json()["code"]) == (422, code), found.text
    assert found.json().get("field") == field


def test_nothing_is_offered_that_is_not_there(api, check):
    for body in ({"check": "a" * 32}, {"plan": check["id"]}, {"order": "a" * 32}):
        assert api.post("/v1/offers", json={**body, "price": 1}).status_code == 404
    assert api.get("/v1/offers/none").json()["code"] == "offer-not-found"
    assert api.get("/v1/offers/none.pdf").status_code == 404


def test_offers_are_listed_by_what_they_are_of(api, check, offer):
    other = api.post("/v1/offers", json={"check": check["id"], "price": 2}).json()
    first = api.get("/v1/offers", params={"of": check["id"], "limit": 1}).json()
    assert [o["id"] for o in first["items"]] == [other["id"]]
    second = api.get(first["next"]).json()
    assert [o["id"] for o in second["items"]] == [offer["id"]]
    of = api.get("/v1/offers", params={"version": offer["version"]}).json()["items"]
    assert {offer["id"], other["id"]} <= {o["id"] for o in of}
    assert api.get("/v1/offers", params={"version": "f" * 32}).json()["items"] == []


def test_an_offer_that_is_taken_back_shows_nothing(api, offer):
    assert api.post(offer["links"]["withdraw"]).json()["state"] == "withdrawn"
    assert api.post(offer["links"]["withdraw"]).status_code == 200
    for part in ("", "picture-1.png", "offer.pdf"):
        found = api.get(offer["link"] + part)
        assert found.status_code == 410
        assert "taken this offer back" in found.text
        assert "Knot" not in found.text
    assert api.post(offer["link"], data={"kind": "yes", "name": "Ada"}).status_code == 410


def test_the_paper_says_what_the_page_says_and_no_technical_detail(api, offer):
    paper = api.get(offer["links"]["pdf"])
    assert paper.headers["content-type"] == "application/pdf"
    assert 'filename="Knot-tag.pdf"' in paper.headers["content-disposition"]
    (page,) = words_of(paper.content)
    for said in ("Knot tag", "MDF, 6 mm", "40.00 EUR", offer["version"][:8]):
        assert said in page
    for technical in ("cutter", "program", "minute", "machine", "finding", "tab "):
        assert technical not in page.lower()


def test_an_order_is_offered_whole_at_its_quote_or_by_lines(api, order):
    whole = api.post("/v1/offers", json={"order": order["id"]}).json()
    assert whole["price"] == order["quote"]["total"]
    assert [(p["title"], p["quantity"]) for p in whole["pieces"]] == [
        ("Knot tag", 1),
        ("Ruff tag", 2),
    ]
    assert api.get(whole["link"] + "picture-2.png").content[:4] == b"\x89PNG"
    assert api.get(whole["link"] + "picture-3.png").status_code == 404
    assert len(words_of(api.get(whole["links"]["pdf"]).content)) >= 1
    one = api.post("/v1/offers", json={"order": order["id"], "lines": [2], "price": 9}).json()
    assert [(p["line"], p["title"]) for p in one["pieces"]] == [(2, "Ruff tag")]
    assert one["title"] == "Ruff tag"
    missing = api.post("/v1/offers", json={"order": order["id"], "lines": [2, 7], "price": 9})
    assert missing.json()["code"] == "unknown-line"
    cheap = api.post("/v1/offers", json={"order": order["id"], "lines": [2]})
    assert (cheap.json()["code"], cheap.json()["field"]) == ("missing-field", "price")


def test_replies_are_on_the_job_sheet_and_a_later_order_says_what_it_has_changed(api, order):
    where = f"/v1/orders/{order['id']}/files/job-sheet.pdf"
    plain = api.get(where)
    assert plain.headers["cache-control"] == "private, no-cache"
    bundle = api.get(order["links"]["zip"])
    made = api.post("/v1/offers", json={"order": order["id"], "lines": [1], "price": 9}).json()
    assert api.get(where).content == plain.content  # nothing was said yet
    name = "<b>Ада</b> &amp; 'Plover'"
    wish = {"kind": "wish", "name": name, "text": "<script>alert(1)</script>\n" + "w" * 300}
    assert api.post(made["link"], data=wish).status_code == 303
    assert api.post(made["link"], data={"kind": "yes", "name": "Ada Plover"}).status_code == 303
    told = api.get(where)
    pages = words_of(told.content)
    assert len(pages) == len(words_of(plain.content)) + 1
    assert "Yes from Ada Plover" in pages[0]
    assert f"See page {len(pages)}" in pages[0]
    assert "<script>alert(1)</script>" in pages[-1]
    assert made["version"][:8] in pages[-1]
    assert f"page {len(pages)}" in pages[-1]
    assert api.get(where).content == told.content  # same replies, same bytes
    assert told.headers["etag"] != plain.headers["etag"]
    known = api.get(where, headers={"If-None-Match": told.headers["etag"]})
    assert known.status_code == 304
    again = api.get(order["links"]["zip"], headers={"If-None-Match": bundle.headers["etag"]})
    assert again.status_code == 200
    with zipfile.ZipFile(io.BytesIO(again.content)) as archive:
        assert archive.read("job-sheet.pdf") == told.content
    (latest, *_) = api.get(order["links"]["offers"]).json()["items"]
    assert [r["kind"] for r in latest["replies"]] == ["wish", "yes"]
    assert (latest["id"], latest["current"]) == (made["id"], True)
    told_of_the_order_that_revises_it(api, order)


def told_of_the_order_that_revises_it(api, order):
    whole = api.post("/v1/offers", json={"order": order["id"]}).json()
    api.post(whole["link"], data={"kind": "yes", "name": "Ada"})
    revised = copy.deepcopy(ORDER) | {"revises": order["id"], "title": "Tags again"}
    revised["lines"][1] = {"text": "Sora", "quantity": 2}
    first = api.post("/v1/orders", json=revised).json()
    api.get(first["links"]["events"], timeout=120)
    found = {o["id"]: o for o in api.get(first["links"]["offers"]).json()["items"]}
    assert (found[whole["id"]]["current"], found[whole["id"]]["changed"]) == (False, ["Ruff tag"])
    assert sum(o["current"] for o in found.values() if o["replies"]) == 1  # that of line 1 alone
    sheet = words_of(api.get(f"/v1/orders/{first['id']}/files/job-sheet.pdf").content)
    assert "The customer has replied." in sheet[0]
    assert sheet[-1].count("Changed since it was shown") == 1
    assert "of the order that this one revises" in sheet[-1]


def test_a_changed_recipe_has_another_version_than_the_yes(api, offer):
    api.post(offer["link"], data={"kind": "yes", "name": "Ada"})
    other = changed(TAG, layers__0__thickness="9 mm")
    now = api.post("/v1/stacks", json={"recipe": other}).json()["recipe_version"]
    found = api.get(offer["links"]["self"]).json()
    assert found["state"] == "agreed"
    assert found["replies"][0]["version"] == offer["version"] != now
    refused = api.post(offer["links"]["withdraw"])
    assert (refused.status_code, refused.json()["code"]) == (409, "offer-agreed")
