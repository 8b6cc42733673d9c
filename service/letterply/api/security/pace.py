"""Pace: how often somebody may knock, counted in plain windows of time.

One process counts for itself. Who is counted is a name that the caller gives: an offer, an address.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from letterply.api.http.problems import HttpProblem

__all__ = ["Pace", "Paces"]

_MOST_NAMES = 10_000


class Pace:
    """Lets a name through so often in a window of time.

    Args:
        most: how often.
        window_s: length of a window.
        clock: seconds that only go up.

    >>> now = [0.0]
    >>> pace = Pace(2, 60.0, lambda: now[0])
    >>> [pace.lets("a"), pace.lets("a"), pace.lets("a"), pace.lets("b")]
    [True, True, False, True]
    >>> now[0] = 61.0
    >>> pace.lets("a")
    True

    """

    def __init__(
        self, most: int, window_s: float = 60.0, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._most = most
        self._window_s = window_s
        self._clock = clock
        self._began = clock()
        self._counts: dict[str, int] = {}

    def lets(self, name: str) -> bool:
        """Count one more of a name; tell whether it is within the pace."""
        now = self._clock()
        # All names share their windows: what is counted never grows beyond one window's names.
        if now - self._began >= self._window_s or len(self._counts) >= _MOST_NAMES:
            self._began = now
            self._counts.clear()
        self._counts[name] = self._counts.get(name, 0) + 1
        return self._counts[name] <= self._most

    def require(self, name: str) -> None:
        """Count one more; raises `HttpProblem` (`too-many-requests`) beyond the pace."""
        if not self.lets(name):
            raise HttpProblem(
                "Too many requests in a short time.",
                code="too-many-requests",
                expected="the same again in a minute",
            )


@dataclass(frozen=True, slots=True)
class Paces:
    """How often customers may knock, a minute.

    Attributes:
        pages: at one offer: its page, its pictures, its paper.
        papers: at the paper of one offer, which is drawn each time.
        replies: to one offer.
        misses: from one address, at what is no offer.

    """

    pages: Pace = field(default_factory=lambda: Pace(600))
    papers: Pace = field(default_factory=lambda: Pace(20))
    replies: Pace = field(default_factory=lambda: Pace(10))
    misses: Pace = field(default_factory=lambda: Pace(60))
