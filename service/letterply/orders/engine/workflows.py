"""The two workflows: an order, and a batch of its tasks.

What an order does is the pipeline (`letterply.orders.pipeline.stages`): here its stages become
queued batches of tasks, and every step is one that may be repeated. A task asks the vault first,
computes in a worker process with hard limits, and never raises: it answers with what went wrong.

In a long order short lines go several to a batch, so that the records of the engine (each a write
that waits for the disk) cost little a line. A batch that is cut off loses none of them: whoever
takes it up finds the answers of those that were done in the vault.
"""

from __future__ import annotations

import json
import logging
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from dbos import DBOS

from letterply.errors import JobFailed, LetterplyError
from letterply.orders.book import OrderBook
from letterply.orders.codec import Facts, plain, value_of
from letterply.orders.engine.engine import BATCH_WORKFLOW, ORDER_WORKFLOW, Queueing
from letterply.orders.engine.heartbeat import Heartbeat
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import Manifest, Problem, kept, problem_in
from letterply.orders.pipeline.layouts import SheetSpec
from letterply.orders.pipeline.stages import OrderPipeline, run_pipeline
from letterply.orders.pipeline.task_requests import Sources
from letterply.orders.pipeline.tasks import Task, TaskFunction
from letterply.orders.states import OrderPhase
from letterply.storage import Database, Vault, while_away
from letterply.workers import ComputePool

__all__ = ["WorkerContext", "declare"]

_Found = TypeVar("_Found")

_log = logging.getLogger(__name__)

_ATTEMPTS = 4
"""A batch that takes its worker down so often is given up, its tasks are then tried one by one."""

_MOST_BATCHES = 32
"""Lines go one to a batch up to so many, and"""

_MOST_TASKS = 8
"""at most so many to a batch: small orders wait for no more."""

_DIARY_S = 0.3
"""How long a task that has ended may wait to be told of; nothing depends on it but progress."""


@dataclass(frozen=True, slots=True)
class WorkerContext:
    """What a worker has at hand while it works.

    Attributes:
        database: of the store.
        book: the orders in it.
        queueing: for the tasks of an order.
        vault: what tasks made, and
        place: where it is.
        pool: the processes that compute.
        heartbeat: knows which orders were stopped.
        task: what a process runs.
        closing: set when the worker stops: what is cut off then must leave no record.
        poll_s: how often a phase is looked at.

    """

    database: Database
    book: OrderBook
    queueing: Queueing
    vault: Vault
    place: str
    pool: ComputePool
    heartbeat: Heartbeat
    task: TaskFunction
    closing: threading.Event
    poll_s: float = 0.2


def declare(context: WorkerContext) -> None:
    """Make the workflows known to the engine."""

    @DBOS.workflow(name=ORDER_WORKFLOW, max_recovery_attempts=50)
    def order(order_id: str, attempt: int, priority: int) -> bool:
        run = _OrderRun(context, order_id, attempt, priority)
        manifest: Manifest | Problem
        try:
            manifest = run_pipeline(run.pipeline(), run.stage)
        except LetterplyError as error:
            manifest = Problem.of(error)
        except Exception:
            # A disk that is full, say: the order has failed and may be asked for again.
            _unless_closing(context)
            _log.exception("an order failed")
            manifest = Problem.of(_FAULT)
        if isinstance(manifest, Problem):
            failed = OrderPhase.FAILED
            step("fail", partial(context.book.end, order_id, failed, manifest, attempt))
            return False
        return step("finish", partial(context.book.finish, order_id, attempt, manifest))

    @DBOS.workflow(name=BATCH_WORKFLOW, max_recovery_attempts=_ATTEMPTS)
    def batch(order_id: str, attempt: int, phase: str, tasks: Sequence[Facts]) -> dict[str, Facts]:
        # No steps: the workflow's own result is the one record that is needed.
        return _BatchRun(context, order_id, attempt, phase).run(
            [value_of(Task, facts) for facts in tasks]
        )


def step(name: str, work: Callable[[], _Found]) -> _Found:
    """Do work as a step of the workflow, under a name."""
    return DBOS.run_step({"name": name}, work)


class _OrderRun:
    """One attempt of an order, stage by stage."""

    def __init__(self, context: WorkerContext, order_id: str, attempt: int, priority: int) -> None:
        self._shift = context
        self._id, self._attempt, self._priority = order_id, attempt, priority

    def pipeline(self) -> OrderPipeline:
        """Return the pipeline of the order; reading it changes nothing."""
        state = self._shift.book.state(self._id)
        content = json.loads(self._shift.vault.read(state.content))
        return OrderPipeline(
            value_of(Order, content["order"]),
            value_of(Sources, content["sources"]),
            self._shift.vault,
            tuple(SheetSpec.of_earlier(raw) for raw in content["earlier"]),
        )

    def stage(self, phase: OrderPhase, tasks: Sequence[Task]) -> Mapping[str, Facts]:
        """Run the tasks of a stage, each key once; return the answers by key, as they are kept."""
        different = {t.key: t for t in tasks}
        problems, given_up = self._turn(phase, 1, _batches(list(different.values())))
        if given_up:  # perhaps through the fault of one of them
            more, _ = self._turn(phase, 2, [[different[key]] for key in given_up])
            problems |= more
        answers: dict[str, Facts] = {}
        for key in different:
            answer = self._shift.vault.recall(key)
            answers[key] = answer or kept(problems.get(key) or Problem.of(_GIVEN_UP))
        return answers

    def _turn(
        self, phase: OrderPhase, turn: int, batches: list[list[Task]]
    ) -> tuple[dict[str, Problem], list[str]]:
        """Return the problems of tasks that were not met, and the keys of those given up unheard.

        Alone in its batch, a task that was given up has had its turn.
        """
        step(f"queue-{phase}-{turn}", partial(self._queue, phase, turn, batches))
        ended = step(f"wait-{phase}-{turn}", partial(self._wait, phase, turn))
        problems: dict[str, Problem] = {}
        given_up: list[str] = []
        for batch in batches:
            found = ended.get(batch[0].key)
            if found is not None:
                problems |= {key: value_of(Problem, facts) for key, facts in found.items()}
            elif len(batch) > 1:
                given_up += [task.key for task in batch]
        return problems, given_up

    def _queue(self, phase: OrderPhase, turn: int, batches: list[list[Task]]) -> None:
        context = self._shift
        if turn == 1:
            context.book.begin_phase(self._id, self._attempt, phase, sum(map(len, batches)))
        facts = [[plain(task) for task in batch] for batch in batches]
        context.database.write(
            lambda db: context.queueing.queue_batches(
                db, self._id, self._attempt, phase, turn, facts, self._priority
            )
        )

    def _wait(self, phase: OrderPhase, turn: int) -> dict[str, Mapping[str, Facts] | None]:
        """Wait until no batch of the turn is open; return what they could not compute."""
        context = self._shift
        while context.queueing.any_open(self._id, self._attempt, phase, turn):
            if context.heartbeat.is_stopped(self._id, self._attempt):
                break
            time.sleep(context.poll_s)
        return context.queueing.ended(self._id, self._attempt, phase, turn)


def _batches(tasks: list[Task]) -> list[list[Task]]:
    """Return tasks in batches, the long ones first: else one may begin when all others end."""
    tasks = sorted(tasks, key=lambda task: -task.bulk)
    size = min(_MOST_TASKS, max(1, len(tasks) // _MOST_BATCHES))
    return [tasks[at : at + size] for at in range(0, len(tasks), size)]


class _BatchRun:
    """One batch, task by task; what has ended is told of, now and then."""

    def __init__(self, context: WorkerContext, order_id: str, attempt: int, phase: str) -> None:
        self._shift = context
        self._id, self._attempt, self._phase = order_id, attempt, phase
        self._told: dict[str, Facts] = {}
        self._told_at = time.monotonic()

    def run(self, tasks: Sequence[Task]) -> dict[str, Facts]:
        """Return the problems of tasks that were not met, by key; answers are in the vault."""
        problems: dict[str, Facts] = {}
        for task in tasks:
            if self._stopped():
                problems[task.key] = plain(Problem.of(_STOPPED))
                continue
            problem = problem_in(self._compute(task))
            if problem is not None:
                problems[task.key] = plain(problem)
            self._note(task, problem)
        self._tell()
        return problems

    def _stopped(self) -> bool:
        return self._shift.heartbeat.is_stopped(self._id, self._attempt)

    def _compute(self, task: Task) -> Facts:
        context = self._shift
        known = context.vault.recall(task.key)
        if known is not None and context.vault.is_whole(known):
            return known

        def compute() -> Facts:
            submitted = context.pool.submit(
                context.task, context.place, task.kind, task.key, task.args
            )
            return submitted.wait(self._stopped)

        try:
            return while_away(compute, give_up=self._stopped)
        except LetterplyError as error:
            _unless_closing(context)
            return kept(Problem.of(error))
        except Exception:
            _unless_closing(context)
            raise

    def _note(self, task: Task, problem: Problem | None) -> None:
        told = {"phase": self._phase, "ok": problem is None, "key": task.key, **task.about}
        if problem is not None:
            told["problem"] = problem.message
        self._told[task.key] = told
        if time.monotonic() - self._told_at > _DIARY_S:
            self._tell()

    def _tell(self) -> None:
        if self._told:
            self._shift.book.note_tasks(self._id, self._attempt, self._phase, self._told)
        self._told, self._told_at = {}, time.monotonic()


def _unless_closing(context: WorkerContext) -> None:
    """Hold this thread until the process ends, if it is about to.

    A task whose process was stopped with the worker has not failed: another worker takes it up.
    """
    if context.closing.is_set():
        threading.Event().wait()


_GIVEN_UP = JobFailed(
    "The task was given up: it took its worker down, time after time.", code="job-crashed"
)
_FAULT = JobFailed(
    "The order failed through a fault of the service; ask for it again.", code="job-crashed"
)
_STOPPED = JobFailed("The order was cancelled.", code="order-cancelled")
