"""Handles: a job that may still be running, as whoever asked for it has it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from letterply.errors import JobFailed, LetterplyError
from letterply.storage import Finished, JobRecord, KeyRecord
from letterply.workers import Submitted

if TYPE_CHECKING:
    from letterply.jobs.service import JobService

__all__ = ["JobHandle", "Run"]


@dataclass(slots=True, eq=False)
class Run:
    """A job that is being computed."""

    kind: str
    request: dict[str, Any]
    task: asyncio.Task[JobRecord] | None = None
    submitted: Submitted[Finished] | None = None
    kept: bool = False
    keys: tuple[KeyRecord, ...] = ()
    owners: tuple[str, ...] = ()


class JobHandle:
    """The right to a job that may still be running.

    Attributes:
        id: of the job.
        repeated: whether its owner had the answer already.

    """

    def __init__(
        self,
        job_service: JobService,
        id_: str,
        run: Run | None,
        record: JobRecord | None,
        *,
        repeated: bool = False,
    ) -> None:
        self.id = id_
        self.repeated = repeated
        self._service = job_service
        self._run = run
        self._record = record

    async def result(self, wait_s: float) -> JobRecord | None:
        """Return the finished job, or None when it is still running after `wait_s`.

        Raises:
            LetterplyError: what the job failed with.

        """
        if self._record is None and self._run is not None and self._run.task is not None:
            # Shielded: who stops waiting does not stop the job.
            done, _ = await asyncio.wait((self._run.task,), timeout=wait_s)
            if done and self._run.task.cancelled():
                raise JobFailed(
                    "The job was stopped: it was deleted, or the service ends.", code="job-stopped"
                )
            if done:
                self._record = self._run.task.result()
        return self._record

    async def keep(self) -> JobRecord:
        """Keep the job although it is not finished, and return what is known of it."""
        run = self._run
        if run is not None:
            run.kept = True
            if run.task is None or not run.task.done():
                await asyncio.to_thread(
                    self._service.store.keep_waiting, self.id, run.kind, run.request
                )
                for key in run.keys:
                    await asyncio.to_thread(self._service.store.save_key, key)
            if run.task is not None and run.task.done():
                error = run.task.exception()
                if isinstance(error, LetterplyError):  # it failed while it was being kept
                    await self._service.note_failure(self.id, error)
        return await self._service.look_up(self.id)
