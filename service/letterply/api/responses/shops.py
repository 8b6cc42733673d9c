"""Shops as JSON: what is stored, as its maker wrote it."""

from __future__ import annotations

from typing import Any

from letterply.jobs import Shops
from letterply.storage import ShopRecord
from letterply.units import counted

__all__ = ["shop_document", "shop_entry", "without_nothing"]


def shop_entry(record: ShopRecord) -> dict[str, Any]:
    """Return a shop in a list."""
    self = f"/v1/shops/{record.name}"
    return {
        "key": record.name,
        "name": record.name,
        "version": record.version,
        "default": record.usual,
        "created_at": record.created_at,
        "changed_at": record.changed_at,
        "links": {"self": self, "toml": f"{self}.toml", "default": f"{self}/default"},
    }


def shop_document(shops: Shops, record: ShopRecord) -> dict[str, Any]:
    """Return a shop with all that is in it, and what it comes to."""
    _, shop, document = shops.resolved(record.name)
    versions = [{"version": v, "since": at} for v, at in shops.shelf.versions(record.name)]
    return {
        **shop_entry(record),
        "title": document.title,
        "summary": (
            f"{shop.machine.name}; {counted(len(shop.cutters), 'cutter')}, "
            f"{counted(len(shop.stock), 'kind')} of sheet; "
            f"speaks in {'inches' if shop.units == 'inch' else 'mm'}."
        ),
        "shop": shops.written(record),
        "versions": versions,
    }


def without_nothing(value: Any) -> Any:
    """Return a JSON value without what is null: TOML knows nothing of it.

    >>> without_nothing({"a": None, "b": [1, {"c": None}]})
    {'b': [1, {}]}

    """
    if isinstance(value, dict):
        return {k: without_nothing(v) for k, v in value.items() if v is not None}
    if isinstance(value, list):
        return [without_nothing(v) for v in value if v is not None]
    return value
