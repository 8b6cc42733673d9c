"""How much each owner has asked for, told among the services on one database.

Each service counts for itself and, now and then, writes down how much that is in all and reads what
the others wrote: no request waits for that. What is counted only grows, so a row that is written
twice, or read late, counts once.
"""

from __future__ import annotations

from collections.abc import Mapping

import sqlalchemy as sa

from letterply.storage import tables
from letterply.storage.database import Database, database_now
from letterply.storage.owners import insert

__all__ = ["exchange_counts"]

_KEPT_S = 300.0
"""A service that has told nothing for so long is forgotten."""


def exchange_counts(
    database: Database, worker: str, counts: Mapping[str, int]
) -> dict[tuple[str, str], int]:
    """Tell how many requests of owners were counted since the start of a service.

    Args:
        database: that all share.
        worker: name of the service.
        counts: owner -> how many, of those that changed.

    Returns:
        Worker and owner -> how many, of the others.

    """
    c = tables.request_counts.c

    def look(db: sa.Connection) -> dict[tuple[str, str], int]:
        others = sa.select(c.worker, c.owner, c.count).where(c.worker != worker)
        return {(w, owner): count for w, owner, count in db.execute(others)}

    def exchange(db: sa.Connection) -> dict[tuple[str, str], int]:
        now = database_now(db)
        for owner, count in sorted(counts.items()):
            facts = {"worker": worker, "owner": owner, "count": count, "told_at": now}
            told = insert(db, tables.request_counts).values(facts)
            changed = {"count": count, "told_at": now}
            db.execute(told.on_conflict_do_update(index_elements=["worker", "owner"], set_=changed))
        db.execute(sa.delete(tables.request_counts).where(c.told_at < now - _KEPT_S))
        return look(db)

    return database.write(exchange) if counts else database.read(look)
