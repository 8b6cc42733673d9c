"""The compute pool: functions in, values out, each within a hard limit of time and memory.

Work never runs on the event loop: it goes to worker processes that are started afresh (spawn),
so nothing of the parent leaks into them. The limit of time counts the processor time of a task:
what is refused does not hang on how busy the machine is. A guard by the clock stands far behind it,
for what waits instead of working. A task that runs out of time is killed with its worker;
one that runs out of memory fails; one that takes its worker down fails alone. What a worker
raises on purpose (`LetterplyError`) passes through; the rest becomes `JobFailed`.

Whoever hands in many tasks does not make others wait for all of them: the pool takes up one of each
owner in turn (`letterply.workers.turns`).

Workers die with their parent. The kernel takes the *thread* that started a worker for its
parent, so `start` belongs on a thread that lives as long as the pool: the event loop's.
"""

from __future__ import annotations

import asyncio
import itertools
import logging
import multiprocessing
import os
from collections.abc import Callable
from concurrent.futures import CancelledError, Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any, Generic, TypeVar, cast

from pebble import ProcessExpired, ProcessPool

from letterply.errors import JobFailed, LetterplyError
from letterply.workers.failures import crashed, expired, waited_out
from letterply.workers.process import (
    OUT_OF_TIME,
    Ending,
    Outcome,
    WorkerSetup,
    enter,
    guarded,
    is_there,
)
from letterply.workers.progress import Channel, Progress
from letterply.workers.turns import Turn, Turns

__all__ = ["ComputePool", "Submitted"]

T = TypeVar("T")

_log = logging.getLogger(__name__)

_CLOCK_FACTOR = 10.0
"""The guard by the clock over the limit of processor time: a task may get a tenth of a core."""

_TASKS_A_WORKER = 1000
"""A worker is replaced after so many tasks, so that a slow leak never grows; starting one takes
some seconds of a processor."""


_GRACE_S = 10.0
"""How long a task that nobody wants may be in compiled code before its worker is killed."""


class Submitted(Generic[T]):
    """A task that has been handed in."""

    def __init__(
        self,
        pool: ComputePool,
        function: Callable[..., T],
        args: tuple[Any, ...],
        owner: str,
        limit_s: float | None,
        held: bool,
    ):
        self._pool = pool
        self._function = function
        self._args = args
        self._owner = owner
        self._limit_s = pool.time_limit_s if limit_s is None else limit_s
        self._ticket = next(pool._tickets)
        self._schedule(held)

    def _schedule(self, held: bool = False) -> None:
        task = (self._function, self._args, self._limit_s, self._ticket)
        self._inner = self._pool._schedule(task, self._owner, held)

    async def turn(self) -> None:
        """Wait until there is a place for it, which is kept until `go` or `take_back`."""
        await asyncio.wrap_future(self._inner.come)

    def go(self) -> None:
        """Let one that was held begin."""
        self._inner.go()

    def take_back(self) -> None:
        """Let one that was held not begin."""
        self._inner.cancel()

    @property
    def progress(self) -> Progress | None:
        """How far it is; None before a worker has said anything of it."""
        channel = self._pool._channel
        return channel.at(self._ticket) if channel is not None else None

    @property
    def started(self) -> bool:
        """Whether a worker has taken it up."""
        return self._inner.started or self._inner.future.done()

    def abandon(self) -> None:
        """Want it no more: it ends where it is, and its worker goes on with the next task."""
        if self._pool._channel is not None and not self._inner.future.done():
            self._pool._channel.abandon(self._ticket)

    async def result(self) -> T:
        """Wait for the value.

        Raises:
            LetterplyError: what the function raised on purpose.
            JobFailed: `job-timeout`, `job-memory`, `job-crashed` or `job-abandoned`;
                `service-busy`, no worker of a pool with limited patience took it up in time.

        """
        try:
            outcome = await self._outcome()
        except BrokenProcessPool:
            # The pool fell apart around the task, perhaps through another's fault: once more.
            self._pool._replace(self._inner.home)
            self._schedule()
            try:
                outcome = await self._outcome()
            except BrokenProcessPool as exc:
                raise crashed(None) from exc
        return cast(T, self._pool._read(outcome))

    def wait(self, give_up: Callable[[], bool], *, every_s: float = 0.25) -> T:
        """Wait for the value on a thread; once `give_up` says so, the task is killed.

        Raises:
            LetterplyError: as `result`; `order-cancelled` when it was given up.

        """
        for last in (False, True):
            try:
                return cast(T, self._pool._read(self._outcome_on_thread(give_up, every_s)))
            except BrokenProcessPool as exc:
                if last:
                    raise crashed(None) from exc
                self._pool._replace(self._inner.home)
                self._schedule()
        raise AssertionError("not reached")

    def _outcome_on_thread(self, give_up: Callable[[], bool], every_s: float) -> Outcome:
        while True:
            try:
                return self._inner.future.result(timeout=every_s)
            except CancelledError as exc:
                raise JobFailed("The order was cancelled.", code="order-cancelled") from exc
            except ProcessExpired as exc:
                raise expired(exc.exitcode, self._limit_s) from exc
            except TimeoutError as exc:
                if self._inner.future.done():  # the task's own limit, not that of this look
                    raise waited_out(self._limit_s, self._pool.clock_factor) from exc
            if give_up():
                self._inner.cancel()  # kills the process when the task is running

    async def _outcome(self) -> Outcome:
        ended = asyncio.wrap_future(self._inner.future)
        try:
            if self._pool.patience_s is not None:
                await self._pool.warmed()  # starting a worker is not waiting in a queue
                await asyncio.wait((ended,), timeout=self._pool.patience_s)
                if not self.started:
                    raise JobFailed(
                        "Too many questions wait: try again in a moment.", code="service-busy"
                    )
            return await ended
        except ProcessExpired as exc:
            raise expired(exc.exitcode, self._limit_s) from exc
        except TimeoutError as exc:
            raise waited_out(self._limit_s, self._pool.clock_factor) from exc
        finally:
            ended.cancel()
            self._let_go()  # nobody waits any more: what has not ended need not go on

    def _let_go(self) -> None:
        """End it; its worker goes on, for a fresh one takes seconds of a processor to get ready."""
        channel = self._pool._channel
        if channel is None or not self._inner.with_a_worker:
            self._inner.cancel()
            return
        channel.abandon(self._ticket)
        asyncio.get_running_loop().call_later(_GRACE_S, self._inner.cancel)


class ComputePool:
    """Worker processes with limits.

    Args:
        workers: number of worker processes.
        time_limit_s: processor time of a task; one that takes more is killed.
        memory_limit_bytes: address space of a worker.
        preload: modules that a worker imports before its first task.
        warm_up: name of a function, `module:function`, that it calls then.
        cache_folder: where compiled code may be kept.
        tasks_a_worker: a worker is replaced after so many tasks.
        clock_factor: a task that is not done after so many times its limit by the clock is killed,
            whatever it did.
        niceness: how far the workers step back behind the rest of the machine.
        patience_s: a task that no worker has taken up after so long is turned away
            (`service-busy`); None for any time.

    """

    def __init__(
        self,
        workers: int,
        time_limit_s: float,
        memory_limit_bytes: int,
        *,
        preload: tuple[str, ...] = (),
        warm_up: str = "",
        cache_folder: Path | None = None,
        tasks_a_worker: int = _TASKS_A_WORKER,
        clock_factor: float = _CLOCK_FACTOR,
        niceness: int = 0,
        patience_s: float | None = None,
        on_phase: Callable[[str, float], None] = lambda phase, seconds: None,
    ) -> None:
        self.workers = workers
        self.patience_s = patience_s
        self.time_limit_s = time_limit_s
        self.memory_limit_bytes = memory_limit_bytes
        self.restarts = 0
        self._on_phase = on_phase
        self._preload = preload
        self._warm_up = warm_up
        self._cache_folder = cache_folder
        self._tasks_a_worker = tasks_a_worker
        self._niceness = niceness
        # Where processor time is not counted, the clock is all there is.
        self.clock_factor = 1.0 if OUT_OF_TIME is None else clock_factor
        self._context = multiprocessing.get_context("spawn")
        self._tickets = itertools.count(1)
        self._channel: Channel | None = None
        self._first: Future[bool] | None = None
        self._pool: ProcessPool | None = None
        self._turns = Turns(workers, self._hand_over)

    def start(self) -> None:
        """Start the workers; they get ready on their own."""
        if self._pool is None:
            self._channel = Channel(self._context, self._on_phase)
            self._pool = self._fresh(self._channel)
            self._first = self._pool.schedule(is_there)  # the first task starts them

    async def warmed(self) -> None:
        """Wait until a worker has been ready for work once since the start."""
        while self._first is not None and not self._first.done():
            await asyncio.wait((asyncio.wrap_future(self._first),), timeout=1.0)

    @property
    def waiting(self) -> int:
        """How many tasks wait for a worker."""
        return self._turns.waiting

    @property
    def under_way(self) -> int:
        """How many tasks wait or run."""
        return self.waiting + self.running

    @property
    def running(self) -> int:
        """How many tasks are with a worker."""
        return self._turns.running

    def submit(
        self,
        function: Callable[..., T],
        *args: Any,
        owner: str = "",
        limit_s: float | None = None,
        held: bool = False,
    ) -> Submitted[T]:
        """Hand in a function that a worker can import, with arguments that can be pickled.

        Tasks of different owners are taken up in turn.

        Args:
            function: what to run, and
            args: with what.
            owner: whose task it is.
            limit_s: its processor time, where it is not that of the pool.
            held: whether it is to wait, when its turn comes, until it is let go (`Submitted.go`).

        """
        return Submitted(self, function, args, owner, limit_s, held)

    async def run(self, function: Callable[..., T], *args: Any, owner: str = "") -> T:
        """Run a function in a worker and wait for its value; errors as `Submitted.result`."""
        return await self.submit(function, *args, owner=owner).result()

    def stop(self) -> None:
        """Stop the workers; what they were at is lost, and what waits is not taken up."""
        self._turns.close()
        if self._pool is not None:
            _end(self._pool)
            self._pool = None
        if self._channel is not None:
            self._channel.close()
            self._channel = None

    def _fresh(self, channel: Channel) -> ProcessPool:
        setup = WorkerSetup(
            parent=os.getpid(),
            memory_limit_bytes=self.memory_limit_bytes,
            niceness=self._niceness,
            cache_folder=str(self._cache_folder) if self._cache_folder else None,
            preload=self._preload,
            warm_up=self._warm_up,
            reports=channel.writer,
            board=channel.board,
        )
        return ProcessPool(
            max_workers=self.workers,
            max_tasks=self._tasks_a_worker,
            initializer=enter,
            initargs=(setup,),
            context=self._context,
        )

    def _schedule(self, task: tuple[Any, ...], owner: str, held: bool) -> Turn:
        if self._pool is None or self._channel is None:
            raise RuntimeError("the pool is not running")
        return self._turns.take(task, owner, held=held)

    def _hand_over(self, task: tuple[Any, ...]) -> tuple[Future[Outcome], ProcessPool]:
        """Give a task to the workers, its turn has come."""
        channel, (limit_s, ticket) = self._channel, task[-2:]
        if self._pool is None or channel is None:
            raise BrokenProcessPool("the pool was stopped")
        if not self._pool.active:
            self._replace(self._pool)
        home = self._pool
        channel.expect(ticket)
        future = home.schedule(guarded, args=task, timeout=limit_s * self.clock_factor)
        future.add_done_callback(lambda _: channel.forget(ticket))
        return future, home

    def _replace(self, broken: ProcessPool | None) -> None:
        """Put a fresh pool in the place of a broken one, unless that has been done."""
        if broken is None or self._pool is not broken or self._channel is None:
            return
        _log.error("the worker pool broke and is replaced")
        _end(broken)
        self.restarts += 1
        self._pool = self._fresh(self._channel)

    def _read(self, outcome: Outcome) -> Any:
        if outcome.ending is Ending.VALUE:
            return outcome.value
        if outcome.ending is Ending.ERROR:
            raise cast(LetterplyError, outcome.value)
        if outcome.ending is Ending.ABANDONED:
            raise JobFailed("Nobody wants the answer any more.", code="job-abandoned")
        if outcome.ending is Ending.MEMORY:
            raise JobFailed(
                "The request needs more memory than a job may use.",
                code="job-memory",
                expected="less text, fewer copies or larger tolerances",
                data={"memory_limit_bytes": self.memory_limit_bytes},
            )
        _log.error("a task crashed", extra={"trace": outcome.trace})
        raise crashed(None)


def _end(pool: ProcessPool) -> None:
    pool.stop()  # type: ignore[no-untyped-call]
    pool.join()
