"""usage: what an owner has, and what it may have."""

from __future__ import annotations

import asyncio
from dataclasses import asdict

from fastapi import APIRouter, Response

from letterply.api.dependencies import AllowanceOf, JobServiceOf, OwnerOf
from letterply.api.responses.results import json_response
from letterply.api.schemas import UsageDocument

__all__ = ["router"]

router = APIRouter(prefix="/v1/usage", tags=["operation"])


@router.get("", response_model=UsageDocument)
async def get_usage(job_service: JobServiceOf, owner: OwnerOf, allowance: AllowanceOf) -> Response:
    """Return what is kept for the owner of the key, and its limits; null for none."""
    found = await asyncio.to_thread(job_service.store.usage)
    document = {"owner": owner, **asdict(found), "limits": asdict(allowance)}
    return json_response(document, headers={"Cache-Control": "no-store"})
