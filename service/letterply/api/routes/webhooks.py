"""webhooks: addresses of makers' own that are told when an order ends or a customer replies."""

from __future__ import annotations

import asyncio
from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Response

from letterply.api.dependencies import PageOf, SettingsOf, WebhooksOf
from letterply.api.hooks.addresses import read_target, vet
from letterply.api.http.bodies import JsonBody
from letterply.api.http.webhook_bodies import (
    CallPage,
    EventDocument,
    NewWebhookDocument,
    WebhookDocument,
    WebhookPage,
    WebhookRequest,
)
from letterply.api.responses.describing import body_of, problems
from letterply.api.responses.lists import next_link
from letterply.api.responses.results import json_response
from letterply.requests import read_request
from letterply.storage import Webhook

__all__ = ["router"]

router = APIRouter(prefix="/v1/webhooks", tags=["webhooks"])

_NO_STORE = {"Cache-Control": "no-store"}


@router.get("", response_model=WebhookPage)
async def list_webhooks(webhooks: WebhooksOf) -> Response:
    """List the addresses that are told what happens, the oldest first."""
    found = await asyncio.to_thread(webhooks.listed)
    return json_response({"items": [_document(hook) for hook in found]}, headers=_NO_STORE)


@router.post(
    "",
    status_code=201,
    responses={201: {"model": NewWebhookDocument}, **problems(400, 409, 413, 415, 422)},
    openapi_extra=body_of(
        WebhookRequest,
        orders={"url": "https://boathouse.example/orders", "events": ["order.done"]},
    ),
)
async def add_webhook(webhooks: WebhooksOf, settings: SettingsOf, body: JsonBody) -> Response:
    """Register an address; the secret that calls to it are signed with is told here alone."""
    asked = read_request(WebhookRequest, body)
    await vet(read_target(asked.url), settings.webhook_networks)
    hook, secret = await asyncio.to_thread(webhooks.add, asked.url, asked.events)
    headers = {"Location": f"/v1/webhooks/{hook.id}", **_NO_STORE}
    return json_response(_document(hook) | {"secret": secret}, 201, headers)


@router.get("/{id}", responses={200: {"model": WebhookDocument}, **problems(404)})
async def get_webhook(webhooks: WebhooksOf, id: str) -> Response:
    """Return an address and what it is told of."""
    hook = await asyncio.to_thread(webhooks.find, id)
    return json_response(_document(hook), headers=_NO_STORE)


@router.delete("/{id}", status_code=204, responses=problems(404))
async def remove_webhook(webhooks: WebhooksOf, id: str) -> Response:
    """Forget an address: it is told nothing more, nor what still waits."""
    await asyncio.to_thread(webhooks.remove, id)
    return Response(status_code=204)


@router.get("/{id}/calls", responses={200: {"model": CallPage}, **problems(404, 422)})
async def list_calls(webhooks: WebhooksOf, page: PageOf, id: str) -> Response:
    """List what became of telling an address, newest first; what is over stays for 30 days."""
    found, more = await asyncio.to_thread(
        lambda: webhooks.calls(id, limit=page.limit, after=page.after)
    )
    after = next_link(f"/v1/webhooks/{id}/calls", page, found[-1].event) if more else None
    items = [asdict(call) for call in found]
    return json_response({"items": items, "next": after}, headers=_NO_STORE)


@router.post(
    "/{id}/test", status_code=202, responses={202: {"model": EventDocument}, **problems(404)}
)
async def try_webhook(webhooks: WebhooksOf, id: str) -> Response:
    """Have an address told that this is a test (`webhook.test`)."""
    event = await asyncio.to_thread(webhooks.try_out, id)
    links = {"calls": f"/v1/webhooks/{id}/calls"}
    return json_response({"event": event, "links": links}, 202, _NO_STORE)


def _document(hook: Webhook) -> dict[str, Any]:
    where = f"/v1/webhooks/{hook.id}"
    links = {"self": where, "calls": f"{where}/calls", "test": f"{where}/test"}
    return asdict(hook) | {"links": links}
