"""Requests a minute: counted an owner, in this process.

A bucket holds as many tokens as requests a minute are allowed and fills up steadily: who was quiet
may send a burst, who is not is held to the rate. Several processes count each for itself.
"""

from __future__ import annotations

import time
from collections.abc import Callable

__all__ = ["RequestRate"]

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

    def wait_s(self, owner: str, per_minute: int | None) -> float:
        """Count a request; return 0, or how many seconds too early it came."""
        if per_minute is None:
            return 0.0
        now = self._clock()
        tokens, since = self._buckets.get(owner, (float(per_minute), now))
        tokens = min(float(per_minute), tokens + (now - since) * per_minute / 60.0)
        if tokens < 1.0:
            self._buckets[owner] = (tokens, now)
            return (1.0 - tokens) * 60.0 / per_minute
        if len(self._buckets) > _FORGOTTEN:
            self._buckets = {o: b for o, b in self._buckets.items() if now - b[1] < 60.0}
        self._buckets[owner] = (tokens - 1.0, now)
        return 0.0
