"""What every value of the catalogue asks of its figures and words: impossible ones raise."""

from __future__ import annotations

import math

__all__ = ["require_one_of", "require_positive"]


def require_positive(value: object, names: tuple[str, ...]) -> None:
    """Raise `ValueError` unless each of these figures of a value is finite and above 0."""
    for name in names:
        figure = getattr(value, name)
        if not (math.isfinite(figure) and figure > 0):
            raise ValueError(f"{getattr(value, 'key', value)}: {name!r} must be above 0")


def require_one_of(value: object, name: str, allowed: tuple[str, ...]) -> None:
    """Raise `ValueError` unless the attribute `name` of a value is one of the words allowed."""
    if getattr(value, name) not in allowed:
        key = getattr(value, "key", value)
        raise ValueError(f"{key}: {name!r} must be one of {', '.join(allowed)}")
