"""How far a task is: told inside the worker, heard by whoever waits for it.

Terms: a *channel* is a pipe from all workers of a pool to their parent; a *ticket* is the number
of a task in its pool. A report is shorter than what the system writes in one piece (PIPE_BUF,
POSIX.1-2017 `write`), so workers share the pipe without a lock that one of them could die with.
A report that finds the pipe full is dropped: the next one says more.
"""

from __future__ import annotations

import contextlib
import json
import os
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnContext

__all__ = ["Channel", "Progress", "begin_telling", "end_telling", "open_channel", "tell"]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a task is.

    Attributes:
        phase: what it is at, in a word.
        share: how much of the work is done, 0 to 1, as such work usually goes.
        step: which one of `steps` it is at, from 1; 0 where nothing is counted.
        steps: how many there are.

    """

    phase: str
    share: float
    step: int = 0
    steps: int = 0


_writer: Connection | None = None
_ticket: int | None = None


def open_channel(writer: Connection | None) -> None:
    """Take the pool's channel; called once in a worker."""
    global _writer
    _writer = writer
    if writer is not None:
        os.set_blocking(writer.fileno(), False)


def begin_telling(ticket: int) -> None:
    """Say from now on which task it is that `tell` speaks of."""
    global _ticket
    _ticket = ticket


def end_telling() -> None:
    """Let `tell` say nothing until the next task."""
    global _ticket
    _ticket = None


def tell(phase: str, share: float, step: int = 0, steps: int = 0) -> None:
    """Say how far this task is (`Progress`); outside a worker nobody hears it."""
    if _writer is None or _ticket is None:
        return
    with contextlib.suppress(OSError):  # full, or nobody reads any more
        _writer.send_bytes(json.dumps([_ticket, phase, share, step, steps]).encode())


class Channel:
    """The parent's end: hears reports and keeps the last one of each task under way.

    Args:
        context: of the processes.
        on_phase: told each phase of a task and how many seconds it took, once it is over.

    """

    def __init__(
        self,
        context: SpawnContext,
        on_phase: Callable[[str, float], None] = lambda phase, seconds: None,
    ) -> None:
        self._on_phase = on_phase
        self._began: dict[int, tuple[str, float]] = {}
        self._reader, self.writer = context.Pipe(duplex=False)
        self._known: dict[int, Progress | None] = {}
        threading.Thread(target=self._listen, name="progress", daemon=True).start()

    def expect(self, ticket: int) -> None:
        """Keep what is told of this task from now on."""
        self._known[ticket] = None

    def forget(self, ticket: int) -> None:
        """Keep it no longer."""
        self._known.pop(ticket, None)
        self._phase_over(ticket)

    def at(self, ticket: int) -> Progress | None:
        """Return how far a task is; None when it has said nothing."""
        return self._known.get(ticket)

    def close(self) -> None:
        """Stop listening; the workers are gone."""
        self.writer.close()

    def _listen(self) -> None:
        while True:
            try:
                ticket, phase, share, step, steps = json.loads(self._reader.recv_bytes())
            except (EOFError, OSError):
                self._reader.close()
                return
            if ticket in self._known:
                self._known[ticket] = Progress(phase, share, step, steps)
                if self._began.get(ticket, ("", 0.0))[0] != phase:
                    self._phase_over(ticket)
                    self._began[ticket] = (phase, time.monotonic())

    def _phase_over(self, ticket: int) -> None:
        phase, since = self._began.pop(ticket, ("", 0.0))
        if phase:
            self._on_phase(phase, time.monotonic() - since)
