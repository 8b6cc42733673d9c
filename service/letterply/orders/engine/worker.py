"""A worker: takes tasks of orders off the queues, and single jobs, until it is told to stop.

Any number of workers, on any number of machines, share a PostgreSQL database and the place of the
artifacts; several on one machine may share a folder with SQLite. Its processes die with it.
"""

from __future__ import annotations

import logging
import math
import os
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import sqlalchemy as sa

from letterply.jobs import JobService, RunningPlan
from letterply.orders.book import OrderBook
from letterply.orders.engine.engine import GENERATION, Queueing, launch, prepare, take_over
from letterply.orders.engine.heartbeat import Heartbeat
from letterply.orders.engine.single_jobs import SingleJobs
from letterply.orders.engine.workflows import WorkerContext, declare
from letterply.orders.pipeline.tasks import TaskFunction, run_task
from letterply.orders.states import OrderState
from letterply.storage import Database, PatientVault, Store, open_vault, sqlite_url, vault_place
from letterply.workers import ComputePool, worker_name

__all__ = ["WorkerPlan", "run_worker"]

_log = logging.getLogger(__name__)

_AHEAD = 2
"""Tasks taken up beyond those that processes are free for; more would only be lost to a crash."""


_SINGLE_JOBS = RunningPlan(limit_s=120.0)


@dataclass(frozen=True, slots=True)
class WorkerPlan:
    """How a worker works.

    Attributes:
        root: folder of the store.
        database_url: of its index; None for the file in the folder.
        bucket_url: of the object store of the artifacts; None for the folder.
        processes: how many compute at once.
        niceness: how far they step back behind the rest of the machine.
        time_limit_s: a task of an order that takes more processor time is killed and reported.
        memory_limit_bytes: address space of a process.
        dead_after_s: silence after which another worker counts as gone.
        poll_s: how often the queues are looked at while work is open.
        task: what a process runs for a task.
        preload: modules that a process imports before its first task.
        generation: of the workflows.
        jobs: how single jobs are computed that were accepted and wait.
        catalogue_files: the shop's own, as the service has them: single jobs draw on them.

    """

    root: Path
    database_url: str | None = None
    bucket_url: str | None = None
    processes: int = 1
    niceness: int = 0
    time_limit_s: float = 300.0
    memory_limit_bytes: int = 4_000_000_000
    dead_after_s: float = 30.0
    poll_s: float = 0.15
    task: TaskFunction = run_task
    preload: tuple[str, ...] = ("letterply.orders.pipeline.tasks", "letterply.jobs.run")
    generation: int = GENERATION
    jobs: RunningPlan = _SINGLE_JOBS
    catalogue_files: tuple[Path, ...] = ()


def run_worker(
    plan: WorkerPlan, stop: threading.Event, on_ready: Callable[[str], None] = lambda name: None
) -> None:
    """Work until `stop` is set, then end this process.

    Runs on the main thread, as its processes die with that thread. Threads of the engine that wait
    for something would keep the process alive, so it ends without asking them.

    Args:
        plan: how to work.
        stop: ends the work; what is under way is taken up by others, or at the next start.
        on_ready: told the worker's name once it takes tasks.

    """
    name = worker_name()
    plan.root.mkdir(parents=True, exist_ok=True)
    pool = ComputePool(
        plan.processes,
        plan.time_limit_s,
        plan.memory_limit_bytes,
        niceness=plan.niceness,
        preload=plan.preload,
        cache_folder=plan.root / "compiled",
    )
    pool.start()
    closing = threading.Event()
    try:
        heartbeat = _start_on_orders(plan, name, pool, closing)
        jobs = SingleJobs(partial(_open_jobs, plan, pool))
        jobs.start()
        _log.info("worker started", extra={"worker": name})
        on_ready(name)
        stop.wait()
    except BaseException:
        _log.exception("the worker failed")
        pool.stop()
        raise
    closing.set()
    jobs.stop()
    heartbeat.stop()
    pool.stop()
    logging.shutdown()
    sys.stdout.flush()
    os._exit(0)


def _start_on_orders(
    plan: WorkerPlan, name: str, pool: ComputePool, closing: threading.Event
) -> Heartbeat:
    """Take tasks off the queues from now on; return what beats for this worker."""
    url = plan.database_url or sqlite_url(plan.root / "index.sqlite")
    place = vault_place(plan.root, plan.bucket_url)
    database = Database(url, math.inf)
    book = OrderBook(database)
    database.patiently(lambda: prepare(url))
    queueing = Queueing(url, plan.generation)
    # A beat that cannot be noted now is missed: it does not wait as the work does.
    heartbeat = Heartbeat(
        Database(url),
        name,
        plan.generation,
        plan.dead_after_s,
        take_over,
        queueing.has_work,
        partial(_each_beat, book, queueing, plan),
    )
    context = WorkerContext(
        database=database,
        book=book,
        queueing=queueing,
        vault=PatientVault(open_vault(place)),
        place=place,
        pool=pool,
        heartbeat=heartbeat,
        task=plan.task,
        closing=closing,
    )
    launch(
        url,
        name,
        lambda: declare(context),
        generation=plan.generation,
        concurrency=plan.processes + _AHEAD,
        poll_s=plan.poll_s,
    )
    heartbeat.start()
    return heartbeat


def _each_beat(book: OrderBook, queueing: Queueing, plan: WorkerPlan) -> None:
    queueing.keep_pace(plan.poll_s)
    _succeed(book, queueing, plan.dead_after_s)


def _open_jobs(plan: WorkerPlan, pool: ComputePool) -> JobService:
    store = Store(plan.root, plan.database_url, plan.bucket_url)
    return JobService(
        store,
        pool,
        catalogue_files=plan.catalogue_files,
        shared_folder=plan.root / "shared",
        plan=replace(plan.jobs, dead_after_s=plan.dead_after_s),
    )


def _succeed(book: OrderBook, queueing: Queueing, dead_after_s: float) -> None:
    """Begin orders anew that workers of an earlier generation left open."""
    for state in book.left_behind(queueing.generation, dead_after_s):

        def start(db: sa.Connection, attempt: int, state: OrderState = state) -> None:
            queueing.start_order(db, state.id, attempt, state.designs)

        if book.renew(state, queueing.generation, start):
            queueing.cancel(state.id, state.attempt)
