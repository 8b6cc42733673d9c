"""Values of orders as the JSON that is stored, and back."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, TypeVar

from pydantic import TypeAdapter

__all__ = ["plain", "value_of"]

_Value = TypeVar("_Value")

_adapter: Callable[[Any], TypeAdapter[Any]] = lru_cache(maxsize=64)(TypeAdapter)


def plain(value: Any) -> Any:
    """Return a dataclass as JSON values."""
    return _adapter(type(value)).dump_python(value, mode="json")


def value_of(kind: type[_Value], raw: Any) -> _Value:
    """Return the value that `plain` described; raises `ValueError` for anything else.

    What has no name in `kind` is passed over.
    """
    found: _Value = _adapter(kind).validate_python(raw)
    return found
