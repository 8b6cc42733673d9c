"""Bodies of orders: JSON, a table, or a form with both; what was asked for out."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from fastapi import Depends, Request
from starlette.datastructures import UploadFile

from letterply.api.http.bodies import parse_object
from letterply.api.http.headers import read_media_type
from letterply.api.http.problems import HttpProblem
from letterply.errors import InputError
from letterply.units import read_whole

__all__ = ["OrderBody", "OrderInput"]

_TABLES = ("text/csv", "text/tab-separated-values", "application/vnd.ms-excel")
_IN_QUERY = ("title", "recipe", "marks", "revises", "search_s")


@dataclass(frozen=True, slots=True)
class OrderInput:
    """What came in.

    Attributes:
        request: the order as JSON values.
        table: its lines as a table, if they came as one.
        charset: encoding of the table, as declared.

    """

    request: Mapping[str, Any] = field(hash=False)
    table: bytes | None = None
    charset: str | None = None


async def _read_order(request: Request) -> OrderInput:
    given, parameters = read_media_type(request.headers.get("content-type", ""))
    if given == "application/json" or given.endswith("+json"):
        raw = await request.body()
        return OrderInput(await asyncio.to_thread(parse_object, raw))
    if given in _TABLES:
        return OrderInput(_query(request), await request.body(), parameters.get("charset"))
    if given == "multipart/form-data":
        return await _read_form(request)
    raise HttpProblem(
        f"A body of type {given or 'unknown'!r} is not taken here.",
        code="unsupported-media-type",
        expected="application/json, text/csv or multipart/form-data with order and lines",
    )


async def _read_form(request: Request) -> OrderInput:
    async with request.form(max_files=2, max_fields=8) as form:
        lines, wish = form.get("lines"), form.get("order")
        if not isinstance(lines, UploadFile):
            raise InputError(
                "The form has no table.",
                code="file-missing",
                field="lines",
                expected="a file called lines, and JSON called order",
            )
        table = await lines.read()
        charset = read_media_type(lines.content_type or "text/csv")[1].get("charset")
        raw = await wish.read() if isinstance(wish, UploadFile) else (wish or "{}").encode()
    found = await asyncio.to_thread(parse_object, raw)
    return OrderInput({**_query(request), **found}, table, charset)


def _query(request: Request) -> dict[str, Any]:
    """Return the members of an order that stand in the query."""
    found: dict[str, Any] = {}
    for name in _IN_QUERY:
        value = request.query_params.get(name)
        if value is None:
            continue
        whole = read_whole(value) if name == "search_s" else None
        found[name] = value if whole is None else whole
    return found


OrderBody = Annotated[OrderInput, Depends(_read_order)]
