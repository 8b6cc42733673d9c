"""Memory for what is dear to compute: the latest used is kept, up to a bound; or asked for once."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, Protocol, TypeVar

__all__ = ["Memo", "Once", "every_time"]

_K = TypeVar("_K", bound=Hashable)
_V = TypeVar("_V")
_T = TypeVar("_T")


def _one(_: object) -> int:
    return 1


class Memo(Generic[_K, _V]):
    """Values by key; what was used longest ago goes when they weigh more than the limit.

    Args:
        limit: what all values may weigh together; the last one stays whatever it weighs.

    """

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._held: OrderedDict[_K, tuple[_V, int]] = OrderedDict()
        self._total = 0

    def get(self, key: _K, make: Callable[[], _V], weigh: Callable[[_V], int] = _one) -> _V:
        """Return the value of a key, made when it is not there; each weighs one by default."""
        if key in self._held:
            self._held.move_to_end(key)
            return self._held[key][0]
        value = make()
        size = weigh(value)
        self._total += size  # first: a worker may be called off between the two
        self._held[key] = value, size
        while self._total > self._limit and len(self._held) > 1:
            _, (_, gone) = self._held.popitem(last=False)
            self._total -= gone
        return value

    def __contains__(self, key: object) -> bool:
        return key in self._held

    def clear(self) -> None:
        """Forget everything."""
        self._held.clear()
        self._total = 0


class Once(Protocol):
    """Takes a question, all that its answer depends on, and what finds the answer out."""

    def __call__(self, question: object, find_out: Callable[[], _T]) -> _T:
        """Return the answer, as it was found out before or as it is now: it is the same."""


def every_time(question: object, find_out: Callable[[], _T]) -> _T:
    """Find an answer out, whether it was asked for before or not."""
    return find_out()
