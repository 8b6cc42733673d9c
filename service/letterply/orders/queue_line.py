"""The connection to the queues, made when it is first needed: the engine takes a while to load."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from letterply.storage import Database

if TYPE_CHECKING:
    from letterply.orders.engine.engine import Queueing

__all__ = ["QueueLine", "prepare_queues"]


def prepare_queues(database: Database) -> None:
    """Make the tables of the queues, if they are not there yet."""
    from letterply.orders.engine.engine import prepare

    database.patiently(lambda: prepare(database.url))


class QueueLine:
    """The connection to the queues, one for all owners."""

    def __init__(self) -> None:
        self._queueing: Queueing | None = None
        self._lock = threading.Lock()

    def get(self, database: Database) -> Queueing:
        """Return the queues."""
        with self._lock:
            if self._queueing is None:
                from letterply.orders.engine.engine import Queueing

                prepare_queues(database)
                self._queueing = Queueing(database.url)
            return self._queueing

    def close(self) -> None:
        """Close the connection, if there is one."""
        if self._queueing is not None:
            self._queueing.close()
