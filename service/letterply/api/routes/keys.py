"""keys: who may use the service; made, listed and revoked while it runs."""

from __future__ import annotations

import asyncio
from typing import Any

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf
from letterply.api.http.bodies import JsonBody
from letterply.api.responses.describing import body_of, problems
from letterply.api.responses.results import json_response
from letterply.api.schemas import KeyDocument, KeyPage, KeyRequest, NewKeyDocument
from letterply.requests import read_request
from letterply.storage import AccessKey, utc_text

__all__ = ["router"]

router = APIRouter(prefix="/v1/keys", tags=["keys"])

_NO_STORE = {"Cache-Control": "no-store"}


@router.get("", response_model=KeyPage)
async def list_keys(job_service: JobServiceOf) -> Response:
    """List the keys of the store, the oldest first, revoked ones too; secrets are not kept."""
    found = await asyncio.to_thread(job_service.store.access.listed)
    return json_response({"items": [_document(key) for key in found]}, headers=_NO_STORE)


@router.post(
    "",
    status_code=201,
    responses={201: {"model": NewKeyDocument}, **problems(400, 413, 415, 422)},
    openapi_extra=body_of(
        KeyRequest, workshop={"name": "bench", "owner": "boathouse", "scopes": ["read", "write"]}
    ),
)
async def make_key(job_service: JobServiceOf, body: JsonBody) -> Response:
    """Make a key; its secret is in the answer, and nowhere else. It opens the service at once."""
    asked = read_request(KeyRequest, body)
    expires = None if asked.expires_at is None else utc_text(asked.expires_at)
    key, secret = await asyncio.to_thread(
        job_service.store.access.make, asked.name, asked.owner, asked.scopes, expires
    )
    headers = {"Location": f"/v1/keys/{key.id}", **_NO_STORE}
    return json_response(_document(key) | {"secret": secret}, 201, headers)


@router.get("/{id}", responses={200: {"model": KeyDocument}, **problems(404)})
async def get_key(job_service: JobServiceOf, id: str) -> Response:
    """Return what there is to know of a key."""
    key = await asyncio.to_thread(job_service.store.access.key, id)
    return json_response(_document(key), headers=_NO_STORE)


@router.delete("/{id}", status_code=204, responses=problems(404))
async def revoke_key(job_service: JobServiceOf, id: str) -> Response:
    """Revoke a key: from now on it opens nothing."""
    await asyncio.to_thread(job_service.store.access.revoke, id)
    return Response(status_code=204)


def _document(key: AccessKey) -> dict[str, Any]:
    return {
        "id": key.id,
        "name": key.name,
        "owner": key.owner,
        "scopes": sorted(key.scopes),
        "created_at": key.created_at,
        "expires_at": key.expires_at,
        "revoked_at": key.revoked_at,
        "valid": key.valid,
        "links": {"self": f"/v1/keys/{key.id}"},
    }
