"""The jobs that this process computes, and those that it takes up from others.

What is under way is in the database (`letterply.storage.runs`): each run has one worker, whichever
process asked for it first. Now and then this one gives a sign of life for its own and looks at the
others': a kept one that waits is taken up when there is a place for it here, wherever it was asked
for; one whose worker is gone, too. A worker on this machine is known to be gone when its process
is; another one when nothing was heard of it for a while: counted while this process itself reached
the database, by its own clock, so that neither a database that was away nor a clock that was set
makes anybody seem gone.

While the database or the place of the artifacts is away, or its disk full, a job that is done
insists: its answer is stored as soon as that is possible.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
from collections.abc import Awaitable, Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any, TypeVar

from letterply.errors import JobFailed, LetterplyError, NotFound
from letterply.jobs.handles import Run
from letterply.jobs.identity import job_id
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job
from letterply.jobs.silence import Silence
from letterply.storage import (
    LONGEST_PAUSE_S,
    SHORTEST_PAUSE_S,
    Finished,
    JobRecord,
    JobState,
    KnownWorker,
    OpenRun,
    RunLost,
    Runs,
    Store,
    error_from_facts,
    facts_of_error,
    is_away,
)
from letterply.workers import ComputePool, has_ended

__all__ = ["USUAL_PLAN", "Running", "RunningPlan", "over"]

T = TypeVar("T")

_log = logging.getLogger(__name__)

_ATTEMPTS = 4
"""A job whose workers were gone so often is given up."""

_FOLLOW_S = 0.25


@dataclass(frozen=True, slots=True)
class RunningPlan:
    """How jobs are computed.

    Attributes:
        job: what is computed: kind, request and resources in, what was found out.
        limit_s: processor time of a job; that of the pool when left out.
        dead_after_s: silence after which another worker counts as gone.
        look_every_s: how often a sign of life is given, and others are looked at.
        on_end: told kind, outcome and duration in s of every job that was computed.

    """

    job: Callable[[str, Mapping[str, Any], Resources], Finished] = run_job
    limit_s: float | None = None
    dead_after_s: float = 30.0
    look_every_s: float = 1.0
    on_end: Callable[[str, str, float], None] = lambda kind, outcome, seconds: None


USUAL_PLAN = RunningPlan()
"""Of a service that decides nothing."""


class Running:
    """Runs of this process.

    Args:
        runs: those of all, as this worker has them.
        store: where jobs are kept.
        pool: where they are computed.
        plan: how.
        resources_of: owner and request -> what a worker process needs, and the digests of it.
        instead: what there is of a plan that took too long: owner and request -> places by name.

    """

    def __init__(
        self,
        runs: Runs,
        store: Store,
        pool: ComputePool,
        plan: RunningPlan,
        resources_of: Callable[[str, Mapping[str, Any]], tuple[Resources, tuple[str, ...]]],
        instead: Callable[[str, Mapping[str, Any]], Awaitable[dict[str, str]]],
    ) -> None:
        self.runs = runs
        self._store = store
        self._pool = pool
        self._plan = plan
        self._resources_of = resources_of
        self._instead = instead
        self._local: dict[str, Run] = {}
        self._tasks: set[asyncio.Task[JobRecord]] = set()
        self._entering = 0
        self._silence = Silence()
        self._workers: dict[str, KnownWorker] = {}
        self._strange: dict[str, float] = {}
        self._wake = asyncio.Event()
        self._watch: asyncio.Task[None] | None = None

    @property
    def under_way(self) -> int:
        """How many jobs this process has, in its queue or at work."""
        return len(self._local) + self._entering

    @property
    def has_place(self) -> bool:
        """Whether a worker of the pool is free."""
        return self._pool.under_way + self._entering < self._pool.workers

    def get(self, id_: str) -> Run | None:
        """Return a run of this process."""
        return self._local.get(id_)

    @contextlib.contextmanager
    def entering(self) -> Iterator[bool]:
        """Keep a place for somebody who is about to begin a run; tell whether there is one."""
        started = self.has_place
        self._entering += 1
        try:
            yield started
        finally:
            self._entering -= 1

    def begin(self, id_: str, run: Run, resources: Resources, *, started: bool) -> Run:
        """Compute a job whose run is this worker's; one that has no place yet waits for it."""
        self._local[id_] = run
        run.submitted = self._pool.submit(
            self._plan.job, run.kind, run.request, resources,
            owner=run.owner, limit_s=self._plan.limit_s, held=not started,
        )  # fmt: skip
        run.task = asyncio.create_task(self._compute(id_, run, started))
        self._tasks.add(run.task)
        run.task.add_done_callback(lambda task: self._finish(id_, run, task))
        return run

    def start(self) -> None:
        """Look at the others from now on."""
        self._watch = asyncio.create_task(self._watching())

    async def close(self) -> None:
        """Stop what is under way; what is kept waits for any worker."""
        tasks: list[asyncio.Task[Any]] = [*self._tasks]
        tasks += [self._watch] if self._watch is not None else []
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        try:
            await asyncio.to_thread(self.runs.leave)
        except LetterplyError:
            _log.warning("jobs could not be handed on: others take them up later")

    async def follow(self, id_: str, wait_s: float) -> JobRecord:
        """Return a kept job once it is over or `wait_s` have passed; raises `NotFound`."""
        deadline = time.monotonic() + wait_s
        while True:
            record = await asyncio.to_thread(self._store.job_of_any, id_)
            left = deadline - time.monotonic()
            if over(record) or left <= 0:
                return record
            await asyncio.sleep(min(_FOLLOW_S, left))

    async def take_up(self) -> int:
        """Take up what waits for a place that is free here, and what those left who are gone.

        Returns how many.
        """
        seen = await asyncio.to_thread(self.runs.look)
        self._workers = await asyncio.to_thread(self.runs.workers) if seen else {}
        beats = {name: worker.beat_at for name, worker in self._workers.items()}
        self._silence.listen(beats, 2 * self._plan.look_every_s)
        taken = 0
        for run in seen:
            gone = self._is_gone(run.worker)
            if not run.kept:
                if gone:
                    await asyncio.to_thread(self.runs.forget, run)
            elif (gone or not run.started) and self._may_take_one() and await self._adopt(run):
                taken += 1
        self._strange = {r.job: self._strange[r.job] for r in seen if r.job in self._strange}
        return taken

    def _may_take_one(self) -> bool:
        # Where orders are made as well, their tasks may have all places: one job gets its turn.
        return self.has_place or not self._local

    def _is_gone(self, name: str | None) -> bool:
        worker = self._workers.get(name) if name is not None else None
        if name is None or worker is None or has_ended(worker.process):
            return True
        return self._silence.silent_s.get(name, 0.0) > self._plan.dead_after_s

    def _is_anybody_of(self, version: str | None) -> bool:
        """Tell whether anybody is alive who has, or may have, this version of the engine."""
        return any(
            worker.engine_version in ("", version) and not self._is_gone(name)
            for name, worker in self._workers.items()
        )

    async def _adopt(self, seen: OpenRun) -> bool:
        """Take a run; tell whether it is computed here now."""
        try:
            record = await asyncio.to_thread(self._store.job_of_any, seen.job)
        except NotFound:  # it was deleted just now
            return False
        request = dict(record.request)
        try:
            resources, sources = await asyncio.to_thread(self._resources_of, seen.owner, request)
            same = job_id(record.kind, request, sources) == seen.job
        except LetterplyError as error:
            if is_away(error):
                return False
            same = False
        if not same:
            await self._leave_to_others(seen)
            return False
        if not await asyncio.to_thread(self.runs.take_over, seen):
            return False
        if seen.started and seen.attempt >= _ATTEMPTS:
            await asyncio.to_thread(self.runs.fail, seen.job, facts_of_error(_GIVEN_UP))
            return False
        self.begin(seen.job, Run(seen.kind, request, seen.owner), resources, started=True)
        return True

    async def _leave_to_others(self, seen: OpenRun) -> None:
        """Leave a job to those of its version; where there are none, say that it is outdated."""
        if not self._is_gone(seen.worker) or self._is_anybody_of(seen.engine_version):
            return
        since = self._strange.setdefault(seen.job, time.monotonic())
        if time.monotonic() - since >= self._plan.dead_after_s and await asyncio.to_thread(
            self.runs.take_over, seen
        ):
            await asyncio.to_thread(self.runs.fail, seen.job, facts_of_error(_OUTDATED))

    async def _watching(self) -> None:
        while True:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._wake.wait(), self._plan.look_every_s)
            self._wake.clear()
            try:
                await self._beat()
                await self.take_up()
            except LetterplyError as error:
                _log.warning("the store is away: %s", error.message)
            except Exception:
                # Nothing is lost: the next look tries it all again.
                _log.exception("a look at the jobs of others failed")

    async def _beat(self) -> None:
        """Give a sign of life as long as something is under way; let go what was taken away."""
        mine = dict(self._local)
        if not mine:
            return
        progress = {
            id_: asdict(run.submitted.progress)
            for id_, run in mine.items()
            if run.submitted is not None and run.submitted.progress is not None
        }
        held = await asyncio.to_thread(self.runs.beat, progress)
        for id_, run in mine.items():
            if id_ not in held and not run.ended and run.submitted is not None:
                run.lost = True  # deleted elsewhere, or taken up by somebody who had a place
                run.submitted.take_back()

    def _finish(self, id_: str, run: Run, task: asyncio.Task[JobRecord]) -> None:
        self._tasks.discard(task)
        if self._local.get(id_) is run:
            del self._local[id_]
        self._wake.set()
        if not task.cancelled():
            task.exception()  # seen: nobody may be waiting any more

    async def _compute(self, id_: str, run: Run, started: bool) -> JobRecord:
        began = time.monotonic()
        outcome = "stopped"
        try:
            if started or await self._has_turn(id_, run):
                record = await self._answer(id_, run)
                outcome = "done"
                return record
        except RunLost:
            pass
        except asyncio.CancelledError:
            if not run.lost:
                raise
        except LetterplyError as error:
            outcome = error.code
            if error.code == "job-timeout" and run.kind == "plan":
                error.data["made"] = await self._instead(run.owner, run.request)
            await self._fail(id_, run, error)
            raise
        except Exception as error:
            outcome = "fault"
            _log.exception("a job failed outside the worker", extra={"job": id_})
            failed = JobFailed(
                "The work failed through a fault of the service.", code="job-crashed"
            )
            await self._fail(id_, run, failed)
            raise failed from error
        finally:
            self._plan.on_end(run.kind, outcome, time.monotonic() - began)
        return await self._others(id_, run)

    async def _answer(self, id_: str, run: Run) -> JobRecord:
        """Wait for what a job found out, and store it; raises `RunLost` and what it failed with."""
        assert run.submitted is not None
        finished = await run.submitted.result()
        run.ended = True
        return await insist(
            lambda: self._store.of(run.owner).save_done(
                id_, run.kind, run.request, finished, worker=self.runs.worker
            )
        )

    async def _has_turn(self, id_: str, run: Run) -> bool:
        """Wait for a place in the pool; tell whether nobody else had one sooner."""
        assert run.submitted is not None
        try:
            await run.submitted.turn()
            mine = await insist(lambda: self.runs.start(id_))
        except BaseException:
            run.submitted.take_back()
            raise
        if mine:
            run.submitted.go()
        else:
            run.submitted.take_back()
        return mine

    async def _others(self, id_: str, run: Run) -> JobRecord:
        """Return what another worker makes of a job; raises `NotFound` when it was deleted."""
        run.ended = True
        if self._local.get(id_) is run:  # it may come back to this worker
            del self._local[id_]
        record = await self.follow(id_, float("inf"))
        if record.failure is not None:
            raise error_from_facts(record.failure)
        return record

    async def _fail(self, id_: str, run: Run, error: LetterplyError) -> None:
        run.ended, run.failure = True, facts_of_error(error)
        await insist(lambda: self.runs.fail(id_, facts_of_error(error)))


async def insist(work: Callable[[], T]) -> T:
    """Do something to the store on a thread, again and again as long as that is away or full."""
    pause = SHORTEST_PAUSE_S
    while True:
        try:
            return await asyncio.to_thread(work)
        except (LetterplyError, OSError) as error:
            if not is_away(error):
                raise
        _log.warning("an answer cannot be stored now; it is tried again")
        await asyncio.sleep(pause)
        pause = min(LONGEST_PAUSE_S, 2 * pause)


def over(record: JobRecord) -> bool:
    """Tell whether nothing more happens to a job."""
    return record.state in (JobState.DONE, JobState.FAILED)


_OUTDATED = JobFailed(
    "The work was cut off and the service has changed since: ask for it again.",
    code="job-outdated",
)
_GIVEN_UP = JobFailed(
    "The job was given up: it took the service down, time after time.", code="job-crashed"
)
