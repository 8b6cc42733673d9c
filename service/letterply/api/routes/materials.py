"""materials: what the catalogue holds."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import ShopOf
from letterply.api.responses.catalogue import catalogue_page, entry
from letterply.api.responses.describing import problems
from letterply.api.responses.results import json_response
from letterply.api.schemas import MaterialPage

__all__ = ["router"]

router = APIRouter(prefix="/v1/materials", tags=["catalogue"])


@router.get("", responses=problems(422), response_model=MaterialPage)
async def list_materials(shop: ShopOf) -> Response:
    """List all materials, each figure with its source where it has one."""
    return catalogue_page(shop, "materials")


@router.get("/{key}", responses=problems(404, 422))
def get_material(shop: ShopOf, key: str) -> Response:
    """Return one of the materials."""
    return json_response(entry("material", shop.catalogue.materials, key, shop.units))
