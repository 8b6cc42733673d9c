"""machines: what the catalogue holds."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import ShopOf
from letterply.api.responses.catalogue import catalogue_page, entry
from letterply.api.responses.describing import problems
from letterply.api.responses.results import json_response
from letterply.api.schemas import MachinePage

__all__ = ["router"]

router = APIRouter(prefix="/v1/machines", tags=["catalogue"])


@router.get("", responses=problems(422), response_model=MachinePage)
async def list_machines(shop: ShopOf) -> Response:
    """List all machines, each figure with its source where it has one."""
    return catalogue_page(shop, "machines")


@router.get("/{key}", responses=problems(404, 422))
def get_machine(shop: ShopOf, key: str) -> Response:
    """Return one of the machines."""
    return json_response(entry("machine", shop.catalogue.machines, key, shop.units))
