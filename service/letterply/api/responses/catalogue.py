"""Catalogue values in, plain JSON values out, under their own names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from letterply.errors import NotFound

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


def catalogue_page(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return all values of a list of the catalogue as one list."""
    return {"items": [catalogue_document(value) for _, value in sorted(values.items())]}


def entry(kind: str, values: Mapping[str, Any], key: str) -> Any:
    """Return one value of a list of the catalogue; raises `NotFound`."""
    if key not in values:
        raise NotFound(kind, key)
    return catalogue_document(values[key])
