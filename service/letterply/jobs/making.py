"""Files of finished jobs, made when somebody asks for them: each once, whoever asks.

A record and paths in, the record with those files made out. They are made from the stored answer;
one that can not be read is found out again by whoever runs jobs.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Mapping, Sequence
from weakref import WeakValueDictionary

from letterply import ENGINE_VERSION
from letterply.errors import JobFailed, LetterplyError
from letterply.jobs.files import make_files
from letterply.storage import Finished, JobRecord, Store
from letterply.workers import ComputePool

__all__ = ["Draw", "FileMaking"]

Draw = Callable[[bytes, Sequence[str]], Awaitable[dict[str, bytes]]]
"""Makes files of what is stored of a job; those that are made together with them come along."""


class FileMaking:
    """Makes files of finished jobs.

    Args:
        lane: where they are made.
        draw: kind of what others make -> what makes files of it, from what is stored of it and
            their paths.
        wait_s: how long to wait for them; None for any time.

    """

    def __init__(self, lane: ComputePool, draw: Mapping[str, Draw], wait_s: float | None) -> None:
        self._lane = lane
        self._draw = draw
        self._wait_s = wait_s
        self._under_way: dict[tuple[str, frozenset[str]], asyncio.Task[JobRecord]] = {}
        self._locks: WeakValueDictionary[str, asyncio.Lock] = WeakValueDictionary()

    @property
    def under_way(self) -> tuple[asyncio.Task[JobRecord], ...]:
        """What is being made."""
        return tuple(self._under_way.values())

    async def made(
        self,
        record: JobRecord,
        paths: Iterable[str],
        store: Store,
        again: Callable[[JobRecord], Awaitable[Finished]],
    ) -> JobRecord:
        """Return a finished job with these of its files made.

        Args:
            record: the job.
            paths: of the files.
            store: of whoever asks for them.
            again: finds out and stores once more what a job found out.

        Raises:
            LetterplyError: `answer-outdated`, the job is of an earlier version of the engine and
                is to be asked for again; what the lane and `again` raise.
            JobFailed: `service-busy`, they are not made in time; asked for again, the work goes on.

        """
        wanted = frozenset(paths)
        if not _missing(record, wanted):
            return record
        key = record.id, wanted
        task = self._under_way.get(key)
        if task is None:
            task = asyncio.create_task(self._make(record, wanted, store, again))
            self._under_way[key] = task
            task.add_done_callback(lambda ended: self._forget(key, ended))
        # Not cancelled with whoever asked: the next one finds what was made.
        done, _ = await asyncio.wait((task,), timeout=self._wait_s)
        if not done:
            raise JobFailed(
                "The file is being made: ask for it again in a moment.", code="service-busy"
            )
        return task.result()

    def _forget(self, key: tuple[str, frozenset[str]], task: asyncio.Task[JobRecord]) -> None:
        self._under_way.pop(key, None)
        if not task.cancelled():
            task.exception()  # seen: nobody may be waiting any more

    async def _make(
        self,
        record: JobRecord,
        wanted: frozenset[str],
        store: Store,
        again: Callable[[JobRecord], Awaitable[Finished]],
    ) -> JobRecord:
        async with self._locks.setdefault(record.id, asyncio.Lock()):
            record = await asyncio.to_thread(store.job, record.id)
            left = _missing(record, wanted)
            if left:
                files = await self._files(record, left, store, again)
                record = await asyncio.to_thread(store.save_made, record.id, files)
        return record

    async def _files(
        self,
        record: JobRecord,
        paths: list[str],
        store: Store,
        again: Callable[[JobRecord], Awaitable[Finished]],
    ) -> dict[str, bytes]:
        try:
            stored = await asyncio.to_thread(store.read_answer, record)
            if record.kind in self._draw:
                return await self._draw[record.kind](stored, paths)
            return await self._lane.run(make_files, stored, paths, owner=store.owner)
        except LetterplyError as error:
            unreadable = error.code in ("answer-outdated", "artifact-damaged")
            ours = record.kind not in self._draw and record.engine_version == ENGINE_VERSION
            if not unreadable or not ours:
                raise
        finished = await again(record)
        return await self._lane.run(make_files, finished.answer, paths, owner=store.owner)


def _missing(record: JobRecord, wanted: frozenset[str]) -> list[str]:
    """Return the paths of files that were not made yet."""
    return [a.path for a in record.artifacts if a.digest is None and a.path in wanted]
