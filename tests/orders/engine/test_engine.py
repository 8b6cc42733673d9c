"""The engine waits for a server that is away, and is in no hurry while nothing is open."""

import pytest
import sqlalchemy as sa
from dbos import DBOSClient
from dbos._utils import retriable_postgres_exception

from letterply.orders.engine.engine import (
    ORDERS_QUEUE,
    TASKS_QUEUE,
    Queueing,
    mark_lost_server,
    prepare,
)
from letterply.storage import sqlite_url


@pytest.mark.parametrize("marked", [False, True])
def test_a_server_that_is_away_counts_as_a_lost_connection(tmp_path, marked):
    """Without the mark the engine takes it for a fault of the workflow, and leaves that open."""
    engine = sa.create_engine(f"postgresql+psycopg://knot@/boats?host={tmp_path}")
    if marked:
        sa.event.listen(engine, "handle_error", mark_lost_server)
    with pytest.raises(sa.exc.OperationalError) as caught:
        engine.connect()
    assert retriable_postgres_exception(caught.value) is marked
    engine.dispose()


def test_queues_are_looked_at_often_only_while_something_is_open(tmp_path):
    url = sqlite_url(tmp_path / "index.sqlite")
    prepare(url)
    queueing = Queueing(url)
    client = DBOSClient(system_database_url=url, application_name="letterply")
    for name in (ORDERS_QUEUE, TASKS_QUEUE):
        client.register_queue(name, polling_interval_sec=0.05)

    def intervals():
        queueing.keep_pace(0.05)
        return [
            client.retrieve_queue(name).polling_interval_sec for name in (ORDERS_QUEUE, TASKS_QUEUE)
        ]

    assert intervals() == [0.25, 0.25]
    database = sa.create_engine(url)
    with database.begin() as db:
        queueing.start_order(db, "an-order", 1, 1)
    assert intervals() == [0.1, 0.05]
    queueing.cancel("an-order", 1)
    assert intervals() == [0.25, 0.25]
    database.dispose()
    client.destroy()
    queueing.close()


def test_a_worker_has_work_as_long_as_something_of_it_is_neither_ended_nor_taken_over(tmp_path):
    url = sqlite_url(tmp_path / "index.sqlite")
    prepare(url)
    queueing, database = Queueing(url), sa.create_engine(url)
    with database.begin() as db:
        queueing.start_order(db, "an-order", 1, 1)
    assert not queueing.has_work("curlew")
    with database.begin() as db:  # as the engine of that worker takes it up
        db.execute(sa.text("UPDATE workflow_status SET status = 'PENDING', executor_id = 'curlew'"))
    assert queueing.has_work("curlew")
    assert not queueing.has_work("dunlin")
    queueing.cancel("an-order", 1)
    assert not queueing.has_work("curlew")
    database.dispose()
    queueing.close()
