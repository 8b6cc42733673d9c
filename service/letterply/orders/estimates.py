"""Dry runs: each made once however often it is asked for while it goes on; nothing is stored.

A dry run may take longer than a request should be held: who is turned away and asks again finds the
one that goes on, or what it came to.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Awaitable, Callable

from letterply.errors import JobFailed
from letterply.exports import Document

__all__ = ["Estimates"]

_LATELY = 16
"""How many of those that ended are kept."""


class Estimates:
    """Dry runs of late; lives on one event loop."""

    def __init__(self) -> None:
        self._begun: dict[str, asyncio.Task[Document]] = {}

    async def get(
        self, key: str, find_out: Callable[[], Awaitable[Document]], wait_s: float
    ) -> Document:
        """Return what a dry run came to.

        Args:
            key: all that it depends on.
            find_out: makes it, where it was not begun.
            wait_s: how long to wait for it.

        Raises:
            JobFailed: `service-busy`, it goes on still; what it raised itself.

        """
        task = self._begun.get(key)
        if task is None:
            task = asyncio.ensure_future(_run(find_out))
            self._begun[key] = task
            task.add_done_callback(lambda done: self._end(key, done))
        # Not cancelled with whoever asked: the next one finds it.
        done, _ = await asyncio.wait((task,), timeout=None if wait_s == math.inf else wait_s)
        if not done:
            raise JobFailed(
                "The dry run goes on: ask for it again in a moment.", code="service-busy"
            )
        return task.result()

    def _end(self, key: str, task: asyncio.Task[Document]) -> None:
        if task.cancelled() or task.exception() is not None:
            self._begun.pop(key, None)  # it may do better another time
        ended = [k for k, t in self._begun.items() if t.done()]
        for gone in ended[:-_LATELY]:
            del self._begun[gone]

    async def close(self) -> None:
        """Stop what goes on."""
        tasks = list(self._begun.values())
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def _run(find_out: Callable[[], Awaitable[Document]]) -> Document:
    return await find_out()
