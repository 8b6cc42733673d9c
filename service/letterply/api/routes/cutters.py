"""cutters: what the catalogue holds."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import ShopOf
from letterply.api.responses.catalogue import catalogue_page, entry
from letterply.api.responses.describing import problems
from letterply.api.responses.results import json_response
from letterply.api.schemas import CutterPage

__all__ = ["router"]

router = APIRouter(prefix="/v1/cutters", tags=["catalogue"])


@router.get("", responses=problems(422), response_model=CutterPage)
async def list_cutters(shop: ShopOf) -> Response:
    """List all cutters, each figure with its source where it has one."""
    return catalogue_page(shop, "cutters")


@router.get("/{key}", responses=problems(404, 422))
def get_cutter(shop: ShopOf, key: str) -> Response:
    """Return one of the cutters."""
    return json_response(entry("cutter", shop.catalogue.cutters, key, shop.units))
