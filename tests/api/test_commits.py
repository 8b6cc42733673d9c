"""Stock over HTTP: a plan and an order take their sheets, what is left is used next."""

import httpx
import pytest

from orders.pipeline.small import PLAIN

SHOP = {
    "stock": [{"key": "board", "material": "mdf", "thickness": 6, "width": 300, "height": 200,
               "count": 2}],
    "least_offcut": 60,
}  # fmt: skip
PLATE = {
    "title": "Plate",
    "layers": [{"name": "plate", "material": "mdf", "thickness": "6 mm",
                "outline": {"kind": "plate", "width": "60 mm", "height": "40 mm"}}],
}  # fmt: skip


@pytest.fixture
def shop(api):
    api.put("/v1/shops/rack", json=SHOP)
    yield "rack"
    api.delete("/v1/shops/rack")


def plan_of(api, shop):
    made = api.post("/v1/plans", json={"recipe": PLATE, "shop": shop})
    assert made.status_code in (200, 201), made.text
    return made.json()


def test_a_plan_takes_its_sheet_and_the_next_one_lies_on_what_is_left(api, shop):
    first = plan_of(api, shop)
    where = f"/v1/plans/{first['id']}/commit"
    moved = api.post(where)
    assert moved.status_code == 200, moved.text
    assert moved.json()["taken"] == [{"key": "board", "count": 1, "left": 1}]
    assert api.post(where).json() == moved.json()
    (left,) = moved.json()["added"]
    assert left["holes"] == 1
    for suffix, start in (("svg", b"<?xml"), ("png", b"\x89PNG"), ("dxf", b"  0")):
        drawn = api.get(left["links"][suffix])
        assert drawn.content.startswith(start)
    second = plan_of(api, shop)
    (sheet,) = second["sheets"]
    assert sheet["stock"]["key"] == left["key"]
    assert len(sheet["stock"]["outline_mm"]) == 2
    assert second["ready"], second["summary"]
    assert api.post(f"/v1/plans/{second['id']}/commit").status_code == 200
    built_on = api.delete(where)
    assert (built_on.status_code, built_on.json()["code"]) == (409, "commit-built-on")
    assert built_on.json()["used_by"] == [{"kind": "plan", "id": second["id"]}]
    page = api.get("/v1/shops/rack/commits", params={"limit": 1}).json()
    assert [c["id"] for c in page["items"]] == [second["id"]]
    assert [c["id"] for c in api.get(page["next"]).json()["items"]] == [first["id"]]
    assert api.delete(f"/v1/plans/{second['id']}/commit").json()["undone_at"]
    assert api.delete(where).json()["undone_at"]
    assert api.delete(where).json()["code"] == "commit-not-found"
    assert api.get("/v1/shops/rack").json()["shop"]["stock"] == SHOP["stock"]


def test_a_sheet_that_was_taken_meanwhile_is_told(api, shop):
    plan = plan_of(api, shop)
    api.put("/v1/shops/rack", json={**SHOP, "stock": [{**SHOP["stock"][0], "count": 0}]})
    told = api.post(f"/v1/plans/{plan['id']}/commit")
    assert (told.status_code, told.json()["code"]) == (409, "stock-gone")
    assert told.json()["missing"] == [{"key": "board", "wanted": 1, "there": 0}]
    assert "plan it again" in told.json()["expected"]


def test_what_was_made_without_a_shop_and_what_is_not_there_take_nothing(api):
    plan = api.post("/v1/plans", json={"recipe": PLATE}).json()
    assert api.post(f"/v1/plans/{plan['id']}/commit").json()["code"] == "no-stored-shop"
    nothing = "f" * 32
    assert api.post(f"/v1/plans/{nothing}/commit").status_code == 404
    assert api.post(f"/v1/orders/{nothing}/commit").status_code == 404
    assert api.get("/v1/shops/nowhere/commits").status_code == 404


def test_an_order_is_committed_once_and_undone(api, shop, service_url):
    small = {**PLAIN, "layers": [{**PLAIN["layers"][0], "material": "mdf", "thickness": "6 mm"}]}
    order = {"title": "Tags", "recipe": "tag", "recipes": {"tag": small}, "shop": shop,
             "lines": [{"text": "Knot"}]}  # fmt: skip
    with httpx.Client(base_url=service_url, timeout=120) as client:
        placed = client.post("/v1/orders", json=order).json()
        client.get(placed["links"]["events"])
        made = client.get(placed["links"]["self"]).json()
    assert made["state"] == "done", made
    where = f"/v1/orders/{made['id']}/commit"
    moved = api.post(where)
    assert moved.status_code == 200, moved.text
    assert moved.json()["kind"] == "order"
    assert api.post(where).json() == moved.json()
    assert api.delete(where).json()["undone_at"]
    assert api.get("/v1/shops/rack").json()["shop"]["stock"] == SHOP["stock"]
