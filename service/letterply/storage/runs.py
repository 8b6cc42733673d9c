"""Jobs under way: which worker computes what, in the database that all processes share.

A *worker* is a process that computes jobs: a service or a worker for orders, under a name that no
other has. A *run* is a job that is under way: it belongs to one worker, or waits for any. A run is
*kept* when its job is (`letterply.storage.store`): somebody was told to come back, or it had to
wait for a worker. Kept runs are taken up by others: at once when they only wait, and when their
worker is gone. All others die with their worker, and nobody was promised anything.

Everything is one transaction each, which says what it found: of two workers that reach for a run,
one has it. Who lost a run finds that it has, and lets its answer go.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

import sqlalchemy as sa

from letterply import ENGINE_VERSION
from letterply.errors import Conflict
from letterply.storage import tables
from letterply.storage.clock import utc_ago
from letterply.storage.database import Database, database_now
from letterply.storage.job_rows import insert_waiting, mark_failed
from letterply.storage.owners import hold, insert
from letterply.storage.records import KeyRecord

__all__ = [
    "Begun",
    "KnownWorker",
    "OpenRun",
    "RunLost",
    "Runs",
    "Wanted",
    "await_anyone",
    "await_forgotten",
    "end_run",
    "keep_keys",
    "key_reused",
    "lock_run",
    "progress_of",
]

_WAITING = ("queued", "running")
_MOST = 500
"""Runs of others that are looked at, the oldest."""

_R = tables.runs.c


class Begun(Enum):
    """Whose a run is that was to begin."""

    MINE = "mine"
    THEIRS = "theirs"
    DONE = "done"


class RunLost(Exception):
    """A run is no longer this worker's: its job was deleted, or another has taken it up."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A job that somebody asks for: its id, kind and request, and who asks."""

    job: str
    kind: str
    request: Mapping[str, Any]
    owner: str


@dataclass(frozen=True, slots=True)
class OpenRun:
    """A run that is not of this worker.

    Attributes:
        job, kind: of the job.
        owner: who asked first.
        worker: who computes it, or has it in its queue; None when it waits for anybody.
        started: whether that worker is at it.
        attempt: how often it was taken up by one that is gone, from 1.
        kept: whether the job is kept.
        engine_version: of the service that kept it; None when it is not kept.

    """

    job: str
    kind: str
    owner: str
    worker: str | None
    started: bool
    attempt: int
    kept: bool
    engine_version: str | None


@dataclass(frozen=True, slots=True)
class KnownWorker:
    """A worker that has not said goodbye.

    Attributes:
        beat_at: its last sign of life.
        process: which process it is, where that is known.
        engine_version: what it computes with; empty of a release that does not tell.

    """

    beat_at: float
    process: str
    engine_version: str


class Runs:
    """The runs, as one worker has them.

    Args:
        database: where they are.
        worker: name of this worker, unique.
        process: which process it is.

    """

    def __init__(self, database: Database, worker: str, process: str = "") -> None:
        self.worker = worker
        self._database = database
        self._process = process

    def begin(
        self,
        wanted: Wanted,
        *,
        started: bool,
        key: KeyRecord | None = None,
        check_turn: Callable[[int], None] = lambda count: None,
        made_anew: bool = False,
    ) -> Begun:
        """Begin a run, unless there is one, or what it makes was made in the meantime.

        One that is another's, and one that has to wait for a place, is kept from now on.

        Args:
            wanted: the job.
            started: whether this worker has a place for it right now.
            key: idempotency key that it was asked for with.
            check_turn: refuses so many runs of an owner.
            made_anew: whether it is begun although it was done: it was found damaged.

        Raises:
            Conflict: `idempotency-key-reused`.
            OverAllowance: from `check_turn`.

        """
        job, kind, owner = wanted.job, wanted.kind, wanted.owner

        def begin(db: sa.Connection) -> Begun:
            mine = self._insert(db, wanted, started)
            while not mine and not lock_run(db, job):  # it ended just now
                mine = self._insert(db, wanted, started)
            if mine:
                state = sa.select(tables.jobs.c.state).where(tables.jobs.c.id == job)
                if not made_anew and db.execute(state).scalar() == "done":
                    db.execute(sa.delete(tables.runs).where(_R.job == job))
                    return Begun.DONE
                theirs = sa.select(sa.func.count()).where(_R.owner == owner)
                check_turn(int(db.execute(theirs).scalar_one()) - 1)
                self._beat(db)
            if not (mine and started):
                insert_waiting(db, job, kind, wanted.request)
                hold(db, (owner,), kind, job)
                _show_state(db, job)
            if key is not None:
                _note_key(db, key)
            return Begun.MINE if mine else Begun.THEIRS

        return self._database.write(begin)

    def start(self, job: str) -> bool:
        """Note that this worker has a place for its run; tell whether it is still its own."""

        def start(db: sa.Connection) -> bool:
            mine = sa.update(tables.runs).where(_R.job == job, _R.worker == self.worker)
            found = db.execute(mine.values(started=True)).rowcount > 0
            _show_state(db, job)
            return found

        return self._database.write(start)

    def take_over(self, seen: OpenRun) -> bool:
        """Take a run as it was seen; tell whether it was still so."""
        relieved = seen.attempt + (1 if seen.started else 0)

        def take(db: sa.Connection) -> bool:
            as_seen = sa.update(tables.runs).where(
                _R.job == seen.job,
                _R.worker.is_not_distinct_from(seen.worker),
                _R.started == seen.started,
                _R.attempt == seen.attempt,
            )
            taken = as_seen.values(worker=self.worker, started=True, attempt=relieved)
            if not db.execute(taken.values(progress=None)).rowcount:
                return False
            self._beat(db)
            _show_state(db, seen.job)
            return True

        return self._database.write(take)

    def fail(self, job: str, failure: Mapping[str, Any]) -> bool:
        """End a run of this worker as failed; written down where its job is kept."""

        def fail(db: sa.Connection) -> bool:
            mine = end_run(db, job, self.worker)
            if mine:
                mark_failed(db, job, failure)
            return mine

        return self._database.write(fail)

    def beat(self, progress: Mapping[str, Mapping[str, Any]]) -> frozenset[str]:
        """Give a sign of life, tell how far runs are; return the jobs that are still its own."""

        def beat(db: sa.Connection) -> frozenset[str]:
            self._beat(db)
            for job, facts in progress.items():
                mine = sa.update(tables.runs).where(_R.job == job, _R.worker == self.worker)
                db.execute(mine.values(progress=json.dumps(dict(facts))))
            held = db.execute(sa.select(_R.job).where(_R.worker == self.worker))
            return frozenset(held.scalars())

        return self._database.write(beat)

    def look(self) -> tuple[OpenRun, ...]:
        """Return the runs that are not of this worker, the oldest first."""
        j = tables.jobs.c
        kept = sa.and_(j.id == _R.job, j.state.in_(_WAITING))
        wanted = (
            sa.select(
                _R.job, _R.kind, _R.owner, _R.worker, _R.started, _R.attempt,
                j.id.is_not(None), j.engine_version,
            )
            .select_from(tables.runs.outerjoin(tables.jobs, kept))
            .where(_R.worker.is_distinct_from(self.worker))
            .order_by(_R.seq)
            .limit(_MOST)
        )  # fmt: skip
        rows = self._database.read(lambda db: db.execute(wanted).all())
        return tuple(OpenRun(*row) for row in rows)

    def workers(self) -> dict[str, KnownWorker]:
        """Return all workers that have not said goodbye, by name; for orders, too."""
        w = tables.workers.c
        wanted = sa.select(w.id, w.beat_at, w.process, w.engine_version).where(w.beat_at > 0)
        rows = self._database.read(lambda db: db.execute(wanted).all())
        return {name: KnownWorker(*facts) for name, *facts in rows}

    def waiting(self) -> int:
        """Return how many runs wait for a place, of all workers."""
        wanted = sa.select(sa.func.count()).where(~_R.started)
        return int(self._database.read(lambda db: db.execute(wanted).scalar_one()))

    def forget(self, seen: OpenRun) -> None:
        """Drop a run that nobody was promised anything of, and whose worker is gone."""
        unkept = sa.delete(tables.runs).where(
            _R.job == seen.job, _R.worker == seen.worker, _R.attempt == seen.attempt,
            ~sa.exists().where(tables.jobs.c.id == _R.job, tables.jobs.c.state.in_(_WAITING)),
        )  # fmt: skip
        self._database.write(lambda db: db.execute(unkept))

    def leave(self) -> None:
        """Say goodbye: what is kept waits for anybody, and all else of this worker is dropped."""
        j = tables.jobs.c

        def leave(db: sa.Connection) -> None:
            mine = _R.worker == self.worker
            kept = sa.select(j.id).where(j.state.in_(_WAITING))
            db.execute(sa.delete(tables.runs).where(mine, _R.job.not_in(kept)))
            of_mine = sa.select(_R.job).where(mine)
            db.execute(
                sa.update(tables.jobs)
                .where(j.id.in_(of_mine), j.state == "running")
                .values(state="queued")
            )
            db.execute(
                sa.update(tables.runs).where(mine).values(worker=None, started=False, progress=None)
            )
            db.execute(sa.delete(tables.workers).where(tables.workers.c.id == self.worker))

        self._database.write(leave)

    def _insert(self, db: sa.Connection, wanted: Wanted, started: bool) -> bool:
        facts = {
            "job": wanted.job, "kind": wanted.kind, "owner": wanted.owner,
            "worker": self.worker, "started": started,
        }  # fmt: skip
        new = insert(db, tables.runs).values(facts).on_conflict_do_nothing().returning(_R.seq)
        return db.execute(new).first() is not None

    def _beat(self, db: sa.Connection) -> None:
        now = database_now(db)
        facts = {
            "id": self.worker, "beat_at": now, "generation": 0, "process": self._process,
            "engine_version": ENGINE_VERSION,
        }  # fmt: skip
        statement = insert(db, tables.workers).values(facts)
        changed = {"beat_at": now}
        db.execute(statement.on_conflict_do_update(index_elements=["id"], set_=changed))


def lock_run(db: sa.Connection, job: str) -> bool:
    """Hold a run until the transaction ends; tell whether there is one.

    Who writes a run and its job begins with the run: so nobody waits for each other.
    """
    wanted = sa.select(_R.job).where(_R.job == job).with_for_update()
    return db.execute(wanted).first() is not None


def end_run(db: sa.Connection, job: str, worker: str) -> bool:
    """End a run of a worker; tell whether it was its own. Its idempotency keys go with it."""
    mine = sa.delete(tables.runs).where(_R.job == job, _R.worker == worker)
    return db.execute(mine).rowcount > 0


def await_anyone(db: sa.Connection, job: str, kind: str, owner: str) -> None:
    """Let a job that is kept wait for any worker, unless it is under way; show which it is."""
    facts = {"job": job, "kind": kind, "owner": owner}
    db.execute(insert(db, tables.runs).values(facts).on_conflict_do_nothing())
    _show_state(db, job)


def await_forgotten(db: sa.Connection, older_s: float | None = None) -> None:
    """Let jobs wait for any worker that are kept, for so long, and known to none."""
    j = tables.jobs.c
    forgotten = sa.select(j.id, j.kind).where(
        j.state.in_(_WAITING), j.kind != "order", ~sa.exists().where(_R.job == j.id)
    )
    if older_s is not None:
        forgotten = forgotten.where(j.created_at < utc_ago(older_s))
    h = tables.holdings.c
    for job, kind in db.execute(forgotten.order_by(j.seq)).all():
        owner = sa.select(h.owner).where(h.kind == kind, h.id == job).order_by(h.seq).limit(1)
        await_anyone(db, job, kind, db.execute(owner).scalar() or "house")


def _note_key(db: sa.Connection, key: KeyRecord) -> None:
    """Note the idempotency key of a run; raises `Conflict` where it is another request's."""
    c = tables.run_keys.c
    facts = {"key": key.key, "fingerprint": key.fingerprint, "job": key.job}
    db.execute(insert(db, tables.run_keys).values(facts).on_conflict_do_nothing())
    found = db.execute(sa.select(c.fingerprint).where(c.key == key.key)).scalar_one()
    if found != key.fingerprint:
        raise key_reused()


def key_reused() -> Conflict:
    """Return the error that says that an idempotency key is another request's."""
    return Conflict(
        "This idempotency key was used with another request.",
        code="idempotency-key-reused",
        expected="a new key for a new request",
    )


def keep_keys(db: sa.Connection, job: str) -> None:
    """Keep the idempotency keys of a run for good: its job is kept."""
    c = tables.run_keys.c
    for row in db.execute(sa.select(c.key, c.fingerprint, c.job).where(c.job == job)).mappings():
        db.execute(insert(db, tables.keys).values(dict(row)).on_conflict_do_nothing())


def progress_of(db: sa.Connection, job: str) -> dict[str, Any] | None:
    """Return how far a run is, as its worker last said; None when it said nothing."""
    text = db.execute(sa.select(_R.progress).where(_R.job == job)).scalar()
    found: dict[str, Any] | None = json.loads(text) if text else None
    return found


def _show_state(db: sa.Connection, job: str) -> None:
    """Let a kept job say whether somebody is at it."""
    j = tables.jobs.c
    at_it = sa.exists().where(_R.job == job, _R.started)
    state = sa.case((at_it, "running"), else_="queued")
    kept = sa.update(tables.jobs).where(j.id == job, j.state.in_(_WAITING))
    db.execute(kept.values(state=state))
