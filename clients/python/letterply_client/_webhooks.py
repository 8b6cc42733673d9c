"""What is said to the service about webhooks, and how its answers are read."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import quote

from letterply_client._calls import Ask, Call, ask

__all__ = ["add_webhook", "remove_webhook", "try_webhook", "webhook_calls", "webhooks"]

_WHERE = "/v1/webhooks"


def webhooks() -> Call[tuple[Mapping[str, Any], ...]]:
    """Return the addresses that are told what happens."""
    return tuple((yield from ask(Ask("GET", _WHERE))).json()["items"])


def add_webhook(url: str, events: Iterable[str] | None = None) -> Call[Mapping[str, Any]]:
    """Register an address; what comes back has the `secret` that its calls are signed with.

    Args:
        url: where to send it.
        events: some of `order.done`, `order.failed`, `order.cancelled`, `offer.replied`.

    """
    wishes = {} if events is None else {"events": list(events)}
    body = json.dumps({"url": url, **wishes}).encode()
    headers = {"Content-Type": "application/json"}
    answer = yield from ask(Ask("POST", _WHERE, headers, content=body, once=True))
    found: Mapping[str, Any] = answer.json()
    return found


def remove_webhook(id: str) -> Call[None]:
    """Forget an address."""
    yield from ask(Ask("DELETE", _path(id)))


def try_webhook(id: str) -> Call[str]:
    """Have an address told that this is a test; return the id of the event."""
    answer = yield from ask(Ask("POST", f"{_path(id)}/test", once=True))
    return str(answer.json()["event"])


def webhook_calls(id: str) -> Call[tuple[Mapping[str, Any], ...]]:
    """Return what became of telling an address, newest first."""
    found: list[Mapping[str, Any]] = []
    path: str | None = f"{_path(id)}/calls?limit=200"
    while path is not None:
        page = (yield from ask(Ask("GET", path))).json()
        found += page["items"]
        path = page["next"]
    return tuple(found)


def _path(id: str) -> str:
    return f"{_WHERE}/{quote(id, safe='')}"
