"""The order book: where each order stands, what has happened to it, kept in the database.

An order is a job of kind `order` with a row beside it for its current *attempt*: an order that was
cancelled or failed may be asked for again and is then another attempt; tasks that were finished
are not computed again, for the vault has their answers.

Events are numbered from 1 without gaps; a task is told of once, however often it was run.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import sqlalchemy as sa

from letterply.errors import NotFound
from letterply.orders.codec import Facts, ordered, plain
from letterply.orders.pipeline.answers import Manifest, Problem
from letterply.orders.states import FINAL_PHASES, EventKind, OrderEvent, OrderPhase, OrderState
from letterply.storage import (
    HOUSE,
    Artifact,
    Database,
    JobState,
    announce,
    database_now,
    hold,
    holders,
    insert_waiting,
    mark_done,
    mark_failed,
    tables,
)

__all__ = ["OrderBook"]

_RECENT_S = 7 * 86_400.0
"""Nothing of an order that began longer ago is still at work."""


_COLUMNS = tuple(c for c in tables.orders.c)


class OrderBook:
    """Orders in a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def accept(
        self,
        order_id: str,
        request: Facts,
        content: str,
        *,
        lines: int,
        designs: int,
        generation: int,
        start: Callable[[sa.Connection, int], None],
        damaged: bool = False,
        owner: str = HOUSE,
    ) -> tuple[OrderState, bool]:
        """Keep an order and start it, in one transaction; return where it stands, and if it is new.

        Args:
            order_id: of the order.
            request: what lists show of it.
            content: digest of its whole request in the vault.
            lines: how many there are, and
            designs: how many of them differ.
            generation: of the workflows.
            start: starts an attempt within the transaction.
            damaged: whether what was made is no longer whole; else one that is done is left alone.
            owner: whose it is.

        """
        again = {OrderPhase.FAILED, OrderPhase.CANCELLED}
        again |= {OrderPhase.DONE} if damaged else set()

        def accept(db: sa.Connection) -> bool:
            known = _locked(db, order_id)
            if known is not None and known.phase not in again:
                return False
            insert_waiting(db, order_id, "order", request, again=sorted(again))
            hold(db, (owner,), "order", order_id)
            facts = {"content": content, "lines": lines, "designs": designs}
            facts |= _at_the_start(generation)
            if known is None:
                attempt = 1
                db.execute(
                    sa.insert(tables.orders).values(
                        job=order_id, attempt=attempt, last_event=0, **facts
                    )
                )
            else:
                attempt = known.attempt + 1
                db.execute(
                    sa.update(tables.orders)
                    .where(tables.orders.c.job == order_id)
                    .values(attempt=attempt, **facts)
                )
            _tell(
                db,
                order_id,
                attempt,
                EventKind.ACCEPTED,
                {"": {"lines": lines, "designs": designs}},
            )
            start(db, attempt)
            return True

        try:
            new = self._database.write(accept)
        except sa.exc.IntegrityError:  # another request with the same order came first
            new = False
        return self.state(order_id), new

    def left_behind(self, generation: int, dead_after_s: float) -> tuple[OrderState, ...]:
        """Return open orders of earlier generations that no worker of their own works on.

        A worker that has been silent for longer than `dead_after_s` does not count.
        """
        c, w = tables.orders.c, tables.workers.c

        def find(db: sa.Connection) -> list[OrderState]:
            alive = sa.select(w.generation).where(w.beat_at >= database_now(db) - dead_after_s)
            wanted = sa.select(*_COLUMNS).where(
                c.phase.not_in(FINAL_PHASES),
                c.generation < generation,
                c.generation.not_in(alive),
            )
            return [_state(row) for row in db.execute(wanted.order_by(c.job))]

        return tuple(self._database.read(find))

    def renew(
        self, state: OrderState, generation: int, start: Callable[[sa.Connection, int], None]
    ) -> bool:
        """Begin an open order anew with another generation; tell whether it was still as given.

        What its lines made is in the vault and found there, so none is computed again.
        """

        def renew(db: sa.Connection) -> bool:
            known = _locked(db, state.id)
            if known is None or known.final or known.attempt != state.attempt:
                return False
            attempt = known.attempt + 1
            db.execute(
                sa.update(tables.orders)
                .where(tables.orders.c.job == state.id)
                .values(attempt=attempt, **_at_the_start(generation))
            )
            _tell(db, state.id, attempt, EventKind.ACCEPTED, {"": {"lines": known.lines}})
            start(db, attempt)
            return True

        return self._database.write(renew)

    def state(self, order_id: str) -> OrderState:
        """Return where an order stands; raises `NotFound` (`order-not-found`)."""
        wanted = sa.select(*_COLUMNS).where(tables.orders.c.job == order_id)
        row = self._database.read(lambda db: db.execute(wanted).one_or_none())
        if row is None:
            raise NotFound("order", order_id)
        return _state(row)

    def count_open(self) -> int:
        """Return how many orders are not finished."""
        wanted = sa.select(sa.func.count()).where(tables.orders.c.phase.not_in(FINAL_PHASES))
        return int(self._database.read(lambda db: db.execute(wanted).scalar_one()))

    def any_open(self) -> bool:
        """Tell whether any order is not finished."""
        wanted = (
            sa.select(tables.orders.c.job)
            .where(tables.orders.c.phase.not_in(FINAL_PHASES))
            .limit(1)
        )
        return self._database.read(lambda db: db.execute(wanted).first()) is not None

    def open_of(self, owner: str, most: int | None = None) -> tuple[int, int]:
        """Return how many orders of an owner are open, and how many designs they have in all.

        Counted are those of at most so many designs.
        """
        c, h = tables.orders.c, tables.holdings.c
        both = tables.orders.join(tables.holdings, h.id == c.job)
        wanted = (
            sa.select(sa.func.count(), sa.func.coalesce(sa.func.sum(c.designs), 0))
            .select_from(both)
            .where(h.owner == owner, h.kind == "order", c.phase.not_in(FINAL_PHASES))
        )
        if most is not None:
            wanted = wanted.where(c.designs <= most)
        count, designs = self._database.read(lambda db: db.execute(wanted).one())
        return int(count), int(designs)

    def events(self, order_id: str, after: int = 0, limit: int = 500) -> tuple[OrderEvent, ...]:
        """Return events with a higher number, in order."""
        c = tables.order_events.c
        wanted = (
            sa.select(c.number, c.kind, c.data)
            .where(c.job == order_id, c.number > after)
            .order_by(c.number)
            .limit(limit)
        )
        rows = self._database.read(lambda db: db.execute(wanted).all())
        return tuple(OrderEvent(n, EventKind(kind), json.loads(data)) for n, kind, data in rows)

    def begin_phase(self, order_id: str, attempt: int, phase: OrderPhase, tasks: int) -> None:
        """Note that a phase begins with so many tasks; noting it again changes nothing."""

        def begin(db: sa.Connection) -> None:
            known = _locked(db, order_id)
            if known is None or known.attempt != attempt or known.stopped:
                return
            if _tell(
                db, order_id, attempt, EventKind.PHASE, {phase: {"phase": phase, "tasks": tasks}}
            ):
                db.execute(
                    sa.update(tables.orders)
                    .where(tables.orders.c.job == order_id)
                    .values(phase=phase, tasks_total=tasks, tasks_done=0, phase_at=time.time())
                )
                if phase is OrderPhase.LINES:
                    db.execute(
                        sa.update(tables.jobs)
                        .where(tables.jobs.c.id == order_id, tables.jobs.c.state == JobState.QUEUED)
                        .values(state=JobState.RUNNING)
                    )

        self._database.write(begin)

    def note_tasks(
        self, order_id: str, attempt: int, phase: str, told: Mapping[str, Facts]
    ) -> None:
        """Note that tasks have ended, by their keys; each counts once."""

        def note(db: sa.Connection) -> None:
            known = _locked(db, order_id)
            if known is None or known.attempt != attempt or known.stopped:
                return
            by_subject = {f"{phase}/{key}": data for key, data in told.items()}
            new = _tell(db, order_id, attempt, EventKind.TASK, by_subject)
            done = min(known.tasks_done + new, known.tasks_total)
            if known.phase == phase and done > known.tasks_done:
                db.execute(
                    sa.update(tables.orders)
                    .where(tables.orders.c.job == order_id)
                    .values(tasks_done=done)
                )

        self._database.write(note)

    def finish(self, order_id: str, attempt: int, manifest: Manifest) -> bool:
        """Store the answer of an attempt; tell whether it counted: the first one does."""
        files = [Artifact(f.path, f.digest, f.size) for f in manifest.files]
        files += [Artifact(path, None, None, later=True) for path in manifest.later]

        def finish(db: sa.Connection) -> bool:
            known = _locked(db, order_id)
            if known is None or known.attempt != attempt or known.final:
                return False
            headline = ordered(manifest.headline)
            mark_done(db, order_id, manifest.document, headline, files, manifest.drawn_from)
            db.execute(
                sa.update(tables.orders)
                .where(tables.orders.c.job == order_id)
                .values(phase=OrderPhase.DONE, layout=manifest.layout)
            )
            _tell(
                db, order_id, attempt, EventKind.DONE, {"": {"summary": manifest.headline.summary}}
            )
            _announce(db, known, OrderPhase.DONE, headline)
            return True

        return self._database.write(finish)

    def end(
        self,
        order_id: str,
        phase: OrderPhase,
        problem: Problem,
        attempt: int | None = None,
    ) -> bool:
        """End an order as failed or cancelled; tell whether it counted."""

        def end(db: sa.Connection) -> bool:
            known = _locked(db, order_id)
            if known is None or known.final or attempt not in (None, known.attempt):
                return False
            mark_failed(db, order_id, plain(problem))
            db.execute(
                sa.update(tables.orders)
                .where(tables.orders.c.job == order_id)
                .values(phase=phase, stopped=True)
            )
            kind = EventKind(phase.value)
            _tell(db, order_id, known.attempt, kind, {"": {"problem": problem.message}})
            title = sa.select(tables.jobs.c.request).where(tables.jobs.c.id == order_id)
            facts = {"title": json.loads(db.execute(title).scalar_one()).get("title", "")}
            _announce(db, known, phase, facts | {"summary": problem.message})
            return True

        return self._database.write(end)

    def stopped(self) -> frozenset[tuple[str, int]]:
        """Return orders of late that were stopped, each with its attempt."""
        c = tables.orders.c
        recent = time.time() - _RECENT_S
        wanted = sa.select(c.job, c.attempt).where(c.stopped, c.began_at > recent)
        rows = self._database.read(lambda db: db.execute(wanted).all())
        return frozenset((row[0], row[1]) for row in rows)


def _at_the_start(generation: int) -> dict[str, object]:
    """Return what a row says of an attempt that begins."""
    now = time.time()
    return {
        "phase": OrderPhase.WAITING,
        "stopped": False,
        "tasks_total": 0,
        "tasks_done": 0,
        "began_at": now,
        "phase_at": now,
        "layout": None,
        "generation": generation,
    }


def _state(row: Sequence[Any]) -> OrderState:
    found = OrderState(*row)
    return replace(found, phase=OrderPhase(found.phase))


def _locked(db: sa.Connection, order_id: str) -> OrderState | None:
    """Return an order's row, held until the transaction ends: its events come one at a time."""
    wanted = sa.select(*_COLUMNS).where(tables.orders.c.job == order_id).with_for_update()
    row = db.execute(wanted).one_or_none()
    return _state(row) if row is not None else None


def _announce(
    db: sa.Connection, known: OrderState, phase: OrderPhase, facts: Mapping[str, object]
) -> None:
    """Have those who hold an order told that it has ended."""
    told = {"order": known.id, "state": phase.value, "attempt": known.attempt,
            "lines": known.lines, "designs": known.designs, **facts}  # fmt: skip
    announce(db, holders(db, "order", known.id), f"order.{phase.value}", told)


def _tell(
    db: sa.Connection,
    order_id: str,
    attempt: int,
    kind: EventKind,
    told: Mapping[str, Facts],
) -> int:
    """Add an event a subject, in order, unless it was told; return how many were not.

    The order's row is held by the caller.
    """
    c = tables.order_events.c
    before = sa.select(c.subject).where(
        c.job == order_id, c.attempt == attempt, c.kind == kind, c.subject.in_(list(told))
    )
    known = set(db.execute(before).scalars())
    new = [subject for subject in told if subject not in known]
    if not new:
        return 0
    last = db.execute(
        sa.update(tables.orders)
        .where(tables.orders.c.job == order_id)
        .values(last_event=tables.orders.c.last_event + len(new))
        .returning(tables.orders.c.last_event)
    ).scalar_one()
    rows = [
        {
            "job": order_id,
            "number": last - len(new) + number,
            "attempt": attempt,
            "kind": kind,
            "subject": subject,
            "data": json.dumps(dict(told[subject]), ensure_ascii=False),
        }
        for number, subject in enumerate(new, start=1)
    ]
    db.execute(sa.insert(tables.order_events), rows)
    return len(new)
