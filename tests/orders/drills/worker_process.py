"""A worker as a process of its own, for drills: `python -m orders.drills.worker_process ...`."""

import argparse
import os
import signal
import sys
import threading
import time
from pathlib import Path

import sqlalchemy as sa


def freeze_in_a_write(number):
    """Stop this process, once, in the transaction that adds event `number` or a later one."""
    frozen = threading.Event()

    def on_insert(connection, _cursor, statement, parameters, *_):
        if "INTO order_events" in statement:
            connection.info["event"] = max(
                p[1] for p in (parameters if isinstance(parameters, list) else [parameters])
            )

    def on_commit(connection):
        if connection.info.pop("event", 0) >= number and not frozen.is_set():
            frozen.set()
            os.kill(os.getpid(), signal.SIGSTOP)
            time.sleep(1.0)  # the signal may come to another thread first: do not go on yet

    sa.event.listen(sa.engine.Engine, "after_cursor_execute", on_insert)
    sa.event.listen(sa.engine.Engine, "commit", on_commit)


def main():
    """Work until SIGTERM, or until whoever started it is gone."""
    from letterply.workers import imported_to_stay

    with imported_to_stay():
        from letterply.jobs import RunningPlan
        from letterply.orders.engine.engine import GENERATION
        from letterply.orders.engine.worker import WorkerPlan, run_worker
        from orders.drills.quick_job import run_quick_job
        from orders.drills.quick_task import run_quick_task

    parser = argparse.ArgumentParser()
    parser.add_argument("root", type=Path)
    parser.add_argument("url")
    parser.add_argument("--bucket", help="object store of the artifacts")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--dead-after", type=float, default=3.0)
    parser.add_argument("--time-limit", type=float, default=60.0)
    parser.add_argument("--freeze-at-event", type=int, default=0, help="of an order, before COMMIT")
    parser.add_argument("--generation", type=int, default=GENERATION)
    given = parser.parse_args()
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())

    def watch_stdin():
        sys.stdin.buffer.read()
        stop.set()

    threading.Thread(target=watch_stdin, daemon=True).start()
    if given.freeze_at_event:
        freeze_in_a_write(given.freeze_at_event)
    plan = WorkerPlan(
        root=given.root,
        database_url=given.url,
        bucket_url=given.bucket,
        processes=given.processes,
        time_limit_s=given.time_limit,
        dead_after_s=given.dead_after,
        task=run_quick_task,
        generation=given.generation,
        preload=("orders.drills.quick_task",),
        jobs=RunningPlan(run_quick_job, look_every_s=0.2),
    )
    run_worker(plan, stop, lambda name: print(name, flush=True))


if __name__ == "__main__":
    main()
