"""Values of orders as the JSON that is stored, and back."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import TypeVar, cast

from pydantic import TypeAdapter

from letterply.storage import canonical_json

__all__ = ["Facts", "ordered", "plain", "value_of"]

Facts = Mapping[str, object]
"""A JSON object that is handed on as it is, or not read yet."""

_Value = TypeVar("_Value")

_adapter: Callable[..., TypeAdapter[object]] = lru_cache(maxsize=64)(TypeAdapter)


def plain(value: object) -> dict[str, object]:
    """Return a dataclass as JSON values, in the order of its fields."""
    found: dict[str, object] = _adapter(type(value)).dump_python(value, mode="json")
    return found


def ordered(value: object) -> dict[str, object]:
    """Return a dataclass as JSON values, names sorted at every depth, as they are stored."""
    found: dict[str, object] = json.loads(canonical_json(plain(value)))
    return found


def value_of(kind: type[_Value], raw: object) -> _Value:
    """Return the value that `plain` described; raises `ValueError` for anything else.

    What has no name in `kind` is passed over.
    """
    return cast(TypeAdapter[_Value], _adapter(kind)).validate_python(raw)
