"""Catalogue values in, plain JSON values out, under their own names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from fastapi import Response

from letterply.api.dependencies import ShopInView
from letterply.api.responses.results import json_bytes
from letterply.errors import NotFound
from letterply.memo import FoundAgain
from letterply.units import format_feed, format_mm, speaking

__all__ = ["catalogue_document", "catalogue_page", "entry"]


def catalogue_document(value: Any) -> Any:
    """Return a frozen value as JSON: members in the order in which they are declared.

    >>> from letterply.catalogue.model import Source
    >>> catalogue_document(Source("table 5-1", "published"))
    {'text': 'table 5-1', 'status': 'published'}

    """
    if is_dataclass(value) and not isinstance(value, type):
        given = [f for f in fields(value) if f.metadata.get("given", True)]
        return {f.name: catalogue_document(getattr(value, f.name)) for f in given}
    if isinstance(value, Mapping):
        return {str(k): catalogue_document(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [catalogue_document(v) for v in value]
    return str(value) if isinstance(value, str) else value


_pages: FoundAgain[bytes] = FoundAgain(256)


def catalogue_page(shop: ShopInView, name: str) -> Response:
    """Answer with a list of the catalogue, `stock` say: all of it."""
    values = shop.stock if name == "stock" else getattr(shop.catalogue, name)

    def page() -> bytes:
        items = [_entry(value, shop.units) for _, value in sorted(values.items())]
        return json_bytes({"items": items})

    return Response(_pages.get((shop,), name, page), media_type="application/json")


def entry(kind: str, values: Mapping[str, Any], key: str, units: str = "mm") -> Any:
    """Return one value of a list of the catalogue; raises `NotFound`."""
    if key not in values:
        raise NotFound(kind, key)
    return _entry(values[key], units)


def _entry(value: Any, units: str) -> dict[str, Any]:
    """Return a value with its lengths and feeds in words, where these are not in mm: `told`."""
    document: dict[str, Any] = catalogue_document(value)
    if units != "mm":
        with speaking(units):
            told = {name: _told(name, figure) for name, figure in document.items()}
        document["told"] = {name: words for name, words in told.items() if words}
    return document


def _told(name: str, figure: Any) -> str:
    if name.endswith("_mm_per_min"):
        return format_feed(figure)
    if name.endswith("_mm") and figure:
        many = figure if isinstance(figure, list) else [figure]
        return ", ".join(format_mm(one) for one in many)
    return ""
