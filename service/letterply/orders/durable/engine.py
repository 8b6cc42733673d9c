"""The engine of durable workflows (DBOS), wrapped once: what the house needs of it, no more.

Its tables lie in the same database as the store's, so an order is accepted and queued in one
transaction. Its version is pinned: `take_over` uses a private call, which the drills guard.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from typing import Any

import sqlalchemy as sa
from dbos import DBOS, DBOSClient, DBOSConfig

from letterply.orders.database import FROZEN_S

__all__ = ["LINES_QUEUE", "ORDERS_QUEUE", "Queueing", "launch", "prepare", "take_over"]

ORDERS_QUEUE = "letterply-orders"
LINES_QUEUE = "letterply-tasks"

APPLICATION = "letterply"
VERSION = "orders-1"
"""Set by hand: a worker takes up only orders of its own version, and a release must not strand
those that are open. Raise it only when the steps of a workflow change their order."""

ORDER_WORKFLOW = "order"
TASK_WORKFLOW = "task"

_OPEN = ("ENQUEUED", "PENDING", "DELAYED")


class Queueing:
    """Puts work on the queues and looks at it; needs no worker's code.

    Args:
        url: of the database; migrated before.

    """

    def __init__(self, url: str) -> None:
        self._client = DBOSClient(
            system_database_url=url,
            application_name=APPLICATION,
            sys_db_idle_transaction_timeout_sec=FROZEN_S,
        )

    def start_order(self, db: sa.Connection, order_id: str, attempt: int, priority: int) -> None:
        """Queue an attempt of an order, within a transaction."""
        self._client.enqueue_in_transaction(
            db,
            {
                "queue_name": ORDERS_QUEUE,
                "workflow_name": ORDER_WORKFLOW,
                "workflow_id": f"{order_id}.{attempt}",
                "app_version": VERSION,
                "priority": priority,
            },
            order_id,
            attempt,
            priority,
        )

    def queue_tasks(
        self,
        db: sa.Connection,
        order_id: str,
        attempt: int,
        phase: str,
        tasks: Sequence[dict[str, Any]],
        priority: int,
    ) -> None:
        """Queue the tasks of a phase, within a transaction; queueing them again changes nothing."""
        for task in tasks:
            self._client.enqueue_in_transaction(
                db,
                {
                    "queue_name": LINES_QUEUE,
                    "workflow_name": TASK_WORKFLOW,
                    "workflow_id": f"{order_id}.{attempt}/{phase}/{task['key']}",
                    "app_version": VERSION,
                    "priority": priority,
                },
                order_id,
                attempt,
                phase,
                task,
            )

    def open_tasks(self, order_id: str, attempt: int, phase: str) -> bool:
        """Tell whether tasks of a phase are queued or running."""
        return bool(
            self._client.list_workflows(
                workflow_id_prefix=f"{order_id}.{attempt}/{phase}/",
                status=list(_OPEN),
                limit=1,
                load_input=False,
                load_output=False,
            )
        )

    def failures(self, order_id: str, attempt: int, phase: str) -> dict[str, dict[str, Any]]:
        """Return the answers of tasks that a phase could not compute: key -> facts."""
        prefix = f"{order_id}.{attempt}/{phase}/"
        found = self._client.list_workflows(workflow_id_prefix=prefix, load_input=False)
        answers: dict[str, dict[str, Any]] = {}
        for workflow in found:
            key = workflow.workflow_id.removeprefix(prefix)
            if workflow.status != "SUCCESS":
                answers[key] = {"ok": False, "problem": None}
            elif isinstance(workflow.output, dict) and not workflow.output["ok"]:
                answers[key] = workflow.output
        return answers

    def cancel(self, order_id: str, attempt: int) -> None:
        """Cancel an attempt: the order and all of its tasks that are queued or running."""
        open_ = self._client.list_workflows(
            workflow_id_prefix=f"{order_id}.{attempt}",
            status=list(_OPEN),
            load_input=False,
            load_output=False,
        )
        if open_:
            self._client.cancel_workflows([w.workflow_id for w in open_])

    def close(self) -> None:
        """Close all connections."""
        self._client.destroy()


def launch(
    url: str,
    worker_id: str,
    workflows: Callable[[], None],
    *,
    concurrency: int,
    poll_s: float,
) -> None:
    """Start to work on the queues, in threads of this process.

    Args:
        url: of the database.
        worker_id: unique among all processes that are alive.
        workflows: declares the workflows.
        concurrency: tasks taken up at once.
        poll_s: how often the queues are looked at.

    """
    logging.getLogger("dbos").setLevel(logging.WARNING)
    config = DBOSConfig(
        name=APPLICATION,
        system_database_url=url,
        executor_id=worker_id,
        application_version=VERSION,
        log_level="WARNING",
        enable_otlp=False,
        use_listen_notify=False,
        sys_db_idle_transaction_timeout_sec=FROZEN_S,
    )
    DBOS(config=config)
    workflows()
    DBOS.launch()
    DBOS.register_queue(ORDERS_QUEUE, worker_concurrency=8, polling_interval_sec=poll_s * 2)
    DBOS.register_queue(LINES_QUEUE, worker_concurrency=concurrency, polling_interval_sec=poll_s)


def take_over(worker_ids: Sequence[str]) -> None:
    """Put the work of workers that are gone back on the queues.

    Harmless when it is repeated, or done by several: only what is still theirs is moved.
    """
    if worker_ids:
        DBOS._recover_pending_workflows(list(worker_ids))


def prepare(url: str) -> None:
    """Make the engine's own tables, if they are not there yet."""
    DBOS.migrate(url)
