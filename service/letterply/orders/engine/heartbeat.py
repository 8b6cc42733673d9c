"""Who is at work: a beat a second in the database, and an eye on those that fell silent.

A worker that was killed, or whose host is gone, stops beating; any other puts what it was at
back on the queues. One that was only frozen finds, when it wakes, that its tasks are no longer
its own: the engine lets one result count.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence

import sqlalchemy as sa

from letterply.errors import LetterplyError
from letterply.orders.book import OrderBook
from letterply.storage import Database, database_now, tables

__all__ = ["Heartbeat"]

_log = logging.getLogger(__name__)

_FORGET_S = 86_400.0
"""A worker that has been silent for so long is struck off."""


class Heartbeat:
    """Beats for one worker, and watches the others and the orders that were stopped.

    Args:
        database: where the beats are.
        worker_id: of this worker, and
        generation: of its workflows.
        dead_after_s: silence after which a worker counts as gone.
        take_over: puts the work of such workers back on the queues.
        succeed: begins orders anew that an earlier generation left open.
        beat_s: between two beats.

    """

    def __init__(
        self,
        database: Database,
        worker_id: str,
        generation: int,
        dead_after_s: float,
        take_over: Callable[[Sequence[str]], None],
        succeed: Callable[[], None],
        beat_s: float = 1.0,
    ) -> None:
        self._database = database
        self._book = OrderBook(database)
        self._id = worker_id
        self._generation = generation
        self._dead_after_s = dead_after_s
        self._take_over = take_over
        self._succeed = succeed
        self._beat_s = beat_s
        self._stop = threading.Event()
        self._stopped: frozenset[tuple[str, int]] = frozenset()
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)

    def start(self) -> None:
        """Beat once, then go on in a thread."""
        self._database.write(self._beat)
        self._thread.start()

    def stop(self) -> None:
        """Stop, and say so: others need not wait until the silence is long enough."""
        self._stop.set()
        self._thread.join()
        farewell = sa.update(tables.workers).where(tables.workers.c.id == self._id)
        try:
            self._database.write(lambda db: db.execute(farewell.values(beat_at=0.0)))
        except LetterplyError:
            _log.warning("the last beat could not be noted: others relieve this worker later")

    def is_stopped(self, order_id: str, attempt: int) -> bool:
        """Tell whether an attempt of an order was stopped; at most a beat late."""
        return (order_id, attempt) in self._stopped

    def _run(self) -> None:
        while not self._stop.wait(self._beat_s):
            try:
                silent = self._database.write(self._beat)
                self._stopped = self._book.stopped()
                self._take_over(silent)
                self._succeed()
            except Exception:
                # Nothing is lost: the next beat tries it all again.
                _log.exception("a beat failed")

    def _beat(self, db: sa.Connection) -> list[str]:
        """Note a beat; return who has been silent for too long."""
        now = database_now(db)
        c = tables.workers.c
        beaten = db.execute(
            sa.update(tables.workers).where(c.id == self._id).values(beat_at=now)
        ).rowcount
        if not beaten:
            db.execute(
                sa.insert(tables.workers).values(
                    id=self._id, beat_at=now, generation=self._generation
                )
            )
        db.execute(sa.delete(tables.workers).where(c.beat_at < now - _FORGET_S, c.beat_at > 0))
        silent = sa.select(c.id).where(
            c.beat_at < now - self._dead_after_s, c.id != self._id, c.generation > 0
        )
        return [str(row[0]) for row in db.execute(silent.order_by(c.id)).all()]
