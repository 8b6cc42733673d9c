"""Webhooks over HTTP: registered, told of orders and replies, across a killed service."""

import re
from pathlib import Path

import httpx
import pytest

from api.hooks.receiving import receiving
from api.test_orders import ORDER
from boathouse import one_layer

README = Path(__file__).parents[2] / "README.md"
TAG = one_layer("Knot", {"kind": "plate", "margin": "8 mm"}, title="Knot tag")
SETTINGS = {
    "workers": 1,
    "preview_workers": 0,
    "wait_s": 240,
    "webhook_networks": '["127.0.0.0/8"]',
}


def test_a_webhook_is_registered_listed_and_removed(api):
    url = "https://1.1.1.1/orders"
    made = api.post("/v1/webhooks", json={"url": url, "events": ["order.done", "order.failed"]})
    assert made.status_code == 201
    secret = made.json()["secret"]
    assert re.fullmatch(r"whsec_[A-Za-z0-9+/]{43}=", secret)
    where = made.headers["location"]
    assert secret not in api.get(where).text + api.get("/v1/webhooks").text
    assert api.get(where).json()["events"] == ["order.done", "order.failed"]
    assert api.get(f"{where}/calls").json() == {"items": [], "next": None}
    assert api.delete(where).status_code == 204
    for gone in (api.get(where), api.delete(where), api.post(f"{where}/test")):
        assert (gone.status_code, gone.json()["code"]) == (404, "webhook-not-found")


@pytest.mark.parametrize(
    "url",
    ["http://127.0.0.1:9/", "https://localhost/", "https://[::1]/", "https://169.254.169.254/x",
     "https://[::ffff:10.0.0.1]/", "https://0/", "http://1.1.1.1/", "gopher://1.1.1.1/"],
)  # fmt: skip
def test_a_webhook_into_this_machine_or_its_neighbours_is_refused(api, url):
    answer = api.post("/v1/webhooks", json={"url": url})
    assert answer.status_code == 422
    assert (answer.json()["code"], answer.json()["field"]) == ("bad-webhook", "url")
    assert api.get("/v1/webhooks").json()["items"] == []


def test_orders_and_replies_are_told_and_what_waits_outlives_the_service(
    tmp_path, start_service, run_service
):
    process, url = start_service(tmp_path, **SETTINGS, webhook_retry_s=0.5)
    with receiving() as gone:
        pass
    try:
        with httpx.Client(base_url=url, timeout=120) as client:
            hook = client.post("/v1/webhooks", json={"url": gone.url}).json()
            order = client.post("/v1/orders", json=ORDER).json()
            client.get(order["links"]["events"])
            check = client.post("/v1/checks", json={"recipe": TAG}).json()
            asked = {"check": check["id"], "price": 40, "currency": "EUR"}
            offer = client.post("/v1/offers", json=asked).json()
            reply = {"kind": "wish", "name": "Ada", "text": "larger, please"}
            assert client.post(offer["link"], data=reply).status_code == 303
            (*_, first) = client.get(hook["links"]["calls"]).json()["items"]
            assert (first["type"], first["state"]) == ("order.done", "waiting")
    finally:
        process.kill()
        process.wait()
        process.stdin.close()
    with receiving(gone.port) as receiver, run_service(tmp_path, **SETTINGS) as url:
        arrived = receiver.wait(2)
        with httpx.Client(base_url=url, timeout=120) as client:
            client.delete(hook["links"]["self"])
    told = {t["type"]: t for t in map(checked, arrived, [hook["secret"]] * 9)}
    done, answered = told["order.done"], told["offer.replied"]
    assert (done["order"], done["state"], done["totals"]["parts"]) == (order["id"], "done", 6)
    assert done["links"] == {"order": order["links"]["self"]}
    assert (answered["offer"], answered["reply"]) == (offer["id"], "wish")
    assert "larger" not in str(answered)


def checked(call, secret):
    """Return what a call tells, read by the program that README gives to makers."""
    _, headers, body = call
    program = re.search(r"```python\n(import base64.*?)```", README.read_text(), re.DOTALL)[1]
    names = {}
    exec(program, names)
    with pytest.raises(ValueError, match="not signed"):
        names["event_of"](headers, body + b" ", secret)
    return names["event_of"](headers, body, secret)


def test_a_cancelled_order_is_told_as_cancelled(tmp_path, run_service):
    with (
        receiving() as receiver,
        run_service(tmp_path, **SETTINGS, order_worker="none") as url,
        httpx.Client(base_url=url, timeout=120) as client,
    ):
        hook = client.post("/v1/webhooks", json={"url": receiver.url}).json()
        order = client.post("/v1/orders", json=ORDER).json()
        assert client.post(order["links"]["cancel"]).status_code == 200
        assert client.post(hook["links"]["test"]).status_code == 202
        types = {checked(call, hook["secret"])["type"] for call in receiver.wait(2)}
    assert types == {"order.cancelled", "webhook.test"}
