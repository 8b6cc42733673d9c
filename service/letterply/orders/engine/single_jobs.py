"""Single jobs beside the tasks of orders: a job service of its own, on a thread of the worker.

It takes no requests; it takes up what was accepted anywhere and waits, or whose process is gone
(`letterply.jobs.running`), in the same pool as the tasks.
"""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Callable

from letterply.errors import LetterplyError
from letterply.jobs import JobService

__all__ = ["SingleJobs"]

_log = logging.getLogger(__name__)

_AGAIN_S = 2.0


class SingleJobs:
    """Takes up single jobs from `start` to `stop`.

    Args:
        open_service: opens the job service; called on the thread that it lives on.

    """

    def __init__(self, open_service: Callable[[], JobService]) -> None:
        self._open = open_service
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="single-jobs", daemon=True)

    def start(self) -> None:
        """Take up jobs from now on."""
        self._thread.start()

    def stop(self) -> None:
        """Stop; what is under way waits for any other worker."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                asyncio.run(self._serve())
            except LetterplyError as error:  # the store is away, say
                _log.warning("single jobs cannot be taken up now: %s", error.message)
            except Exception:
                _log.exception("single jobs are taken up anew")
            self._stop.wait(_AGAIN_S)

    async def _serve(self) -> None:
        service = self._open()
        try:
            await service.resume()
            await asyncio.to_thread(self._stop.wait)
        finally:
            await service.close()
            service.store.close()
