"""What is said to the service about orders, and how its answers are read."""

from __future__ import annotations

import json
import time
import uuid
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypedDict, Unpack

from letterply_client._calls import Ask, Call, ask
from letterply_client._errors import TimedOut, problem_from
from letterply_client._making import result_of
from letterply_client._means import ORDER_LIMIT_S
from letterply_client._results import Progress, Result

__all__ = ["OrderWishes", "cancel_order", "estimate_order", "order", "order_again"]

_OPEN = ("queued", "running")


class OrderWishes(TypedDict, total=False):
    """How an order is to be made.

    Attributes:
        title: what it is called.
        recipe: name of the recipe of lines that name none.
        recipes: recipes of your own, by name.
        shop: name of a stored one, or machine, cutters, stock, hold-down.
        marks: `drawn`, or `scribed` also on hidden faces.
        search_s: seconds for tighter layouts.
        prices: price rules in place of the house's own.
        revises: id of an earlier order whose sheets are kept as far as they hold.

    """

    title: str | None
    recipe: str | None
    recipes: Mapping[str, Any] | None
    shop: Mapping[str, Any] | str | None
    marks: str | None
    search_s: int | None
    prices: Mapping[str, Any] | None
    revises: str | None


def order(
    lines: Iterable[Mapping[str, Any] | str] | bytes,
    *,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = ORDER_LIMIT_S,
    key: str | None = None,
    **wishes: Unpack[OrderWishes],
) -> Call[Result]:
    """Have many lines made at once: all of it vetted first, all sheets shared.

    Args:
        lines: texts, or mappings with `text`, `recipe`, `quantity`, `font`, `size`,
            `material`, `reference`; or the bytes of a table (CSV) with these columns.
        progress: told how far it is, about once a second.
        limit_s: give up waiting after so long; the order goes on.
        key: idempotency key.
        wishes: how it is to be made, see `OrderWishes`.

    """
    wish = _placed(lines, wishes, key)
    return _wait(wish, progress=progress, limit_s=limit_s)


def order_again(
    id: str,
    *,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = ORDER_LIMIT_S,
) -> Call[Result]:
    """Have made what the service lost of an order (time, memory, a crash).

    Returns a new order with the lines that were lost; sheets that were made stay as they are.

    Args:
        id: of the order.
        progress: told how far it is, about once a second.
        limit_s: give up waiting after so long; the order goes on.

    """
    wish = Ask("POST", f"/v1/orders/{id}/again")
    return _wait(wish, progress=progress, limit_s=limit_s)


def _wait(
    asked: Ask, *, progress: Callable[[Progress], None] | None, limit_s: float
) -> Call[Result]:
    """Ask for an order and wait until it is made."""
    began = time.monotonic()

    def tell(document: Mapping[str, Any]) -> None:
        if progress is None:
            return
        told = document.get("progress") or {}
        progress(
            Progress(
                document.get("phase") or document["state"],
                time.monotonic() - began,
                share=told.get("share"),
                remaining_s=told.get("remaining_s"),
            )
        )

    answer = yield from ask(asked)
    document = answer.json()
    where = document["links"]["self"]
    while document["state"] in _OPEN:
        tell(document)
        if time.monotonic() - began > limit_s:
            raise TimedOut(f"The order was not finished within {limit_s:g} s; it goes on: {where}")
        answer = yield from ask(Ask("GET", where, {"Prefer": "wait=1"}))
        document = answer.json()
    if document["state"] != "done":
        raise problem_from(document["problem"], document["problem"]["status"])
    if "files" not in document:  # it was there already
        answer = yield from ask(Ask("GET", where))
        document = answer.json()
    tell(document)
    return result_of(answer)


def estimate_order(
    lines: Iterable[Mapping[str, Any] | str] | bytes,
    **wishes: Unpack[OrderWishes],
) -> Call[Mapping[str, Any]]:
    """Return what an order would make, take and cost; nothing is made or stored."""
    wish = _placed(lines, wishes, None)
    asked = Ask(wish.method, wish.path, wish.headers, {"dry_run": "true"}, wish.content)
    found: dict[str, Any] = (yield from ask(asked)).json()
    return found


def cancel_order(id: str) -> Call[Mapping[str, Any]]:
    """Cancel an order; return where it stands."""
    found: dict[str, Any] = (yield from ask(Ask("POST", f"/v1/orders/{id}/cancel"))).json()
    return found


def _placed(lines: Iterable[Any] | bytes, wishes: OrderWishes, key: str | None) -> Ask:
    """Return the request that places an order."""
    order: dict[str, Any] = {k: v for k, v in wishes.items() if v is not None}
    headers: dict[str, str] = {}
    if key is not None:
        headers["Idempotency-Key"] = f'"{key}"'
    if isinstance(lines, bytes):
        kind, body = _form(order, lines)
        return Ask("POST", "/v1/orders", {**headers, "Content-Type": kind}, content=body)
    order["lines"] = [dict(x) if isinstance(x, Mapping) else x for x in lines]
    body = json.dumps(order, allow_nan=False).encode()
    return Ask("POST", "/v1/orders", {**headers, "Content-Type": "application/json"}, content=body)


def _form(order: Mapping[str, Any], table: bytes) -> tuple[str, bytes]:
    """Return a form with an order and a table (RFC 7578): its type and its bytes."""
    border = uuid.uuid4().hex
    parts = (
        ('name="order"', "application/json", json.dumps(order, allow_nan=False).encode()),
        ('name="lines"; filename="lines.csv"', "text/csv", table),
    )
    body = b""
    for name, kind, data in parts:
        head = f"--{border}\r\nContent-Disposition: form-data; {name}\r\nContent-Type: {kind}"
        body += head.encode() + b"\r\n\r\n" + data + b"\r\n"
    return f"multipart/form-data; boundary={border}", body + f"--{border}--\r\n".encode()
