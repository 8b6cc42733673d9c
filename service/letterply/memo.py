"""Memory for what is dear to compute: the latest used is kept, up to a bound; or asked for once."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, Protocol, TypeVar

__all__ = ["FoundAgain", "Memo", "Once", "every_time"]

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


class FoundAgain(Generic[_V]):
    """What is found out of frozen values, kept for when the very same values come again.

    Values are told apart by identity, so that none has to be compared or digested; they live as
    long as what was found out of them is kept. Any thread may ask: at worst two find out the same.

    Args:
        limit: how much is kept; beyond that all is forgotten.

    >>> found, shop = FoundAgain(9), ["a long list"]
    >>> found.get((shop,), "first", lambda: shop[0]) is found.get((shop,), "first", lambda: "anew")
    True

    """

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._held: dict[Hashable, tuple[tuple[object, ...], _V]] = {}

    def get(self, of: tuple[object, ...], what: Hashable, find_out: Callable[[], _V]) -> _V:
        """Return what is asked for, of these values, found out when it is not kept."""
        key = (what, *map(id, of))
        held = self._held.get(key)
        if held is None:
            held = of, find_out()
            if len(self._held) >= self._limit:
                self._held.clear()
            self._held[key] = held
        return held[1]


class Once(Protocol):
    """Takes a question, all that its answer depends on, and what finds the answer out."""

    def __call__(self, question: object, find_out: Callable[[], _T]) -> _T:
        """Return the answer, as it was found out before or as it is now: it is the same."""


def every_time(question: object, find_out: Callable[[], _T]) -> _T:
    """Find an answer out, whether it was asked for before or not."""
    return find_out()
