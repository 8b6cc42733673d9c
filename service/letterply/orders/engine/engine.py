"""The engine of durable workflows (DBOS), wrapped once: what the house needs of it, no more.

Its tables lie in the same database as the store's, so an order is accepted and queued in one
transaction. Its version is pinned: `take_over` uses a private call, which the drills guard.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence

import sqlalchemy as sa
from dbos import DBOS, DBOSClient, DBOSConfig

from letterply.orders.codec import Facts
from letterply.storage import FROZEN_S

__all__ = [
    "GENERATION",
    "ORDERS_QUEUE",
    "TASKS_QUEUE",
    "Queueing",
    "launch",
    "mark_lost_server",
    "prepare",
    "take_over",
]

ORDERS_QUEUE = "letterply-orders"
TASKS_QUEUE = "letterply-tasks"

APPLICATION = "letterply"
GENERATION = 10
"""Of the workflows. Raise it when their steps change their order, or what a task is given changes
its form and so its key: the engine replays an order only where they are the same, and those left
open by an earlier generation are begun anew (`OrderBook.renew`)."""

ORDER_WORKFLOW = "order"
BATCH_WORKFLOW = "batch"

_OPEN = ("ENQUEUED", "PENDING", "DELAYED")

_IDLE_POLL_S = 0.25
"""How often the queues are looked at while nothing is open: a look takes about 3 ms of a core, and
an order that is placed then waits an eighth of a second longer in the mean, and its first tasks as
long again."""


class Queueing:
    """Puts work on the queues and looks at it; needs no worker's code.

    Args:
        url: of the database; migrated before.
        generation: of the workflows that it queues.

    """

    def __init__(self, url: str, generation: int = GENERATION) -> None:
        self.generation = generation
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
                "app_version": _version(self.generation),
                "priority": priority,
            },
            order_id,
            attempt,
            priority,
        )

    def queue_batches(
        self,
        db: sa.Connection,
        order_id: str,
        attempt: int,
        phase: str,
        turn: int,
        batches: Sequence[Sequence[Facts]],
        priority: int,
    ) -> None:
        """Queue batches of tasks, within a transaction; queueing them again changes nothing.

        A batch is known by its phase, the turn of it, and the key of its first task.
        """
        prefix = _prefix(order_id, attempt, phase, turn)
        for batch in batches:
            self._client.enqueue_in_transaction(
                db,
                {
                    "queue_name": TASKS_QUEUE,
                    "workflow_name": BATCH_WORKFLOW,
                    "workflow_id": f"{prefix}{batch[0]['key']}",
                    "app_version": _version(self.generation),
                    "priority": priority,
                },
                order_id,
                attempt,
                phase,
                [dict(task) for task in batch],
            )

    def waiting(self, most: int = 10_000) -> int:
        """Return how many orders and batches of tasks wait, `most` at most."""
        queued = self._client.list_queued_workflows(
            queue_name=[ORDERS_QUEUE, TASKS_QUEUE],
            status="ENQUEUED",
            limit=most,
            load_input=False,
        )
        return len(queued)

    def has_work(self, worker_id: str) -> bool:
        """Tell whether orders or batches of tasks are a worker's that has not ended them."""
        found = self._client.list_workflows(
            executor_id=worker_id,
            status="PENDING",
            limit=1,
            load_input=False,
            load_output=False,
        )
        return bool(found)

    def keep_pace(self, poll_s: float) -> None:
        """Have all workers look at the queues often while anything is open, else now and then.

        The intervals lie in the database; a worker reads that of a queue before each look.
        """
        found = self._client.list_workflows(
            status=list(_OPEN), limit=1, load_input=False, load_output=False
        )
        for name, quick in _intervals(poll_s).items():
            every = quick if found else max(quick, _IDLE_POLL_S)
            queue = self._client.retrieve_queue(name)
            if queue is not None and queue.polling_interval_sec != every:
                queue.set_polling_interval_sec(every)

    def any_open(self, order_id: str, attempt: int, phase: str, turn: int) -> bool:
        """Tell whether batches of a phase are queued or running."""
        return bool(
            self._client.list_workflows(
                workflow_id_prefix=_prefix(order_id, attempt, phase, turn),
                status=list(_OPEN),
                limit=1,
                load_input=False,
                load_output=False,
            )
        )

    def ended(
        self, order_id: str, attempt: int, phase: str, turn: int
    ) -> dict[str, Mapping[str, Facts] | None]:
        """Return what the batches of a phase could not compute, by the key of their first task.

        Of a batch that ended: key of a task -> the problem; of one that was given up: None.
        """
        prefix = _prefix(order_id, attempt, phase, turn)
        found = self._client.list_workflows(workflow_id_prefix=prefix, load_input=False)
        return {
            w.workflow_id.removeprefix(prefix): w.output if w.status == "SUCCESS" else None
            for w in found
        }

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

    def forget(self, order_id: str) -> None:
        """Remove the records of an order that was deleted."""
        found = self._client.list_workflows(
            workflow_id_prefix=f"{order_id}.", load_input=False, load_output=False
        )
        if found:
            self._client.delete_workflows([w.workflow_id for w in found])

    def close(self) -> None:
        """Close all connections."""
        self._client.destroy()


def _intervals(poll_s: float) -> dict[str, float]:
    """Return how often each queue is looked at while work is open, s."""
    return {ORDERS_QUEUE: 2 * poll_s, TASKS_QUEUE: poll_s}


def _version(generation: int) -> str:
    return f"orders-{generation}"


def _prefix(order_id: str, attempt: int, phase: str, turn: int) -> str:
    """Return what the ids of the batches of a turn begin with."""
    return f"{order_id}.{attempt}/{phase}/{turn}/"


def launch(
    url: str,
    worker_id: str,
    workflows: Callable[[], None],
    *,
    generation: int,
    concurrency: int,
    poll_s: float,
) -> None:
    """Start to work on the queues, in threads of this process.

    Args:
        url: of the database.
        worker_id: unique among all processes that are alive.
        workflows: declares the workflows, and
        generation: which they are.
        concurrency: batches of tasks taken up at once.
        poll_s: how often the queues are looked at while work is open.

    """
    logging.getLogger("dbos").setLevel(logging.WARNING)
    if not sa.event.contains(sa.Engine, "handle_error", mark_lost_server):
        sa.event.listen(sa.Engine, "handle_error", mark_lost_server)
    config = DBOSConfig(
        name=APPLICATION,
        system_database_url=url,
        executor_id=worker_id,
        application_version=_version(generation),
        log_level="WARNING",
        enable_otlp=False,
        use_listen_notify=False,
        sys_db_idle_transaction_timeout_sec=FROZEN_S,
    )
    DBOS(config=config)
    workflows()
    DBOS.launch()
    most = {ORDERS_QUEUE: 8, TASKS_QUEUE: concurrency}
    for name, every in _intervals(poll_s).items():
        DBOS.register_queue(name, worker_concurrency=most[name], polling_interval_sec=every)


def mark_lost_server(context: sa.engine.ExceptionContext) -> None:
    """Count a server that cannot be reached as a lost connection.

    The engine waits for those; of what a driver says to it when a server restarts it knows only
    some, and leaves the workflow open for ever when it meets another.
    """
    if _UNREACHABLE in str(context.original_exception):
        context.is_disconnect = True


_UNREACHABLE = "connection is bad"


def take_over(worker_ids: Sequence[str]) -> None:
    """Put the work of workers that are gone back on the queues.

    Harmless when it is repeated, or done by several: only what is still theirs is moved.
    """
    if worker_ids:
        DBOS._recover_pending_workflows(list(worker_ids))


def prepare(url: str) -> None:
    """Make the engine's own tables, if they are not there yet."""
    DBOS.migrate(url)
