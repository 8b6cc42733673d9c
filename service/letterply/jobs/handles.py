"""Handles: a job that may still be running, here or elsewhere, as whoever asked for it has it."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from letterply.errors import JobFailed, LetterplyError, NotFound
from letterply.storage import Finished, JobRecord, JobState, Wanted, error_from_facts
from letterply.workers import Submitted

if TYPE_CHECKING:
    from letterply.jobs.service import JobService

__all__ = ["JobHandle", "Run"]


@dataclass(slots=True, eq=False)
class Run:
    """A job that this process has in its queue or computes.

    Attributes:
        kind, request: of the job.
        owner: for whom it is computed.
        task: ends with it.
        submitted: what the pool has of it.
        ended: whether it is computed: what is left is to store it.
        lost: whether it was taken away: deleted elsewhere, or taken up by another worker.
        failure: facts of the error that it ended with.

    """

    kind: str
    request: dict[str, Any]
    owner: str
    task: asyncio.Task[JobRecord] | None = None
    submitted: Submitted[Finished] | None = None
    ended: bool = False
    lost: bool = False
    failure: Mapping[str, Any] | None = None


class JobHandle:
    """The right to a job that may still be running.

    Attributes:
        id: of the job.
        repeated: whether its owner had the answer already.

    """

    def __init__(
        self,
        job_service: JobService,
        wanted: Wanted,
        run: Run | None = None,
        record: JobRecord | None = None,
        *,
        repeated: bool = False,
    ) -> None:
        self.id = wanted.job
        self.repeated = repeated
        self._service = job_service
        self._wanted = wanted
        self._run = run
        self._record = record

    async def result(self, wait_s: float) -> JobRecord | None:
        """Return the finished job, or None when it is still running after `wait_s`.

        Raises:
            LetterplyError: what the job failed with.

        """
        if self._record is not None:
            return self._record
        if self._run is None:
            return await self._result_of_others(wait_s)
        if self._run.task is not None:
            # Shielded: who stops waiting does not stop the job.
            done, _ = await asyncio.wait((self._run.task,), timeout=wait_s)
            if done and self._run.task.cancelled():
                raise _stopped()
            if done:
                try:
                    self._record = self._run.task.result()
                except NotFound as exc:  # it was deleted while another process was at it
                    raise _stopped() from exc
        return self._record

    async def _result_of_others(self, wait_s: float) -> JobRecord | None:
        try:
            record = await self._service.running.follow(self.id, wait_s)
        except NotFound as exc:
            raise _stopped() from exc
        if record.failure is not None:
            raise error_from_facts(record.failure)
        if record.state is JobState.DONE:
            self._record = record
        return self._record

    async def keep(self) -> JobRecord:
        """Keep the job although it is not finished, and return what is known of it.

        Raises:
            LetterplyError: what it has failed with in the meantime.

        """
        run, store = self._run, self._service.store
        if run is not None and run.task is not None and run.task.done():
            await self.result(0)
        wanted = self._wanted
        await asyncio.to_thread(store.keep_waiting, self.id, wanted.kind, wanted.request)
        if run is not None and run.failure is not None:  # it failed while it was being kept
            await asyncio.to_thread(store.save_failed, self.id, run.failure)
        return await self._service.look_up(self.id)


def _stopped() -> LetterplyError:
    return JobFailed(
        "The job was stopped: it was deleted, or the service ends.", code="job-stopped"
    )
