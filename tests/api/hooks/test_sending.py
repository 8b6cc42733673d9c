"""Calls as they arrive at a real receiver: signed, tried again, never led elsewhere."""

import asyncio
import contextlib
import json
import time
from ipaddress import ip_network

import pytest
from standardwebhooks import Webhook as Checker

from api.hooks.receiving import receiving
from letterply.api.hooks.sending import Sender
from letterply.storage import Webhooks, announce
from letterply.storage.store import Store

LOOPBACK = [ip_network("127.0.0.0/8")]


@pytest.fixture
def hooks(tmp_path):
    store = Store(tmp_path)
    yield Webhooks(store.database, "club")
    store.close()


def happen(hooks, **facts):
    hooks._database.write(lambda db: announce(db, ["club"], "order.done", facts))


def send(hooks, until, allowed=LOOPBACK, **more):
    """Run a sender until the states of the calls of all webhooks are these."""

    async def go():
        sending = asyncio.create_task(Sender(hooks, allowed, **more).run())
        deadline = time.monotonic() + 240
        while True:
            calls = [c for h in hooks.listed() for c in hooks.calls(h.id, limit=50)[0]]
            if until(calls):
                break
            assert time.monotonic() < deadline, calls
            await asyncio.sleep(0.02)
        sending.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await sending
        return calls

    return asyncio.run(go())


def delivered(calls):
    return all(c.state == "delivered" for c in calls)


def tried(calls):
    return all(c.said is not None for c in calls)


def test_what_arrives_is_signed_as_the_standard_has_it(hooks):
    """Checked with the standard's own reference library."""
    with receiving() as receiver:
        _, secret = hooks.add(receiver.url)
        happen(hooks, order="1" * 32, title="Möwe")
        (call,) = send(hooks, delivered, base_url="https://shop.example/")
    ((path, headers, body),) = receiver.got
    told = Checker(secret).verify(body, dict(headers))
    assert told == json.loads(body)
    assert (path, headers["webhook-id"], told["id"]) == ("/orders", call.event, call.event)
    assert (told["type"], told["title"]) == ("order.done", "Möwe")
    assert told["links"] == {"order": f"https://shop.example/v1/orders/{'1' * 32}"}
    with pytest.raises(Exception, match=r"[Nn]o matching signature"):
        Checker(secret).verify(body + b" ", dict(headers))


def test_what_is_answered_with_an_error_is_sent_again_under_the_same_id(hooks):
    with receiving() as receiver:
        receiver.answers += [500, 404]
        hooks.add(receiver.url)
        happen(hooks)
        (call,) = send(hooks, delivered, retry_s=0.01)
    assert (call.tries, call.status) == (3, 204)
    assert {headers["webhook-id"] for _, headers, _ in receiver.got} == {call.event}
    assert len({body for *_, body in receiver.got}) == 1


def test_what_nobody_took_is_sent_once_somebody_is_there_again(hooks):
    with receiving() as gone:
        port = gone.port
    hooks.add(gone.url)
    happen(hooks)
    (call,) = send(hooks, tried, retry_s=0.01)
    assert (call.state, call.status) == ("waiting", None)
    assert call.said.startswith("It could not be reached")
    with receiving(port) as receiver:
        send(hooks, delivered, retry_s=0.01)
    assert len(receiver.got) == 1


def test_a_redirect_is_not_followed(hooks):
    with receiving() as secret, receiving() as receiver:

        def elsewhere(handler):
            handler.send_response(307)
            handler.send_header("Location", secret.url)
            handler.send_header("Content-Length", "0")
            handler.end_headers()

        receiver.answers.append(elsewhere)
        hooks.add(receiver.url)
        happen(hooks)
        (call,) = send(hooks, tried)
    assert (call.status, secret.got) == (307, [])


def test_an_answer_without_end_holds_nothing_up(hooks):
    def dripping(handler):
        with contextlib.suppress(OSError):
            for _ in range(500):
                handler.wfile.write(b"x")
                time.sleep(0.02)

    with receiving() as slow, receiving() as receiver:
        slow.answers.append(dripping)
        hooks.add(slow.url)
        hooks.add(receiver.url)
        happen(hooks)
        calls = send(hooks, lambda calls: all(c.status or c.said for c in calls), limit_s=0.5)
    assert sorted(c.state for c in calls) == ["delivered", "waiting"]


def test_what_may_not_be_reached_is_not_called_whatever_was_registered(hooks):
    """A name that stood for a public address when it was registered, and does no longer."""
    with receiving() as receiver:
        hooks.add(receiver.url)
        hooks.add(f"https://localhost:{receiver.port}/")
        happen(hooks)
        calls = send(hooks, tried, allowed=[])
    assert receiver.got == []
    assert all("webhooks may go to" in c.said for c in calls)
