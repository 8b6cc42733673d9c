"""Who is at work: a beat a second in the database, and an eye on those that fell silent.

A worker that was killed, or whose host is gone, stops beating; any other puts what it was at
back on the queues. One that was only frozen finds, when it wakes, that its tasks are no longer
its own: the engine lets one result count.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from functools import partial

import sqlalchemy as sa

from letterply import ENGINE_VERSION
from letterply.errors import LetterplyError
from letterply.orders.book import OrderBook
from letterply.storage import Database, database_now, tables

__all__ = ["Heartbeat"]

_log = logging.getLogger(__name__)

_FORGET_S = 86_400.0
"""A worker that has been silent for so long is struck off, once nothing is left of its work."""


class Heartbeat:
    """Beats for one worker, and watches the others and the orders that were stopped.

    Args:
        database: where the beats are.
        worker_id: of this worker, and
        generation: of its workflows.
        dead_after_s: silence after which a worker counts as gone.
        take_over: puts the work of such workers back on the queues.
        has_work: tells whether a worker has any work still.
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
        has_work: Callable[[str], bool],
        succeed: Callable[[], None],
        beat_s: float = 1.0,
    ) -> None:
        self._database = database
        self._book = OrderBook(database)
        self._id = worker_id
        self._generation = generation
        self._dead_after_s = dead_after_s
        self._take_over = take_over
        self._has_work = has_work
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
        try:
            self._database.write(self._say_goodbye)
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
                self._take_over([worker for worker, _ in silent])
                self._succeed()
                self._strike_off(silent)
            except Exception:
                # Nothing is lost: the next beat tries it all again.
                _log.exception("a beat failed")

    def _beat(self, db: sa.Connection) -> list[tuple[str, float]]:
        """Note a beat; return who has been silent for too long, each with its last one."""
        now = database_now(db)
        c = tables.workers.c
        beaten = db.execute(
            sa.update(tables.workers).where(c.id == self._id).values(beat_at=now)
        ).rowcount
        if not beaten:
            db.execute(
                sa.insert(tables.workers).values(
                    id=self._id,
                    beat_at=now,
                    generation=self._generation,
                    engine_version=ENGINE_VERSION,
                )
            )
        # A goodbye of an earlier release does not say when: it counts from now.
        db.execute(
            sa.update(tables.workers).where(c.beat_at == 0, c.generation > 0).values(beat_at=-now)
        )
        silent = sa.select(c.id, c.beat_at).where(
            c.beat_at < now - self._dead_after_s, c.id != self._id, c.generation > 0
        )
        return [(str(id_), float(at)) for id_, at in db.execute(silent.order_by(c.id))]

    def _say_goodbye(self, db: sa.Connection) -> None:
        """Note when this worker left: a beat below zero, so silent at once."""
        mine = sa.update(tables.workers).where(tables.workers.c.id == self._id)
        db.execute(mine.values(beat_at=-database_now(db)))

    def _strike_off(self, silent: Sequence[tuple[str, float]]) -> None:
        """Strike off those that left, or fell silent, long ago; one that wakes enters again."""
        now = self._database.read(database_now)
        c = tables.workers.c
        for worker, beat_at in silent:
            if abs(beat_at) < now - _FORGET_S and not self._has_work(worker):
                as_seen = sa.and_(c.id == worker, c.beat_at == beat_at)
                self._database.write(partial(_strike_off, as_seen=as_seen))


def _strike_off(db: sa.Connection, as_seen: sa.ColumnElement[bool]) -> None:
    db.execute(sa.delete(tables.workers).where(as_seen))
