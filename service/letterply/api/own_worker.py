"""The service's own worker for orders: a process of its own, started when one is asked about.

That is the first order, or the question what one would take. It is the same worker that others
run beside a PostgreSQL server (`letterply worker`), and it ends with the service: it listens to
the pipe that it was given as input.
"""

from __future__ import annotations

import json
import logging
import os
import subprocess
import sys
import threading

from letterply.api.settings import Settings

__all__ = ["OwnWorker"]

_log = logging.getLogger(__name__)

_GRACE_S = 10.0


class OwnWorker:
    """Starts a worker when there is work, and again should it have died.

    Args:
        settings: of the service; `order_worker` says whether it has one of its own.

    """

    def __init__(self, settings: Settings) -> None:
        self.wanted = settings.order_worker == "own"
        self._environment = {
            **os.environ,
            "LETTERPLY_DATA_FOLDER": str(settings.data_folder),
            "LETTERPLY_WORKERS": str(settings.workers),
            "LETTERPLY_NICENESS": str(settings.niceness),
            "LETTERPLY_MEMORY_LIMIT_MB": str(settings.memory_limit_mb),
            "LETTERPLY_ORDER_TIME_LIMIT_S": str(settings.order_time_limit_s),
            "LETTERPLY_TIME_LIMIT_S": str(settings.time_limit_s),
            "LETTERPLY_DEAD_AFTER_S": str(settings.dead_after_s),
            "LETTERPLY_CATALOGUE_FILES": json.dumps([str(f) for f in settings.catalogue_files]),
        }
        if settings.database_url is not None:
            self._environment["LETTERPLY_DATABASE_URL"] = settings.database_url
        if settings.bucket_url is not None:
            self._environment["LETTERPLY_BUCKET_URL"] = settings.bucket_url
        self._process: subprocess.Popen[bytes] | None = None
        self._stopping = threading.Event()
        self._lock = threading.Lock()

    def start(self) -> None:
        """See to it that the worker is there."""
        with self._lock:
            if not self.wanted or self._process is not None or self._stopping.is_set():
                return
            self._process = self._started()
        threading.Thread(target=self._keep_alive, name="own-worker", daemon=True).start()

    def stop(self) -> None:
        """Stop the worker; what it is at is taken up at the next start."""
        self._stopping.set()
        with self._lock:
            process = self._process
        if process is None:
            return
        if process.stdin is not None:
            process.stdin.close()
        try:
            process.wait(_GRACE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

    def _started(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "letterply.api.work", "--stop-with-stdin"]
        return subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, env=self._environment
        )

    def _keep_alive(self) -> None:
        pause = 1.0
        while True:
            with self._lock:
                process = self._process
            if process is None:
                return
            code = process.wait()
            if self._stopping.wait(pause):
                return
            _log.error("the worker for orders ended and is started again", extra={"code": code})
            pause = min(60.0, 2 * pause)
            with self._lock:
                if process.stdin is not None:
                    process.stdin.close()
                self._process = self._started()
