"""Dry runs: each made once however often it is asked for, wherever.

A dry run may take longer than a request should be held: who is turned away and asks again finds the
one that goes on, or what it came to. What it came to is in the vault, so any process finds it; one
that is asked while another is at it begins as well, and both come to the same.
"""

from __future__ import annotations

import asyncio
import logging
import math
from collections.abc import Awaitable, Callable

from letterply.errors import JobFailed, LetterplyError
from letterply.exports import Document
from letterply.storage import Vault

__all__ = ["Estimates"]

_log = logging.getLogger(__name__)


class Estimates:
    """Dry runs; lives on one event loop.

    Args:
        vault: where is kept what they came to.

    """

    def __init__(self, vault: Vault) -> None:
        self._vault = vault
        self._under_way: dict[str, asyncio.Task[Document]] = {}

    async def get(
        self, key: str, find_out: Callable[[], Awaitable[Document]], wait_s: float
    ) -> Document:
        """Return what a dry run came to.

        Args:
            key: digest of all that it depends on.
            find_out: makes it, where it was not begun.
            wait_s: how long to wait for it.

        Raises:
            JobFailed: `service-busy`, it goes on still; what it raised itself.

        """
        task = self._under_way.get(key)
        if task is None:
            task = asyncio.create_task(self._run(key, find_out))
            self._under_way[key] = task
            task.add_done_callback(lambda done: self._end(key, done))
        # Not cancelled with whoever asked: the next one finds it.
        done, _ = await asyncio.wait((task,), timeout=None if wait_s == math.inf else wait_s)
        if not done:
            raise JobFailed(
                "The dry run goes on: ask for it again in a moment.", code="service-busy"
            )
        return task.result()

    async def _run(self, key: str, find_out: Callable[[], Awaitable[Document]]) -> Document:
        known = await asyncio.to_thread(self._vault.recall, key)
        if known is not None:
            return known
        found = await find_out()
        try:
            await asyncio.to_thread(self._vault.note, key, found)
        except (LetterplyError, OSError):  # away or full: it is found out again
            _log.warning("a dry run could not be kept")
        return found

    def _end(self, key: str, task: asyncio.Task[Document]) -> None:
        self._under_way.pop(key, None)
        if not task.cancelled():
            task.exception()  # seen: nobody may be waiting any more

    async def close(self) -> None:
        """Stop what goes on."""
        tasks = list(self._under_way.values())
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
