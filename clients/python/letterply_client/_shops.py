"""What is said to the service about shops, and how its answers are read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from letterply_client._calls import Ask, Call, ask

__all__ = [
    "commit",
    "commits",
    "delete_shop",
    "measured",
    "put_shop",
    "shop",
    "shop_file",
    "use_shop",
]


def shop(name: str) -> Call[Mapping[str, Any]]:
    """Return a shop with all that is in it."""
    found: Mapping[str, Any] = (yield from ask(Ask("GET", _path(name)))).json()
    return found


def shop_file(name: str) -> Call[str]:
    """Return a shop as the TOML file that it is."""
    return (yield from ask(Ask("GET", f"{_path(name)}.toml"))).content.decode()


def put_shop(
    name: str, document: Mapping[str, Any] | bytes, version: str | None, *, toml: bool
) -> Call[Mapping[str, Any]]:
    """Store a shop, or replace it where it is at a version."""
    raw = document if isinstance(document, bytes) else json.dumps(dict(document)).encode()
    kind = "application/toml" if toml and isinstance(document, bytes) else "application/json"
    headers = {"Content-Type": kind, **({"If-Match": f'"{version}"'} if version else {})}
    answer = yield from ask(Ask("PUT", _path(name), headers, content=raw))
    found: Mapping[str, Any] = answer.json()
    return found


def measured(name: str, request: Mapping[str, Any]) -> Call[Mapping[str, Any]]:
    """Return what readings of a test piece change in a shop."""
    headers = {"Content-Type": "application/json"}
    body = json.dumps(dict(request), allow_nan=False).encode()
    answer = yield from ask(Ask("POST", f"{_path(name)}/measured", headers, content=body))
    found: Mapping[str, Any] = answer.json()
    return found


def commit(kind: str, id_: str, *, undo: bool) -> Call[Mapping[str, Any]]:
    """Take the sheets of an order or a plan out of its shop, or undo that."""
    where = f"/v1/{kind}s/{quote(id_, safe='')}/commit"
    answer = yield from ask(Ask("DELETE" if undo else "POST", where))
    found: Mapping[str, Any] = answer.json()
    return found


def commits(name: str) -> Call[tuple[Mapping[str, Any], ...]]:
    """Return what orders and plans took out of a shop and what came back, newest first."""
    found: list[Mapping[str, Any]] = []
    where: str | None = f"{_path(name)}/commits?limit=200"
    while where is not None:
        page = (yield from ask(Ask("GET", where))).json()
        found += page["items"]
        where = page["next"]
    return tuple(found)


def delete_shop(name: str) -> Call[None]:
    """Remove a shop."""
    yield from ask(Ask("DELETE", _path(name)))


def use_shop(name: str, *, use: bool) -> Call[None]:
    """Let a shop be the one of requests that name none, or no longer."""
    yield from ask(Ask("PUT" if use else "DELETE", f"{_path(name)}/default"))


def _path(name: str) -> str:
    return f"/v1/shops/{quote(name, safe='')}"
