"""stock: what the catalogue holds."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import ShopOf
from letterply.api.responses.catalogue import catalogue_page, entry
from letterply.api.responses.describing import problems
from letterply.api.responses.results import json_response
from letterply.api.schemas import StockPage

__all__ = ["router"]

router = APIRouter(prefix="/v1/stock", tags=["catalogue"])


@router.get("", responses=problems(422), response_model=StockPage)
async def list_stock(shop: ShopOf) -> Response:
    """List all stock sheets, each figure with its source where it has one."""
    return catalogue_page(shop, "stock")


@router.get("/{key}", responses=problems(404, 422))
def get_stock(shop: ShopOf, key: str) -> Response:
    """Return one of the stock sheets."""
    return json_response(entry("stock", shop.stock, key, shop.units))
