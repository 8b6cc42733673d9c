"""Working: settings in, a worker for orders and single jobs until it is told to stop.

`python -m letterply.api.work` (or `letterply worker`) reads the environment, as the service does;
arguments override it. Imports are inside the functions: its processes import this module again.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

__all__ = ["main"]

_ABOUT = (
    "Run one more worker for orders. Settings come from the environment, as those of the service; "
    "what is given here goes before them. Ctrl-C stops it."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a worker from the command line; return the exit code."""
    from letterply.workers import imported_to_stay

    with imported_to_stay():
        from letterply.api.http.logs import set_up_logging
        from letterply.api.operate import opened_store
        from letterply.api.settings import read_settings
        from letterply.errors import LetterplyError
        from letterply.jobs import RunningPlan
        from letterply.orders import WorkerPlan, run_worker

    parser = argparse.ArgumentParser(prog="letterply worker", description=_ABOUT)
    parser.add_argument("--data-folder", type=Path, help="where results and fonts are kept")
    parser.add_argument("--database-url", help="index of the store")
    parser.add_argument("--workers", type=int, help="processes that compute")
    parser.add_argument("--log-level", default=os.environ.get("LETTERPLY_LOG_LEVEL", "warning"))
    parser.add_argument("--stop-with-stdin", action="store_true", help="stop when stdin closes")
    given = vars(parser.parse_args(arguments))
    level, with_stdin = given.pop("log_level"), given.pop("stop_with_stdin")
    os.umask(0o077)  # what is stored is read by nobody else
    try:
        settings = read_settings(**{k: v for k, v in given.items() if v is not None})
    except LetterplyError as exc:
        print(f"letterply: {exc}", file=sys.stderr)
        return 2
    set_up_logging(level)
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    if with_stdin:
        threading.Thread(target=_set_at_end_of_stdin, args=(stop,), daemon=True).start()
    plan = WorkerPlan(
        root=settings.data_folder,
        database_url=settings.database_url,
        bucket_url=settings.bucket_url,
        processes=settings.workers,
        niceness=settings.niceness,
        time_limit_s=settings.order_time_limit_s,
        memory_limit_bytes=settings.memory_limit_mb * 1_000_000,
        dead_after_s=settings.dead_after_s,
        jobs=RunningPlan(limit_s=settings.time_limit_s),
        catalogue_files=settings.catalogue_files,
    )
    try:
        with opened_store(settings):
            pass  # what is wrong with it is said in a sentence
        run_worker(plan, stop, lambda name: print(f"letterply worker {name}", flush=True))
    except (LetterplyError, OSError) as exc:
        print(f"letterply: {exc}", file=sys.stderr)
        return 2
    return 0


def _set_at_end_of_stdin(stop: threading.Event) -> None:
    while os.read(0, 4096):
        pass
    stop.set()


if __name__ == "__main__":
    sys.exit(main())
