"""What is said to the service about shops, and how its answers are read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from letterply_client._calls import Ask, Call, ask
from letterply_client._wishes import measured_request

__all__ = [
    "commit_order",
    "commit_plan",
    "commits",
    "delete_shop",
    "put_shop",
    "shop",
    "shop_file",
    "take_measured",
    "use_shop",
]


def shop(name: str) -> Call[Mapping[str, Any]]:
    """Return a shop: `shop` as it was written, its `version`, and what it comes to."""
    found: Mapping[str, Any] = (yield from ask(Ask("GET", _path(name)))).json()
    return found


def shop_file(name: str) -> Call[str]:
    """Return a shop as TOML, to be changed and stored again."""
    return (yield from ask(Ask("GET", f"{_path(name)}.toml"))).content.decode()


def put_shop(
    name: str,
    document: Mapping[str, Any] | bytes,
    *,
    version: str | None = None,
    toml: bool = True,
) -> Call[Mapping[str, Any]]:
    """Store a shop, or replace it.

    Args:
        name: of the shop.
        document: what is in it, or the bytes of a file: TOML, or JSON where `toml` is False.
        version: that it replaces (`InputProblem`, `shop-changed`, where it is at another one).
        toml: what bytes are.

    """
    raw = document if isinstance(document, bytes) else json.dumps(dict(document)).encode()
    kind = "application/toml" if toml and isinstance(document, bytes) else "application/json"
    headers = {"Content-Type": kind, **({"If-Match": f'"{version}"'} if version else {})}
    answer = yield from ask(Ask("PUT", _path(name), headers, content=raw))
    found: Mapping[str, Any] = answer.json()
    return found


def take_measured(
    shop: str,
    piece: str,
    readings: Mapping[str, float | str],
    *,
    units: str | None = None,
    resolution: float | str | None = None,
    zero: float | str | None = None,
    keep: bool = True,
) -> Call[Mapping[str, Any]]:
    """Return what readings of a test piece change in a shop, which keeps it.

    Args:
        shop: name of the shop.
        piece: id of the test piece.
        readings: name of a field of its sheet -> what was read.
        units: of bare numbers, `mm` or `inch`; those of its sheet without.
        resolution: the smallest step of the caliper or loupe.
        zero: how far z may have been off when it was zeroed.
        keep: False to be shown what would change.

    Raises:
        InputProblem: readings that cannot be, with every mistake.

    """
    asked = measured_request(piece, readings, units, resolution, zero, keep=keep)
    body = json.dumps(asked, allow_nan=False).encode()
    headers = {"Content-Type": "application/json"}
    answer = yield from ask(Ask("POST", f"{_path(shop)}/measured", headers, content=body))
    found: Mapping[str, Any] = answer.json()
    return found


def commit_order(order_id: str, *, undo: bool = False) -> Call[Mapping[str, Any]]:
    """Take the sheets of an order out of the stock of its shop; what is left comes back.

    Twice is the same as once.

    Args:
        order_id: of an order that is made.
        undo: to undo it instead, as long as what it left over is there.

    Raises:
        Problem: `stock-gone` where sheets are missing, `commit-built-on` where what was left
            over was used.

    """
    return _commit("order", order_id, undo=undo)


def commit_plan(plan_id: str, *, undo: bool = False) -> Call[Mapping[str, Any]]:
    """Take the sheets of a plan out of the stock of its shop; see `commit_order`."""
    return _commit("plan", plan_id, undo=undo)


def _commit(kind: str, id_: str, *, undo: bool) -> Call[Mapping[str, Any]]:
    """Take the sheets of an order or a plan out of its shop, or undo that."""
    where = f"/v1/{kind}s/{quote(id_, safe='')}/commit"
    answer = yield from ask(Ask("DELETE" if undo else "POST", where))
    found: Mapping[str, Any] = answer.json()
    return found


def commits(shop: str) -> Call[tuple[Mapping[str, Any], ...]]:
    """Return what orders and plans took out of a shop and what came back, newest first."""
    found: list[Mapping[str, Any]] = []
    where: str | None = f"{_path(shop)}/commits?limit=200"
    while where is not None:
        page = (yield from ask(Ask("GET", where))).json()
        found += page["items"]
        where = page["next"]
    return tuple(found)


def delete_shop(name: str) -> Call[None]:
    """Remove a shop; what was made in it still names its version."""
    yield from ask(Ask("DELETE", _path(name)))


def use_shop(name: str, *, use: bool = True) -> Call[None]:
    """Let a shop be the one of all requests that name none, or no longer."""
    yield from ask(Ask("PUT" if use else "DELETE", f"{_path(name)}/default"))


def _path(name: str) -> str:
    return f"/v1/shops/{quote(name, safe='')}"
