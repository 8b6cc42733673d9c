"""The two workflows: an order, and a task of it.

What an order does is the course (`letterply.orders.work.course`): here its stages become queued
tasks, and every step is one that may be repeated. A task asks the vault first, computes in a
worker process with hard limits, and never raises: it answers with what went wrong.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dbos import DBOS

from letterply.errors import JobFailed, LetterplyError
from letterply.orders.database import Database
from letterply.orders.durable.engine import ORDER_WORKFLOW, TASK_WORKFLOW, Queueing
from letterply.orders.durable.watch import Watch
from letterply.orders.intake.reading import Order
from letterply.orders.orderbook import OrderBook
from letterply.orders.pool import ComputePool
from letterply.orders.records import facts_of_error
from letterply.orders.work.course import Course, run_course
from letterply.orders.work.tasks import Sources, Task, TaskFunction
from letterply.orders.work.vault import Vault

__all__ = ["Shift", "declare"]

_ATTEMPTS = 4
"""A task that takes its worker down so often is given up."""


@dataclass(frozen=True, slots=True)
class Shift:
    """What a worker has at hand while it works.

    Attributes:
        database: of the store.
        book: the orders in it.
        queueing: for the tasks of an order.
        vault: what tasks made, and
        place: where it is.
        pool: the processes that compute.
        watch: knows which orders were stopped.
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
    watch: Watch
    task: TaskFunction
    closing: threading.Event
    poll_s: float = 0.2


def declare(shift: Shift) -> None:
    """Make the workflows known to the engine."""

    @DBOS.workflow(name=ORDER_WORKFLOW, max_recovery_attempts=50)
    def order(order_id: str, attempt: int, priority: int) -> bool:
        run = _OrderRun(shift, order_id, attempt, priority)
        try:
            manifest = run_course(run.course(), run.stage)
        except LetterplyError as error:
            failure = facts_of_error(error)
            step(shift.book.end, order_id, "failed", failure, attempt, name="fail")
            return False
        if not manifest["ok"]:
            step(shift.book.end, order_id, "failed", manifest["problem"], attempt, name="fail")
            return False
        return bool(step(shift.book.finish, order_id, attempt, manifest, name="finish"))

    @DBOS.workflow(name=TASK_WORKFLOW, max_recovery_attempts=_ATTEMPTS)
    def task(order_id: str, attempt: int, phase: str, facts: dict[str, Any]) -> dict[str, Any]:
        # No steps: the workflow's own result is the one record that is needed.
        return _compute(shift, order_id, attempt, phase, facts)


def step(function: Any, *args: Any, name: str) -> Any:
    """Run a function as a step of the workflow."""
    return DBOS.run_step({"name": name}, function, *args)


class _OrderRun:
    """One attempt of an order, stage by stage."""

    def __init__(self, shift: Shift, order_id: str, attempt: int, priority: int) -> None:
        self._shift = shift
        self._id, self._attempt, self._priority = order_id, attempt, priority

    def course(self) -> Course:
        """Return the course of the order; reading it changes nothing."""
        state = self._shift.book.state(self._id)
        content = json.loads(self._shift.vault.read(state.content))
        return Course(
            Order.from_facts(content["order"]),
            Sources.from_facts(content["sources"]),
            self._shift.vault,
            tuple(content["earlier"]),
        )

    def stage(self, phase: str, tasks: Sequence[Task]) -> Mapping[str, Mapping[str, Any]]:
        """Run the tasks of a stage, each key once; return the answers by key."""
        shift = self._shift
        different = {t.key: t for t in tasks}
        step(self._queue, phase, [t.facts() for t in different.values()], name=f"queue-{phase}")
        failed = step(self._wait, phase, name=f"wait-{phase}")
        answers: dict[str, Mapping[str, Any]] = {}
        for key in different:
            answer = shift.vault.recall(key)
            if answer is None:
                answer = failed.get(key) or {"ok": False, "problem": None}
            if answer.get("problem") is None and not answer["ok"]:
                answer = {"ok": False, "problem": facts_of_error(_GIVEN_UP)}
            answers[key] = answer
        return answers

    def _queue(self, phase: str, tasks: list[dict[str, str]]) -> None:
        shift = self._shift
        shift.book.begin_phase(self._id, self._attempt, phase, len(tasks))
        shift.database.write(
            lambda db: shift.queueing.queue_tasks(
                db, self._id, self._attempt, phase, tasks, self._priority
            )
        )

    def _wait(self, phase: str) -> dict[str, dict[str, Any]]:
        """Wait until no task of the phase is open; return the answers that are in no vault."""
        shift = self._shift
        while shift.queueing.open_tasks(self._id, self._attempt, phase):
            if shift.watch.is_stopped(self._id, self._attempt):
                break
            time.sleep(shift.poll_s)
        return shift.queueing.failures(self._id, self._attempt, phase)


_GIVEN_UP = JobFailed(
    "The task was given up: it took its worker down, time after time.", code="job-crashed"
)


def _compute(
    shift: Shift, order_id: str, attempt: int, phase: str, facts: dict[str, Any]
) -> dict[str, Any]:
    """Return whether a task was done; its answer is in the vault."""
    key = facts["key"]
    if shift.watch.is_stopped(order_id, attempt):
        return {"ok": False, "problem": facts_of_error(_STOPPED)}
    answer: Mapping[str, Any] | None = shift.vault.recall(key)
    if answer is None:
        try:
            submitted = shift.pool.submit(
                shift.task, shift.place, facts["kind"], key, facts["args"]
            )
            answer = submitted.wait(lambda: shift.watch.is_stopped(order_id, attempt))
        except LetterplyError as error:
            _unless_closing(shift)
            answer = {"ok": False, "problem": facts_of_error(error)}
        except Exception:
            _unless_closing(shift)
            raise
    told: dict[str, Any] = {"phase": phase, "ok": answer["ok"], "key": key, **facts["about"]}
    if not answer["ok"]:
        told["problem"] = answer["problem"]["message"]
    shift.book.note_task(order_id, attempt, phase, key, told)
    if answer["ok"]:
        return {"ok": True}
    return {"ok": False, "problem": answer["problem"]}


def _unless_closing(shift: Shift) -> None:
    """Hold this thread until the process ends, if it is about to.

    A task whose process was stopped with the worker has not failed: another worker takes it up.
    """
    if shift.closing.is_set():
        threading.Event().wait()


_STOPPED = JobFailed("The order was cancelled.", code="order-cancelled")
