"""Sweeping: what nobody holds any more, and what is older or larger than may be, goes.

Safe beside writers, and beside another sweep: bytes are written before the row that names them, so
what was written a short while ago is left alone; who stores bytes that are there already marks them
as new; and what is about to go is looked at once more. What an open order needs stays: its list,
its fonts and drawings, and every answer of a task since it began.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import sqlalchemy as sa

from letterply.errors import LetterplyError
from letterply.storage import tables
from letterply.storage.clock import utc_ago
from letterply.storage.database import database_now
from letterply.storage.folders import shrink_folder
from letterply.storage.offered import still_shown
from letterply.storage.owners import let_go
from letterply.storage.runs import await_forgotten
from letterply.storage.store import Store
from letterply.storage.vault import KeptVault, named_bytes, open_vault

__all__ = ["SweepRules", "Swept", "bytes_in_use", "sweep"]

_GRACE_S = 3600.0
"""What was written so lately may belong to a row that is still to come."""

_ANSWERS_S = 7 * 86_400.0
"""Answers of tasks that no order has recalled for so long are found out again."""

_CALLS_S = 30 * 86_400.0
"""What became of a call to a webhook can be read for so long."""

_WORKERS_S = 7 * 86_400.0
_CACHE_BYTES = 500_000_000
_CLOSED = ("done", "failed", "cancelled")
_OPEN_JOBS = ("queued", "running")


@dataclass(frozen=True, slots=True)
class SweepRules:
    """What goes.

    Attributes:
        keep_s: age at which jobs and closed orders go; None for never.
        keep_bytes: of one owner's files, above which its oldest jobs and orders go; None for never.
        grace_s: bytes younger than this are left alone.
        answers_s: answers of tasks that were not needed for so long go.
        calls_s: webhooks' calls that are over go when they are so old.

    """

    keep_s: float | None = None
    keep_bytes: int | None = None
    grace_s: float = _GRACE_S
    answers_s: float = _ANSWERS_S
    calls_s: float = _CALLS_S


@dataclass(frozen=True, slots=True)
class Swept:
    """What went: ids of jobs and of orders, how many answers of tasks, blobs, and bytes."""

    jobs: tuple[str, ...]
    orders: tuple[str, ...]
    answers: int
    blobs: int
    freed_bytes: int


def sweep(store: Store, rules: SweepRules, keep: Iterable[str] = ()) -> Swept:
    """Remove what is not needed any more; `keep` names blobs that are needed beside the rest.

    Raises:
        LetterplyError: `store-busy`, `store-unreachable`: what is left goes next time.

    """
    gone = store.database.write(lambda db: _end_old(db, rules))
    gone += store.database.write(lambda db: _drop_unheld(db, rules))
    store.database.write(lambda db: _drop_old_calls(db, rules))
    store.database.write(lambda db: await_forgotten(db, rules.grace_s))
    store.database.write(_drop_old_workers)
    orders = tuple(id_ for kind, id_ in gone if kind == "order")
    jobs = tuple(id_ for kind, id_ in gone if kind != "order")
    now, vault = time.time(), open_vault(store.place)
    before = now - rules.grace_s
    waiting = list(store.blobs.stored_before(before))
    oldest_open = store.database.read(_oldest_open)
    freed = answers = blobs = 0
    drawn = store.database.read(lambda db: _drawn_from(store, db))
    gone_before = min(now - rules.answers_s, oldest_open - rules.grace_s)
    for key, recalled_at in list(vault.keys()):
        stays = recalled_at >= gone_before or key in drawn
        if not stays and (size := vault.forget(key, gone_before)):
            answers, freed = answers + 1, freed + size
    # Looked up after the list was made: what was stored in between is not on it.
    kept = set(keep)
    used = bytes_in_use(store, vault) | kept
    for name in waiting:
        if name not in used and (size := store.blobs.remove(name, before)):
            blobs, freed = blobs + 1, freed + size
    store.blobs.tidy(kept)
    freed += shrink_folder(store.root / "compiled", _CACHE_BYTES)
    return Swept(jobs, orders, answers, blobs, freed)


def bytes_in_use(store: Store, vault: KeptVault) -> set[str]:
    """Return the digests of all bytes that something names."""
    o = tables.orders.c
    columns = (
        tables.artifacts.c.digest, tables.jobs.c.answer, tables.fonts.c.digest,
        tables.artworks.c.digest, o.content, o.layout, tables.shops.c.written,
        tables.shop_versions.c.version, tables.shop_versions.c.catalogue,
    )  # fmt: skip

    def look(db: sa.Connection) -> tuple[set[str], list[str]]:
        shown = db.execute(sa.select(tables.offers.c.content)).scalars()
        offered = {d for text in shown for d in named_bytes(json.loads(text))}
        named = {d for c in columns for d in db.execute(sa.select(c).distinct()).scalars() if d}
        papers = [d for row in db.execute(sa.select(o.content, o.layout)) for d in row if d]
        return named | offered, papers

    used, papers = store.database.read(look)
    for name in papers:
        used.update(_named_in(store, name))
    for key, _ in list(vault.keys()):
        used.update(named_bytes(vault.peek(key) or {}))
    return used


def _named_in(store: Store, name: str) -> Iterator[str]:
    """Yield what the list or the layout of an order names: fonts, drawings, earlier sheets."""
    try:
        yield from named_bytes(json.loads(store.blobs.read(name)))
    except LetterplyError as error:
        if error.code != "artifact-damaged":
            raise  # out of reach now: nothing may be thought to be unused


def _drawn_from(store: Store, db: sa.Connection) -> set[str]:
    """Return the keys of the answers that drawings of orders are made from, when asked for."""
    j = tables.jobs.c
    kept = sa.select(j.answer).where(j.kind == "order", j.answer.is_not(None))
    return {key for name in db.execute(kept).scalars() for key in _named_in(store, name)}


def _oldest_open(db: sa.Connection) -> float:
    """Return when the oldest open order began; now when none is open."""
    o = tables.orders.c
    began = sa.select(sa.func.min(o.began_at)).where(o.phase.not_in(_CLOSED))
    found = db.execute(began).scalar()
    return time.time() if found is None else float(found)


def _end_old(db: sa.Connection, rules: SweepRules) -> list[tuple[str, str]]:
    """End holdings of jobs and orders that are over, by age and by size; return what is gone."""
    if rules.keep_s is None and rules.keep_bytes is None:
        return []
    too_old = "" if rules.keep_s is None else utc_ago(rules.keep_s)
    gone: list[tuple[str, str]] = []
    taken: dict[str, int] = {}
    for owner, kind, id_, created_at, size, over in _newest_first(db):
        taken[owner] = taken.get(owner, 0) + size
        too_much = rules.keep_bytes is not None and taken[owner] > rules.keep_bytes
        if over and (created_at < too_old or too_much):
            taken[owner] -= size
            if let_go(db, owner, kind, id_):
                db.execute(sa.delete(tables.jobs).where(tables.jobs.c.id == id_))
                gone.append((kind, id_))
    return gone


def _newest_first(db: sa.Connection) -> list[tuple[str, str, str, str, int, bool]]:
    h, j, o = tables.holdings.c, tables.jobs.c, tables.orders.c
    size = (
        sa.select(sa.func.coalesce(sa.func.sum(tables.artifacts.c.size), 0))
        .where(tables.artifacts.c.job == j.id)
        .scalar_subquery()
    )
    both = tables.holdings.join(tables.jobs, sa.and_(j.id == h.id, j.kind == h.kind))
    offered = sa.exists().where(tables.offers.c.job == j.id, still_shown())
    wanted = sa.select(h.owner, h.kind, h.id, h.created_at, size, j.state, o.phase, offered)
    wanted = wanted.select_from(both.outerjoin(tables.orders, o.job == j.id))
    return [
        (owner, kind, id_, created_at, int(size), _is_over(state, phase) and not open_offer)
        for owner, kind, id_, created_at, size, state, phase, open_offer in db.execute(
            wanted.order_by(h.seq.desc())
        )
    ]


def _is_over(state: str, phase: str | None) -> bool:
    return state not in _OPEN_JOBS and (phase is None or phase in _CLOSED)


def _drop_unheld(db: sa.Connection, rules: SweepRules) -> list[tuple[str, str]]:
    """Drop what nobody holds: a job that was deleted in the moment when it was done."""
    j, h = tables.jobs.c, tables.holdings.c
    held = sa.select(h.id).where(h.id == j.id, h.kind == j.kind).exists()
    unheld = sa.and_(j.created_at < utc_ago(rules.grace_s), j.state.not_in(_OPEN_JOBS), ~held)
    dropped = db.execute(sa.delete(tables.jobs).where(unheld).returning(j.kind, j.id)).all()
    return [(kind, id_) for kind, id_ in dropped]


def _drop_old_workers(db: sa.Connection) -> None:
    """Strike off services that fell silent long ago; workers for orders see to their own."""
    w = tables.workers.c
    silent = sa.and_(w.generation == 0, w.beat_at < database_now(db) - _WORKERS_S)
    db.execute(sa.delete(tables.workers).where(silent))


def _drop_old_calls(db: sa.Connection, rules: SweepRules) -> None:
    w = tables.webhook_calls.c
    old = sa.and_(w.state != "waiting", w.created_at < utc_ago(rules.calls_s))
    db.execute(sa.delete(tables.webhook_calls).where(old))
