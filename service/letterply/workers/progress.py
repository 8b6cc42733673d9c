"""How far a task is, and that nobody wants it any more: between workers and who waits for them.

Terms: a *channel* is a pipe from all workers of a pool to their parent, and a board on which the
parent writes for all of them; a *ticket* is the number of a task in its pool. A ticket on the board
is *abandoned*: a worker looks there when it begins a task, and when the parent gives it a sign.

A report is shorter than what the system writes in one piece (PIPE_BUF, POSIX.1-2017 `write`), so
workers share the pipe without a lock that one of them could die with. A report that finds the pipe
full is dropped: the next one says more, and a task whose beginning was not heard of runs to its
end.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import threading
import time
from collections.abc import Callable
from ctypes import Array, c_uint64
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnContext

__all__ = [
    "SIGN",
    "Abandoned",
    "Channel",
    "Progress",
    "begin_telling",
    "end_telling",
    "open_channel",
    "tell",
]

SIGN = getattr(signal, "SIGUSR1", None)
"""The signal that makes a worker look at the board; None on a system without."""

_BOARD = 256
"""Tickets on the board: the latest that were abandoned."""


class Abandoned(BaseException):
    """Nobody wants the task any more.

    No `Exception`: nothing on the way may take it for a fault.
    """


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
_board: Array[c_uint64] | None = None
_ticket: int | None = None


def open_channel(writer: Connection | None, board: Array[c_uint64] | None) -> None:
    """Take the pool's channel; called once in a worker."""
    global _writer, _board
    _writer, _board = writer, board
    if writer is not None:
        os.set_blocking(writer.fileno(), False)
    if SIGN is not None:
        signal.signal(SIGN, lambda *_: _leave_if_abandoned())


def _leave_if_abandoned() -> None:
    if _ticket is not None and _board is not None and _ticket in _board:
        raise Abandoned


def begin_telling(ticket: int) -> None:
    """Say from now on which task it is that `tell` speaks of, and that this process is at it.

    Raises:
        Abandoned: now, or as long as the task goes on.

    """
    global _ticket
    _ticket = ticket
    _send([ticket, os.getpid()])
    _leave_if_abandoned()


def end_telling() -> None:
    """Let `tell` say nothing until the next task."""
    global _ticket
    _ticket = None


def tell(phase: str, share: float, step: int = 0, steps: int = 0) -> None:
    """Say how far this task is (`Progress`); outside a worker nobody hears it."""
    if _ticket is not None:
        _send([_ticket, phase, share, step, steps])


def _send(report: list[object]) -> None:
    if _writer is not None:
        with contextlib.suppress(OSError):  # full, or nobody reads any more
            _writer.send_bytes(json.dumps(report).encode())


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
        self.board: Array[c_uint64] = context.RawArray(c_uint64, _BOARD)
        self._written = 0
        self._known: dict[int, Progress | None] = {}
        self._workers: dict[int, int] = {}
        threading.Thread(target=self._listen, name="progress", daemon=True).start()

    def expect(self, ticket: int) -> None:
        """Keep what is told of this task from now on."""
        self._known[ticket] = None

    def forget(self, ticket: int) -> None:
        """Keep it no longer."""
        self._known.pop(ticket, None)
        self._phase_over(ticket)
        self._workers.pop(ticket, None)

    def abandon(self, ticket: int) -> None:
        """Let a task under way end where it is, and not begin when it has not."""
        self.board[self._written % _BOARD] = ticket
        self._written += 1
        self._give_sign(ticket)

    def _give_sign(self, ticket: int) -> None:
        worker = self._workers.get(ticket)
        if worker is not None and SIGN is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(worker, SIGN)

    def at(self, ticket: int) -> Progress | None:
        """Return how far a task is; None when it has said nothing."""
        return self._known.get(ticket)

    def close(self) -> None:
        """Stop listening; the workers are gone."""
        self.writer.close()

    def _listen(self) -> None:
        while True:
            try:
                ticket, *said = json.loads(self._reader.recv_bytes())
            except (EOFError, OSError):
                self._reader.close()
                return
            if ticket not in self._known:
                continue
            if len(said) > 1:
                progress = Progress(*said)
                self._known[ticket] = progress
                if self._began.get(ticket, ("", 0.0))[0] != progress.phase:
                    self._phase_over(ticket)
                    self._began[ticket] = (progress.phase, time.monotonic())
                continue
            self._workers[ticket] = said[0]
            if ticket in self.board:  # it was abandoned before it was known who is at it
                self._give_sign(ticket)

    def _phase_over(self, ticket: int) -> None:
        phase, since = self._began.pop(ticket, ("", 0.0))
        if phase:
            self._on_phase(phase, time.monotonic() - since)
