"""The job service: requests in, jobs out; repeats are answered from the store, twins share one run.

A request is normalised, gets its id, and is then looked up: in the store, among the jobs that
run, or else it is computed. What fails leaves the store as it was, unless the job had been kept
because its client went away with a promise to come back (`JobHandle.keep`): then the failure is
kept too, for the client to find. Jobs that a stop cut off are taken up again at the next start.

The service lives on one event loop. Everything slow goes to the pool or to a thread.
"""

from __future__ import annotations

import asyncio
import logging
import math
from collections.abc import Callable, Iterable, Mapping
from copy import copy
from pathlib import Path
from types import MappingProxyType
from typing import Any

from letterply.errors import Conflict, JobFailed, LetterplyError, NotFound
from letterply.jobs.allowances import check_room, check_turn
from letterply.jobs.handles import JobHandle, Run
from letterply.jobs.identity import job_id
from letterply.jobs.keys import Keys
from letterply.jobs.making import Draw, FileMaking
from letterply.jobs.resources import Resources, resources_for
from letterply.jobs.run import normalise_request, run_job
from letterply.jobs.shops import Shops
from letterply.jobs.vetting import vet_job
from letterply.storage import (
    Allowance,
    Finished,
    JobRecord,
    JobState,
    KeyRecord,
    Store,
    canonical_json,
    digest,
    facts_of_error,
)
from letterply.units import speaking
from letterply.workers import ComputePool, Progress

__all__ = ["JobHandle", "JobService"]

_log = logging.getLogger(__name__)


class JobService:
    """Takes requests and sees that each is computed once, whoever asks for it.

    Who asked holds what was made, and sees nothing of others (`of`).

    Args:
        store: where finished jobs are kept.
        pool: where they are computed.
        short_lane: where files are made and other short questions answered, so that they do not
            wait behind jobs; the pool itself when left out.
        catalogue_files: the shop's own catalogue files.
        shared_folder: where is kept what jobs share; None to find out everything anew.
        run: what is computed, in a worker: kind, request and resources in, what was found out.
        draw: kind of what others make -> what makes files of it, from what is stored of it and
            their paths.
        max_waiting: how many jobs may be under way at once.
        file_wait_s: how long to wait for files that are made when asked for; None for any time.
        on_end: told kind, outcome and duration in s of every job that was computed.

    """

    def __init__(
        self,
        store: Store,
        pool: ComputePool,
        short_lane: ComputePool | None = None,
        *,
        catalogue_files: Iterable[Path] = (),
        shared_folder: Path | None = None,
        run: Callable[[str, Mapping[str, Any], Resources], Finished] = run_job,
        draw: Mapping[str, Draw] = MappingProxyType({}),
        max_waiting: int = 64,
        file_wait_s: float | None = None,
        on_end: Callable[[str, str, float], None] = lambda kind, outcome, seconds: None,
    ) -> None:
        self.store = store
        self.pool = pool
        self.short_lane = short_lane or pool
        self._shared_folder = str(shared_folder) if shared_folder is not None else None
        self._job = run
        self._making = FileMaking(self.short_lane, draw, file_wait_s)
        self._max_waiting = max_waiting
        self._on_end = on_end
        self._running: dict[str, Run] = {}
        self._keys = Keys()
        self._allowance = Allowance()
        files = tuple(catalogue_files)
        self.shops = Shops(store, files)
        kept = [store.keep_file(path.read_bytes()) for path in files]
        # Workers read the copies: what a job used can not change under it.
        self._catalogue_digests = tuple(name for name, _ in kept)
        self._catalogue_files = tuple(str(path) for _, path in kept)

    @property
    def owner(self) -> str:
        """Whose jobs these are."""
        return self.store.owner

    def of(self, owner: str, allowance: Allowance | None = None) -> JobService:
        """Return the same service as one owner sees it, with what the owner may use."""
        theirs = copy(self)
        theirs.store = self.store.of(owner)
        theirs.shops = self.shops.of(owner)
        theirs._allowance = allowance or Allowance()
        return theirs

    @property
    def under_way(self) -> int:
        """How many jobs of all owners are queued or running."""
        return len(self._running)

    def check_room(self) -> None:
        """Refuse what would be kept for an owner who has no room left; raises `OverAllowance`."""
        check_room(self._allowance, self.store)

    def check_turn(self, open_orders: int | None = None) -> None:
        """Refuse work of an owner who has as much under way as may be; raises `OverAllowance`.

        Counted are the jobs, or the orders where their number is given.
        """
        if open_orders is not None:
            check_turn(self._allowance, self.owner, open_orders, "orders")
        else:
            mine = sum(self.owner in run.owners for run in self._running.values())
            check_turn(self._allowance, self.owner, mine, "jobs")

    async def place(
        self, kind: str, request: Mapping[str, Any], *, key: str | None = None
    ) -> JobHandle:
        """Take a request.

        Args:
            kind: `stack`, `check` or `plan`.
            request: as it came.
            key: idempotency key with its owner before it, as one text.

        Raises:
            InputError: the request cannot be met as written.
            Conflict: `idempotency-key-reused` (another payload) or `idempotency-key-running`.
            JobFailed: `service-busy`.

        """
        asked, clean = await asyncio.to_thread(self._settled, kind, request)
        resources, sources = await asyncio.to_thread(self.resources, clean)
        id_ = job_id(kind, clean, sources)
        use = None
        if key is not None:
            # Of what was asked for: a shop may change before the same is asked for once more.
            fingerprint = digest(canonical_json({"kind": kind, "request": asked}))
            use = KeyRecord(key, fingerprint, id_)
            answered = await self._check_key(use)
            if answered is not None:
                return answered
        record = await self._finished(id_)
        if record is not None:
            new = await asyncio.to_thread(self.store.hold, kind, id_)
            if use is not None:
                await asyncio.to_thread(self.store.save_key, use)
            return JobHandle(self, id_, None, record, repeated=not new)
        run = self._running.get(id_)
        if run is None:
            self.check_turn()
            await asyncio.to_thread(self.check_room)
            if self.under_way >= self._max_waiting:
                raise JobFailed(
                    "Too many requests are under way: try again in a moment.", code="service-busy"
                )
            if self.under_way >= self.pool.workers:  # what waits is not refused after the wait
                await self._vet(kind, clean, resources)
            run = self._running.get(id_) or self._start(id_, kind, clean, resources)
        if self.owner not in run.owners:
            run.owners = (*run.owners, self.owner)
        if use is not None:
            self._keys.note(use)
            run.keys = (*run.keys, use)
        return JobHandle(self, id_, run, None)

    def _settled(
        self, kind: str, request: Mapping[str, Any]
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return a request in normal form, and the same with its shop written into it."""
        with speaking(self.shops.units_of(request)):
            asked = normalise_request(kind, request)
            return asked, normalise_request(kind, self.shops.settle(request))

    async def _vet(self, kind: str, clean: Mapping[str, Any], resources: Resources) -> None:
        """Refuse at once what needs no geometry to be refused; raises `InputError`."""
        try:
            await self.short_lane.run(vet_job, kind, clean, resources, owner=self.owner)
        except JobFailed:
            _log.warning("a job is queued without having been vetted")

    async def look_up(self, id_: str) -> JobRecord:
        """Return a job that is kept or running; raises `NotFound`."""
        run = self._running.get(id_)
        record = await asyncio.to_thread(self.store.job, id_)
        if run is not None and not await asyncio.to_thread(self._is_made, record):
            started = run.submitted is not None and run.submitted.started
            state = JobState.RUNNING if started else JobState.QUEUED
            return JobRecord(
                id_, record.kind, state, record.request, record.created_at, record.engine_version
            )
        return record

    def progress(self, id_: str) -> Progress | None:
        """Return how far a job is that runs; None when nothing is known of it."""
        submitted = self._running[id_].submitted if id_ in self._running else None
        return submitted.progress if submitted is not None else None

    async def wait_for(self, id_: str, wait_s: float) -> JobRecord:
        """Return a kept job once it is finished or `wait_s` have passed; raises `NotFound`."""
        run = self._running.get(id_)
        if run is not None and run.task is not None and wait_s > 0:
            await asyncio.wait((run.task,), timeout=wait_s)
        return await self.look_up(id_)

    async def made(self, record: JobRecord, paths: Iterable[str]) -> JobRecord:
        """Return a finished job with these of its files made, each once.

        Raises:
            LetterplyError: `answer-outdated`, the job is of an earlier version of the engine and
                is to be asked for again; what the pool raises.
            JobFailed: `service-busy`, they are not made after `file_wait_s`; asked for again, the
                work goes on.

        """
        return await self._making.made(record, paths, self.store, self._found_again)

    async def _found_again(self, record: JobRecord) -> Finished:
        """Find out and store once more what a job found out."""
        request = dict(record.request)
        resources, _ = await asyncio.to_thread(self.resources, request)
        finished = await self.pool.run(self._job, record.kind, request, resources, owner=self.owner)
        await asyncio.to_thread(self.store.save_done, record.id, record.kind, request, finished)
        return finished

    async def resume(self) -> int:
        """Take up jobs that were cut off; return how many."""
        waiting = await asyncio.to_thread(self.store.unfinished)
        for record in waiting:
            request = dict(record.request)
            owners = await asyncio.to_thread(self.store.holders, record.kind, record.id)
            theirs = self.of(owners[0] if owners else self.owner)
            try:
                resources, sources = await asyncio.to_thread(theirs.resources, request)
                same = job_id(record.kind, request, sources) == record.id
            except LetterplyError:
                same = False
            if not same:
                error = JobFailed(
                    "The work was cut off and the service has changed since: ask for it again.",
                    code="job-outdated",
                )
                await self.note_failure(record.id, error)
            elif record.id not in self._running:
                run = theirs._start(record.id, record.kind, request, resources)
                run.kept, run.owners = True, owners
        return len(waiting)

    async def let_go(self, kind: str, id_: str) -> None:
        """Delete a job as far as its owner goes; one that nobody else wants is stopped.

        Raises:
            NotFound: `job-not-found`.

        """
        await asyncio.to_thread(self._end_holding, kind, id_)
        run = self._running.get(id_)
        if run is not None:
            run.owners = tuple(o for o in run.owners if o != self.owner)
            if not run.owners and run.task is not None:
                run.task.cancel()

    def _end_holding(self, kind: str, id_: str) -> None:
        try:
            self.store.let_go(kind, id_)
        except NotFound as exc:
            raise NotFound("job", id_) from exc

    async def note_failure(self, id_: str, error: LetterplyError) -> None:
        """Write the failure of a kept job down."""
        await asyncio.to_thread(self.store.save_failed, id_, facts_of_error(error))

    async def close(self) -> None:
        """Stop waiting for what is under way; kept jobs are taken up at the next start."""
        tasks = [run.task for run in self._running.values() if run.task is not None]
        tasks += self._making.under_way
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    def _start(self, id_: str, kind: str, request: dict[str, Any], resources: Resources) -> Run:
        run = Run(kind, request, owners=(self.owner,))
        self._running[id_] = run
        run.task = asyncio.create_task(self._compute(id_, run, resources))
        run.task.add_done_callback(lambda task: self._finish(id_, run, task))
        return run

    def _finish(self, id_: str, run: Run, task: asyncio.Task[JobRecord]) -> None:
        self._running.pop(id_, None)
        self._keys.forget(run.keys)
        if not task.cancelled():
            task.exception()  # seen: nobody may be waiting any more

    async def _compute(self, id_: str, run: Run, resources: Resources) -> JobRecord:
        began = asyncio.get_running_loop().time()
        outcome = "stopped"
        try:
            run.submitted = self.pool.submit(
                self._job, run.kind, run.request, resources, owner=self.owner
            )
            finished = await run.submitted.result()
            record = await asyncio.to_thread(
                self.store.save_done, id_, run.kind, run.request, finished, run.keys, run.owners
            )
            outcome = "done"
        except LetterplyError as error:
            outcome = error.code
            if error.code == "job-timeout" and run.kind == "plan":
                error.data["made"] = await self._made_without_plan(run)
            if run.kept:
                await self.note_failure(id_, error)
            raise
        except Exception as error:
            outcome = "fault"
            _log.exception("a job failed outside the worker", extra={"job": id_})
            failed = JobFailed(
                "The work failed through a fault of the service.", code="job-crashed"
            )
            if run.kept:
                await self.note_failure(id_, failed)
            raise failed from error
        finally:
            self._on_end(run.kind, outcome, asyncio.get_running_loop().time() - began)
        return record

    async def _made_without_plan(self, run: Run) -> dict[str, str]:
        """Return where the layers and checks are of a plan that took too long.

        They are the same as those of a check, so they are kept as one; one that was made before
        is found.
        """
        try:
            handle = await self.place("check", run.request)
            record = await handle.result(math.inf)
        except LetterplyError:
            return {}
        return {"check": f"/v1/checks/{record.id}"} if record is not None else {}

    async def _finished(self, id_: str) -> JobRecord | None:
        def look() -> JobRecord | None:
            try:
                record = self.store.job_of_any(id_)
            except LetterplyError:
                return None
            return record if self._is_made(record) else None

        return await asyncio.to_thread(look)

    def _is_made(self, record: JobRecord) -> bool:
        """Tell whether a job is done and all of it there: what is damaged is made again."""
        return record.state is JobState.DONE and self.store.is_whole(record)

    async def _check_key(self, use: KeyRecord) -> JobHandle | None:
        known = await asyncio.to_thread(self._keys.known, use, self.store)
        if known is None:
            return None
        if known.job in self._running:
            raise Conflict(
                "The request with this idempotency key is still running.",
                code="idempotency-key-running",
                expected="the same request once more in a moment",
            )
        record = await self._finished(known.job)
        if record is None:
            return None
        await asyncio.to_thread(self.store.hold, record.kind, record.id)
        return JobHandle(self, known.job, None, record, repeated=True)

    def resources(self, request: Mapping[str, Any]) -> tuple[Resources, tuple[str, ...]]:
        """Return what a worker needs for this request, and the digests of it."""
        resources, digests = resources_for(
            request, self.store, self._catalogue_files, self._shared_folder
        )
        return resources, (*self._catalogue_digests, *digests)
