"""Requests a minute: counted an owner, by all services on one database together.

A bucket holds as many tokens as requests a minute are allowed and fills up steadily: who was quiet
may send a burst, who is not is held to the rate. No request waits for other services: what they
have counted is drained from the bucket a moment later (`RateExchange`), which may leave a debt.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from letterply.errors import LetterplyError
from letterply.storage import Database, exchange_counts
from letterply.workers import worker_name

__all__ = ["RateExchange", "RequestRate"]

_log = logging.getLogger(__name__)

_EXCHANGE_S = 2.0

_FORGOTTEN = 10_000
"""Owners whose buckets are remembered; full ones are forgotten first."""


class RequestRate:
    """Buckets of owners.

    Args:
        clock: seconds that only go forward.

    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._buckets: dict[str, tuple[float, float]] = {}
        self._elsewhere: dict[str, tuple[int, float]] = {}
        self.counts: dict[str, int] = {}

    def drain(self, owner: str, requests: int) -> None:
        """Count requests that were sent elsewhere."""
        if owner in self._buckets:
            tokens, since = self._buckets[owner]
            self._buckets[owner] = (tokens - requests, since)
        else:
            self._elsewhere[owner] = (requests, self._clock())

    def wait_s(self, owner: str, per_minute: int | None) -> float:
        """Count a request; return 0, or how many seconds too early it came."""
        if per_minute is None:
            return 0.0
        now = self._clock()
        elsewhere, at = self._elsewhere.pop(owner, (0, now))
        tokens, since = self._buckets.get(owner, (float(per_minute) - elsewhere, at))
        tokens = min(float(per_minute), tokens + (now - since) * per_minute / 60.0)
        if tokens < 1.0:
            self._buckets[owner] = (tokens, now)
            return (1.0 - tokens) * 60.0 / per_minute
        if len(self._buckets) > _FORGOTTEN:
            self._buckets = {o: b for o, b in self._buckets.items() if now - b[1] < 60.0}
        self._buckets[owner] = (tokens - 1.0, now)
        self.counts[owner] = self.counts.get(owner, 0) + 1
        return 0.0


@dataclass(slots=True)
class RateExchange:
    """Tells other services what was counted here, and drains here what they counted.

    Attributes:
        rate: what is counted here.
        database: that all share.
        every_s: pause between two exchanges; nothing is written as long as nobody asks.

    """

    rate: RequestRate
    database: Database
    every_s: float = _EXCHANGE_S
    _worker: str = field(default_factory=worker_name)
    _told: dict[str, int] = field(default_factory=dict)
    _known: dict[tuple[str, str], int] = field(default_factory=dict)
    _joined: bool = False

    async def run(self) -> None:
        """Exchange, for as long as the service runs."""
        while True:
            await asyncio.sleep(self.every_s)
            try:
                await asyncio.to_thread(self.exchange)
            except LetterplyError as error:
                _log.warning("requests are counted for this service alone: %s", error.message)

    def exchange(self) -> None:
        """Exchange once."""
        changed = {o: n for o, n in self.rate.counts.items() if self._told.get(o) != n}
        found = exchange_counts(self.database, self._worker, changed)
        self._told |= changed
        if self._joined:  # what was before this service began is none of its business
            for owner, more in self._more(found).items():
                if more > 0:
                    self.rate.drain(owner, more)
        self._known, self._joined = found, True

    def _more(self, found: Mapping[tuple[str, str], int]) -> dict[str, int]:
        more: dict[str, int] = {}
        for (worker, owner), count in found.items():
            more[owner] = more.get(owner, 0) + count - self._known.get((worker, owner), 0)
        return more
