"""shops: machine, cutters, sheets, habits and prices of makers' own."""

from __future__ import annotations

import asyncio
from typing import Annotated

import tomli_w
from fastapi import APIRouter, Depends, Header, Query, Request, Response

from letterply.api.dependencies import JobServiceOf, PageOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import tag_matches
from letterply.api.http.shop_bodies import ShopBody, shop_body, unless_changed
from letterply.api.responses.describing import NOT_MODIFIED, body_of, problems
from letterply.api.responses.lists import next_link
from letterply.api.responses.results import json_response
from letterply.api.responses.shops import shop_document, shop_entry, without_nothing
from letterply.api.schemas import CommitPage, MeasuredDocument, ShopPage, StoredShop
from letterply.errors import InputError, NotFound
from letterply.exports import stock_dxf, stock_png, stock_svg
from letterply.jobs import Committing, Shops, take_measured
from letterply.requests import MeasuredRequest
from letterply.storage import ShopRecord
from letterply.units import speaking

__all__ = ["router"]

router = APIRouter(prefix="/v1/shops", tags=["shops"])

_DRAWINGS = {"svg": "image/svg+xml", "dxf": "image/vnd.dxf", "png": "image/png"}

_IfMatch = Annotated[
    str | None,
    Header(description="The `ETag` of what is to be replaced; otherwise it stays as it is."),
]
_IfNoneMatch = Annotated[str | None, Header(description="`*`: only where there is none yet.")]


def _known(job_service: JobServiceOf, name: str) -> str:
    """Return the name of a shop that is there: who may not see it hears nothing of the body."""
    return job_service.shops.shelf.find(name).name


_Known = Annotated[str, Depends(_known)]
_Version = Annotated[
    str | None, Query(pattern="^[0-9a-f]{32}$", description="One that the shop has had.")
]


@router.get("", response_model=ShopPage)
def list_shops(job_service: JobServiceOf, page: PageOf) -> Response:
    """List the shops, by name."""
    found, more = job_service.shops.shelf.page(limit=page.limit, after=page.after)
    items = [shop_entry(shop) for shop in found]
    after = next_link("/v1/shops", page, found[-1].name) if more else None
    return json_response({"items": items, "next": after})


@router.post(
    "",
    status_code=201,
    responses={201: {"model": StoredShop}, **problems(400, 409, 413, 415, 422)},
    openapi_extra=shop_body(),
)
async def add_shop(job_service: JobServiceOf, body: ShopBody) -> Response:
    """Store a shop under the `name` in it; every mistake comes at once, with field and line."""
    if body.name is None:
        raise InputError(
            "The shop has no name.",
            code="missing-field",
            field="name",
            expected="a name of lower-case letters, digits and hyphens",
        )
    return await _put(job_service.shops, body.name, body, None, "*")


@router.get(
    "/{name}.{suffix}",
    responses={200: {"content": {"application/toml": {}}, "description": "As it was written."},
               **problems(404)},
    response_class=Response,
)  # fmt: skip
def get_shop_as(job_service: JobServiceOf, name: str, suffix: str) -> Response:
    """Return a shop by suffix: `.toml`, the file that it is, to be changed and put again."""
    if suffix != "toml":
        raise NotFound("file", f"{name}.{suffix}")
    shops = job_service.shops
    record = shops.shelf.find(name)
    text = tomli_w.dumps(without_nothing(shops.written(record)), multiline_strings=False)
    headers = {"ETag": _tag(record)}
    return Response(text, media_type="application/toml; charset=utf-8", headers=headers)


@router.get("/{name}", responses={200: {"model": StoredShop}, **NOT_MODIFIED, **problems(404, 422)})
def get_shop(
    request: Request, job_service: JobServiceOf, name: str, version: _Version = None
) -> Response:
    """Return a shop as it was written, or one of its versions, in normal form (lengths in mm)."""
    shops = job_service.shops
    if version is not None:
        if not shops.shelf.has_had(name, version):
            raise NotFound("shop", f"{name}?version={version}")
        normal = shops.document(version).normal()
        return json_response({"name": name, "version": version, "shop": normal})
    record = shops.shelf.find(name)
    headers = {"ETag": _tag(record), "Cache-Control": "no-cache"}
    if tag_matches(request.headers.get("if-none-match"), _tag(record)):
        return Response(status_code=304, headers=headers)
    return json_response(shop_document(shops, record), headers=headers)


@router.put(
    "/{name}",
    responses={
        200: {"model": StoredShop, "description": "It is replaced."},
        201: {"model": StoredShop, "description": "It is new."},
        **problems(400, 409, 412, 413, 415, 422),
    },
    openapi_extra=shop_body(),
)
async def put_shop(
    job_service: JobServiceOf,
    name: str,
    body: ShopBody,
    if_match: _IfMatch = None,
    if_none_match: _IfNoneMatch = None,
) -> Response:
    """Store or replace a shop; what was made in the one before still names its version."""
    if body.name not in (None, name):
        raise InputError(
            f"The shop calls itself {body.name!r}.",
            code="bad-value",
            field="name",
            expected=f"{name!r}, or no name",
        )
    return await _put(job_service.shops, name, body, if_match, if_none_match)


@router.delete("/{name}", status_code=204, responses=problems(404, 412))
def delete_shop(job_service: JobServiceOf, name: str, if_match: _IfMatch = None) -> Response:
    """Remove a shop; its versions stay for what was made in it."""
    job_service.shops.shelf.remove(name, unless_changed(if_match, None))
    return Response(status_code=204)


@router.post(
    "/{name}/measured",
    response_model=MeasuredDocument,
    responses=problems(400, 404, 409, 413, 415, 422),
    openapi_extra=body_of(
        MeasuredRequest,
        diameter={
            "piece": "0123456789abcdef0123456789abcdef",
            "readings": {
                "outside_x": 30.05,
                "outside_y": 30.06,
                "inside_x": 29.94,
                "inside_y": 29.94,
            },
            "resolution": "0.01 mm",
        },
        fit={"piece": "0123456789abcdef0123456789abcdef", "readings": {"fits": "C"}, "keep": False},
    ),
)
async def take_readings(job_service: JobServiceOf, shop: _Known, body: JsonBody) -> Response:
    """Take what was measured on a test piece: old and new figures with their uncertainty."""
    shops, store = job_service.shops, job_service.store
    return json_response(await asyncio.to_thread(take_measured, store, shops, shop, body))


@router.get("/{name}/commits", response_model=CommitPage, responses=problems(404, 422))
def list_commits(job_service: JobServiceOf, shop: _Known, page: PageOf) -> Response:
    """List what orders and plans took out of the stock, and what came back, newest first."""
    committing = Committing(job_service.store, job_service.shops)
    before = _number(page.after)
    found, more = committing.book.page(shop, limit=page.limit, before=before)
    items = [committing.document(commit) for commit in found]
    here = f"/v1/shops/{shop}/commits"
    after = next_link(here, page, str(found[-1].number)) if more else None
    return json_response({"items": items, "next": after})


@router.get(
    "/{name}/stock/{key}.{suffix}",
    responses={200: {"content": {kind: {} for kind in _DRAWINGS.values()},
                     "description": "The sheet, its edge and its holes."}, **problems(404)},
    response_class=Response,
)  # fmt: skip
def get_stock_drawing(job_service: JobServiceOf, shop: _Known, key: str, suffix: str) -> Response:
    """Return the drawing of a sheet of the shop, as of a left-over: `.svg`, `.dxf`, `.png`."""
    _, resolved, _ = job_service.shops.resolved(shop)
    sheet = next((s for s in resolved.stock if s.key == key), None)
    if sheet is None or suffix not in _DRAWINGS:
        raise NotFound("file", f"{key}.{suffix}")
    with speaking(resolved.units):
        drawn = {"svg": stock_svg, "dxf": stock_dxf, "png": stock_png}[suffix](sheet)
    return Response(drawn, media_type=_DRAWINGS[suffix])


@router.put("/{name}/default", status_code=204, responses=problems(404))
def use_shop(job_service: JobServiceOf, name: str) -> Response:
    """Let it be the shop of all requests that name none."""
    job_service.shops.shelf.use(name)
    return Response(status_code=204)


@router.delete("/{name}/default", status_code=204, responses=problems(404))
def use_no_shop(job_service: JobServiceOf, name: str) -> Response:
    """Let requests that name no shop have the shipped one again."""
    usual = job_service.shops.shelf.usual()
    if usual is None or usual.name != name:
        raise NotFound("shop", name)
    job_service.shops.shelf.use(None)
    return Response(status_code=204)


async def _put(
    shops: Shops, name: str, body: ShopBody, if_match: str | None, if_none_match: str | None
) -> Response:
    may = unless_changed(if_match, if_none_match)

    def store() -> tuple[ShopRecord, bool, dict[str, object]]:
        record, new = shops.put(name, body.document, text=body.text, toml=body.toml, may=may)
        return record, new, shop_document(shops, record)

    record, new, document = await asyncio.to_thread(store)
    headers = {"ETag": _tag(record), "Location": f"/v1/shops/{record.name}"}
    return json_response(document, 201 if new else 200, headers)


def _tag(record: ShopRecord) -> str:
    return f'"{record.version}"'


def _number(after: str | None) -> int | None:
    """Return the number of a commit that a page begins below.

    Raises:
        NotFound: it is none.

    """
    if after is None:
        return None
    if not (after.isascii() and after.isdecimal() and len(after) < 19):
        raise NotFound("commit", after)
    return int(after)
