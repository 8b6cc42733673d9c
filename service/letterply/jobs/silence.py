"""Silence: signs of life of workers in, how long nothing was heard of each out.

Counted by the clock of whoever listens, and only while it listens: what the signs say of the time
does not matter, only that they change.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["Silence"]


@dataclass(slots=True)
class Silence:
    """How long nothing was heard of workers, as far as somebody listened.

    Attributes:
        heard: the last sign of each.
        silent_s: how long that is the same.
        listened_at: when somebody listened last, by the clock that only goes forward.

    """

    heard: dict[str, float] = field(default_factory=dict)
    silent_s: dict[str, float] = field(default_factory=dict)
    listened_at: float = field(default_factory=time.monotonic)

    def listen(self, beats: Mapping[str, float], most_s: float) -> None:
        """Note the last beats; a pause in which nobody listened counts as `most_s` at most."""
        now = time.monotonic()
        passed = min(now - self.listened_at, most_s)
        self.silent_s = {
            worker: self.silent_s.get(worker, 0.0) + passed
            if self.heard.get(worker) == beat
            else 0.0
            for worker, beat in beats.items()
        }
        self.heard, self.listened_at = dict(beats), now
