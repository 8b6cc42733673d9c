"""In what units people are spoken to: mm, or inches within `speaking`.

It is entered once, where a request is taken up, as a context of `decimal` is. An answer that is
kept for others is kept under its units too.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["UNITS", "speaking", "spoken"]

_spoken: ContextVar[str] = ContextVar("units", default="mm")

UNITS = ("mm", "inch")
"""What sentences, pictures and papers may speak in."""


@contextmanager
def speaking(units: str) -> Iterator[None]:
    """Let everything that is written for people within speak in `mm` or `inch`.

    >>> with speaking("inch"):
    ...     spoken()
    'inch'

    """
    if units not in UNITS:
        raise ValueError(f"nobody speaks in {units!r}")
    token = _spoken.set(units)
    try:
        yield
    finally:
        _spoken.reset(token)


def spoken() -> str:
    """Return in what is spoken here, `mm` or `inch`."""
    return _spoken.get()
