"""Shops as bodies: TOML or JSON in, the decoded document and its text out, or a problem."""

from __future__ import annotations

import asyncio
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Request

from letterply.api.http.bodies import parse_object
from letterply.api.http.headers import read_media_type
from letterply.api.http.negotiation import tag_matches
from letterply.api.http.problems import HttpProblem
from letterply.errors import Conflict

__all__ = ["GivenShop", "ShopBody", "shop_body", "unless_changed"]

_TOML = ("application/toml", "text/toml", "text/x-toml")


@dataclass(frozen=True, slots=True)
class GivenShop:
    """A shop as it came.

    Attributes:
        name: that stands in it, or None.
        document: the rest of it, decoded.
        text: of which it was decoded.
        toml: whether that is TOML, else JSON.

    """

    name: str | None
    document: dict[str, Any]
    text: str
    toml: bool


async def _read_shop(request: Request) -> GivenShop:
    given = read_media_type(request.headers.get("content-type", ""))[0]
    toml = given in _TOML
    if not toml and given != "application/json" and not given.endswith("+json"):
        raise HttpProblem(
            f"A body of type {given or 'unknown'!r} is not taken here.",
            code="unsupported-media-type",
            expected="application/json or application/toml",
        )
    raw = await request.body()
    return await asyncio.to_thread(_decoded, raw, toml)


def _decoded(raw: bytes, toml: bool) -> GivenShop:
    document = _parse_toml(raw) if toml else parse_object(raw)
    name = document.get("name")
    if isinstance(name, str):
        document = {k: v for k, v in document.items() if k != "name"}
    return GivenShop(
        name if isinstance(name, str) else None, document, raw.decode("utf-8-sig"), toml
    )


def _parse_toml(raw: bytes) -> dict[str, Any]:
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError) as exc:
        raise HttpProblem(
            f"The body is not TOML: {exc}.", code="malformed-toml", expected="TOML 1.0, UTF-8"
        ) from exc


def unless_changed(if_match: str | None, if_none_match: str | None) -> Callable[[str | None], None]:
    """Return what refuses to replace a version that the client does not mean."""

    def may(version: str | None) -> None:
        if version is not None and tag_matches(if_none_match, f'"{version}"'):
            raise Conflict(
                "There is a shop of this name already.",
                code="shop-exists",
                expected="another name, or to replace it (PUT)",
            )
        if if_match is None:
            return
        if version is None or not tag_matches(if_match, f'"{version}"'):
            raise Conflict(
                "The shop has changed since you read it.",
                code="shop-changed",
                expected="the ETag of the shop as it is now",
            )

    return may


def shop_body() -> dict[str, Any]:
    """Return how OpenAPI describes the body."""
    schema = {"$ref": "#/components/schemas/ShopDocument"}
    content = {"application/json": {"schema": schema}, "application/toml": {"schema": schema}}
    return {"requestBody": {"required": True, "content": content}}


ShopBody = Annotated[GivenShop, Depends(_read_shop)]
