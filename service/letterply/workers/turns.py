"""Turns: tasks of several owners in, one of each taken up after the other.

The pool's own queue knows only who came first; so it is given no more than its workers can take,
and what waits, waits here: a queue an owner, served in turn. Where there is one owner, first come
is first served.
"""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from concurrent.futures import Future
from functools import partial
from typing import Any

from pebble import ProcessPool

from letterply.workers.process import Outcome

__all__ = ["Turn", "Turns"]

_Give = Callable[[tuple[Any, ...]], tuple["Future[Outcome]", ProcessPool]]


class Turn:
    """A task that waits or runs.

    Attributes:
        future: has its outcome, or what went wrong around it.
        come: ends when its turn has come.
        home: the pool that it was given to; None as long as it waits.

    """

    def __init__(self, turns: Turns, task: tuple[Any, ...], owner: str, held: bool) -> None:
        self.future: Future[Outcome] = Future()
        self.come: Future[None] = Future()
        self.held = held
        self.home: ProcessPool | None = None
        self.task = task
        self.owner = owner
        self.given: Future[Outcome] | None = None
        self._turns = turns

    @property
    def started(self) -> bool:
        """Whether a worker has taken it up."""
        return self.given is not None and (self.given.running() or self.given.done())

    @property
    def with_a_worker(self) -> bool:
        """Whether it was given to the workers and has not ended."""
        return self.given is not None and not self.given.done()

    def go(self) -> None:
        """Let one that was held be given to a worker: its turn has come."""
        self._turns.let_go(self)

    def cancel(self) -> None:
        """Take it back: one that waits is not taken up, one that runs is killed."""
        self._turns.take_back(self)


class Turns:
    """Who is next.

    Args:
        places: how many tasks run at once.
        give: gives a task to the workers.

    """

    def __init__(self, places: int, give: _Give) -> None:
        self._places = places
        self._give = give
        self._lock = threading.RLock()  # a task may end while it is being given
        self._waiting: OrderedDict[str, deque[Turn]] = OrderedDict()
        self._running: set[Turn] = set()

    @property
    def waiting(self) -> int:
        """How many tasks wait."""
        with self._lock:
            return sum(map(len, self._waiting.values()))

    @property
    def running(self) -> int:
        """How many tasks were given to workers."""
        return len(self._running)

    def take(self, task: tuple[Any, ...], owner: str, *, held: bool = False) -> Turn:
        """Take a task; it is given to a worker when its turn comes.

        For one that is held a place is kept then, until it is let go or taken back.
        """
        turn = Turn(self, task, owner, held)
        with self._lock:
            self._waiting.setdefault(owner, deque()).append(turn)
        self._go_on()
        return turn

    def take_back(self, turn: Turn) -> None:
        """See `Turn.cancel`."""
        with self._lock:
            given = turn.given
            queue = self._waiting.get(turn.owner)
            if given is None and queue is not None and turn in queue:
                queue.remove(turn)
                if not queue:
                    del self._waiting[turn.owner]
            kept_free = given is None and turn in self._running
            if kept_free:
                self._running.discard(turn)
        if given is not None:
            given.cancel()
        else:
            turn.future.cancel()
            turn.come.cancel()
        if kept_free:
            self._go_on()

    def let_go(self, turn: Turn) -> None:
        """See `Turn.go`."""
        with self._lock:
            given = turn in self._running and self._given(turn)
        if not given:
            self._go_on()

    def close(self) -> None:
        """Let nothing that waits be taken up."""
        with self._lock:
            left = [turn for queue in self._waiting.values() for turn in queue]
            self._waiting.clear()
        for turn in left:
            turn.future.cancel()
            turn.come.cancel()

    def _go_on(self) -> None:
        while True:
            with self._lock:
                if len(self._running) >= self._places or not self._waiting:
                    return
                owner, queue = self._waiting.popitem(last=False)
                turn = queue.popleft()
                if queue:
                    self._waiting[owner] = queue  # behind all others
                self._running.add(turn)
                if not turn.held:
                    self._given(turn)
            if turn.come.set_running_or_notify_cancel():
                turn.come.set_result(None)

    def _given(self, turn: Turn) -> bool:
        """Give a task whose turn has come to a worker; the lock is held."""
        try:
            turn.given, turn.home = self._give(turn.task)
        except BaseException as exc:
            self._running.discard(turn)
            _settle(turn.future, error=exc)
            return False
        turn.given.add_done_callback(partial(self._ended, turn))
        return True

    def _ended(self, turn: Turn, given: Future[Outcome]) -> None:
        with self._lock:
            self._running.discard(turn)
        if given.cancelled():
            turn.future.cancel()
        elif (error := given.exception()) is not None:
            _settle(turn.future, error=error)
        else:
            _settle(turn.future, value=given.result())
        self._go_on()


def _settle(
    future: Future[Outcome], value: Outcome | None = None, error: BaseException | None = None
) -> None:
    """End a future that nobody ended before; who waited may have gone."""
    if not future.set_running_or_notify_cancel():
        return
    if error is not None:
        future.set_exception(error)
    elif value is not None:
        future.set_result(value)
