"""The job service: requests in, jobs out; repeats are answered from the store, twins share one run.

A request is normalised, gets its id, and is then looked up: in the store, among the jobs that
run in any process on it, or else it is computed. What fails leaves the store as it was, unless the
job had been kept: its client went away with a promise to come back (`JobHandle.keep`), it had to
wait for a worker, or somebody else asked for it too. Then the failure is kept as well, to be found.
What was kept is made by any process (`letterply.jobs.running`), whatever becomes of this one.

The service lives on one event loop. Everything slow goes to the pool or to a thread.
"""

from __future__ import annotations

import asyncio
import logging
import math
from collections.abc import Iterable, Mapping
from copy import copy
from dataclasses import asdict, dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any
from weakref import WeakValueDictionary

from letterply.errors import Conflict, InputError, JobFailed, LetterplyError, NotFound
from letterply.jobs.allowances import check_room, check_turn
from letterply.jobs.handles import JobHandle, Run
from letterply.jobs.identity import job_id
from letterply.jobs.making import Draw, FileMaking
from letterply.jobs.resources import Resources, resources_for
from letterply.jobs.run import normalise_request
from letterply.jobs.running import USUAL_PLAN, Running, RunningPlan
from letterply.jobs.shops import Shops, units_in
from letterply.jobs.vetting import refuse_strangers, vet_job
from letterply.storage import (
    Allowance,
    Begun,
    Finished,
    JobRecord,
    JobState,
    KeyRecord,
    Runs,
    Store,
    Wanted,
    canonical_json,
    digest,
    key_reused,
)
from letterply.units import speaking
from letterply.workers import ComputePool, process_mark, worker_name

__all__ = ["JobHandle", "JobService"]

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Seen:
    """What the store has of a job that is asked for.

    Attributes:
        answer: where it is done and whole.
        damaged: whether it is done and not whole.
        strange: whether it names what is not there.

    """

    answer: JobHandle | None
    damaged: bool = False
    strange: bool = False


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
        plan: how jobs are computed.
        draw: kind of what others make -> what makes files of it, from what is stored of it and
            their paths.
        max_waiting: how many jobs may be under way at once in this process.
        file_wait_s: how long to wait for files that are made when asked for; None for any time.

    """

    def __init__(
        self,
        store: Store,
        pool: ComputePool,
        short_lane: ComputePool | None = None,
        *,
        catalogue_files: Iterable[Path] = (),
        shared_folder: Path | None = None,
        plan: RunningPlan = USUAL_PLAN,
        draw: Mapping[str, Draw] = MappingProxyType({}),
        max_waiting: int = 64,
        file_wait_s: float | None = None,
    ) -> None:
        self.store = store
        self.pool = pool
        self.short_lane = short_lane or pool
        self._shared_folder = str(shared_folder) if shared_folder is not None else None
        self._job = plan.job
        self._making = FileMaking(self.short_lane, draw, file_wait_s)
        self._max_waiting = max_waiting
        self.running = Running(
            Runs(store.database, worker_name(), process_mark()), store, pool, plan,
            lambda owner, request: self.of(owner).resources(request),
            lambda owner, request: self.of(owner)._made_without_plan(request),
        )  # fmt: skip
        self._begin_one: WeakValueDictionary[str, asyncio.Lock] = WeakValueDictionary()
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
        """How many jobs of all owners are queued or running in this process."""
        return self.running.under_way

    def check_room(self) -> None:
        """Refuse what would be kept for an owner who has no room left; raises `OverAllowance`."""
        check_room(self._allowance, self.store)

    def check_turn(self, under_way: int, what: str = "jobs") -> None:
        """Refuse work of an owner who has as much under way as may be; raises `OverAllowance`."""
        check_turn(self._allowance, self.owner, under_way, what)

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
        asked, clean, resources, sources = await asyncio.to_thread(self._settled, kind, request)
        id_ = job_id(kind, clean, sources)
        use = None
        if key is not None:
            # Of what was asked for: a shop may change before the same is asked for once more.
            fingerprint = digest(canonical_json({"kind": kind, "request": asked}))
            use = KeyRecord(key, fingerprint, id_)
            answered = await self._check_key(use)
            if answered is not None:
                return answered
        wanted = Wanted(id_, kind, clean, self.owner)
        # One after the other, so that twins find the first one's run.
        async with self._begin_one.setdefault(id_, asyncio.Lock()):
            new = self.running.get(id_) is None
            seen = await asyncio.to_thread(self._seen, wanted, use, resources, new)
            if seen.answer is not None:
                return seen.answer
            if new:
                if self.under_way >= self._max_waiting:
                    raise JobFailed(
                        "Too many requests are under way: try again in a moment.",
                        code="service-busy",
                    )
                # What waits is not refused after the wait, nor a typo by way of a job.
                if seen.strange or not self.running.has_place:
                    await self._vet(kind, clean, resources)
            return await self._begin(wanted, resources, use, seen.damaged)

    def _seen(
        self, wanted: Wanted, use: KeyRecord | None, resources: Resources, new: bool
    ) -> _Seen:
        """Return what the store has of a job; raises as `check_room`, `refuse_strangers`."""
        record = self._kept(wanted.job)
        if record is not None and self._is_made(record):
            return _Seen(self._held(wanted, use, record))
        if new:
            self.check_room()
        strange = new and refuse_strangers(wanted.kind, wanted.request, resources)
        return _Seen(None, record is not None and record.state is JobState.DONE, strange)

    def _held(self, wanted: Wanted, use: KeyRecord | None, record: JobRecord) -> JobHandle:
        """Return an answer that is there; who asked holds it from now on."""
        new = self.store.hold(wanted.kind, wanted.job)
        if use is not None:
            self.store.save_key(use)
        return JobHandle(self, wanted, None, record, repeated=not new)

    async def _begin(
        self, wanted: Wanted, resources: Resources, use: KeyRecord | None, damaged: bool
    ) -> JobHandle:
        """Begin a run, or join the one that there is; raises as `place`."""
        run = self.running.get(wanted.job)
        if run is not None and run.owner == self.owner and use is None:
            return JobHandle(self, wanted, run)
        with self.running.entering() as started:
            begun = await asyncio.to_thread(
                self.running.runs.begin, wanted,
                started=started, key=use, check_turn=self.check_turn, made_anew=damaged,
            )  # fmt: skip
            if begun is Begun.MINE:
                run = Run(wanted.kind, dict(wanted.request), self.owner)
                self.running.begin(wanted.job, run, resources, started=started)
                return JobHandle(self, wanted, run)
        if begun is Begun.DONE:  # it was made just now
            record = await self._finished(wanted.job)
            if record is not None:
                return await asyncio.to_thread(self._held, wanted, use, record)
        return JobHandle(self, wanted, self.running.get(wanted.job))

    def _settled(
        self, kind: str, request: Mapping[str, Any]
    ) -> tuple[dict[str, Any], dict[str, Any], Resources, tuple[str, ...]]:
        """Return a request in normal form, with its shop written into it, and what that needs."""
        settled, refusal = dict(request), None
        try:
            settled = self.shops.settle(request)
        except InputError as error:  # what is wrong with the rest is told first
            refusal = error
        with speaking(units_in(settled) if refusal is None else "mm"):
            asked = normalise_request(kind, request)
            if refusal is not None:
                raise refusal
            clean = asked if settled == request else normalise_request(kind, settled)
        return asked, clean, *self.resources(clean)

    async def _vet(self, kind: str, clean: Mapping[str, Any], resources: Resources) -> None:
        """Refuse at once what needs no geometry to be refused; raises `InputError`."""
        try:
            await self.short_lane.run(vet_job, kind, clean, resources, owner=self.owner)
        except JobFailed:
            _log.warning("a job is queued without having been vetted")

    async def look_up(self, id_: str) -> JobRecord:
        """Return a job that is kept or running; raises `NotFound`."""
        run = self.running.get(id_)
        record = await asyncio.to_thread(self.store.job, id_)
        if run is None or run.submitted is None:
            return record
        if await asyncio.to_thread(self._is_made, record):
            return record
        started, told = run.submitted.started, run.submitted.progress
        return JobRecord(
            id_, record.kind, JobState.RUNNING if started else JobState.QUEUED, record.request,
            record.created_at, record.engine_version,
            progress=asdict(told) if told is not None else None,
        )  # fmt: skip

    async def wait_for(self, id_: str, wait_s: float) -> JobRecord:
        """Return a kept job once it is finished or `wait_s` have passed; raises `NotFound`."""
        run = self.running.get(id_)
        if run is not None and run.task is not None and wait_s > 0:
            await asyncio.wait((run.task,), timeout=wait_s)
        elif wait_s > 0:
            await self.look_up(id_)  # none of another owner's is waited for
            await self.running.follow(id_, wait_s)
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
        """Take up jobs that wait or were cut off, now and from now on; return how many now."""
        taken = await self.running.take_up()
        self.running.start()
        return taken

    async def let_go(self, kind: str, id_: str) -> None:
        """Delete a job as far as its owner goes; one that nobody else wants is stopped.

        Raises:
            NotFound: `job-not-found`.
            Conflict: `offer-open`, a customer is shown it.

        """
        gone = await asyncio.to_thread(self._end_holding, kind, id_)
        run = self.running.get(id_)
        if gone and run is not None and run.task is not None:
            run.task.cancel()

    def _end_holding(self, kind: str, id_: str) -> bool:
        try:
            return self.store.let_go(kind, id_)
        except NotFound as exc:
            raise NotFound("job", id_) from exc

    async def close(self) -> None:
        """Stop waiting for what is under way; kept jobs are taken up by others, or later."""
        for task in self._making.under_way:
            task.cancel()
        await asyncio.gather(*self._making.under_way, return_exceptions=True)
        await self.running.close()

    async def _made_without_plan(self, request: Mapping[str, Any]) -> dict[str, str]:
        """Return where the layers and checks are of a plan that took too long.

        They are the same as those of a check, so they are kept as one; one that was made before
        is found.
        """
        try:
            handle = await self.place("check", request)
            record = await handle.result(math.inf)
        except LetterplyError:
            return {}
        return {"check": f"/v1/checks/{record.id}"} if record is not None else {}

    async def _finished(self, id_: str) -> JobRecord | None:
        def look() -> JobRecord | None:
            record = self._kept(id_)
            return record if record is not None and self._is_made(record) else None

        return await asyncio.to_thread(look)

    def _kept(self, id_: str) -> JobRecord | None:
        try:
            return self.store.job_of_any(id_)
        except NotFound:
            return None

    def _is_made(self, record: JobRecord) -> bool:
        """Tell whether a job is done and all of it there: what is damaged is made again."""
        return record.state is JobState.DONE and self.store.is_whole(record)

    async def _check_key(self, use: KeyRecord) -> JobHandle | None:
        """Return what a key was used for before; None when it is new, or has no answer.

        Raises:
            Conflict: `idempotency-key-reused`, `idempotency-key-running`.

        """
        known, running = await asyncio.to_thread(self.store.key_in_use, use.key)
        if known is None:
            return None
        if known.fingerprint != use.fingerprint:
            raise key_reused()
        if running:
            raise Conflict(
                "The request with this idempotency key is still running.",
                code="idempotency-key-running",
                expected="the same request once more in a moment",
            )
        record = await self._finished(known.job)
        if record is None:
            return None
        await asyncio.to_thread(self.store.hold, record.kind, record.id)
        wanted = Wanted(record.id, record.kind, record.request, self.owner)
        return JobHandle(self, wanted, None, record, repeated=True)

    def resources(self, request: Mapping[str, Any]) -> tuple[Resources, tuple[str, ...]]:
        """Return what a worker needs for this request, and the digests of it."""
        resources, digests = resources_for(
            request, self.store, self._catalogue_files, self._shared_folder
        )
        return resources, (*self._catalogue_digests, *digests)
