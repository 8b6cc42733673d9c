"""Owners: whose a thing is that is kept.

Terms: an *owner* is a workshop, by name; without API keys all belongs to one, the `house`. What is
named by its content (a job, a font, a drawing) is kept once, and each owner who asked for it has a
*holding* of it: who holds nothing of it is told that it is not there. It goes when the last holding
has gone. What is made for one owner alone (a table of its own, say) has the column
`tables.owner_column()` and is asked for with `tables.belongs(table, owner)`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from letterply.errors import NotFound
from letterply.storage import tables
from letterply.storage.clock import utc_now

__all__ = [
    "HOUSE",
    "Allowance",
    "Usage",
    "hold",
    "holders",
    "insert",
    "is_owner",
    "let_go",
    "require",
    "usage",
]

HOUSE = "house"
"""The owner of all that is made without a key, and of what was made before there were owners."""

_H = tables.holdings.c
_HOLDING = sa.select(_H.seq).where(
    _H.owner == sa.bindparam("whose"),
    _H.kind == sa.bindparam("of"),
    _H.id == sa.bindparam("which"),
)
_OWNER = re.compile(r"[a-z0-9][a-z0-9._-]{0,59}")


def is_owner(name: str) -> bool:
    """Tell whether a text can be the name of an owner.

    >>> is_owner("boathouse-2"), is_owner("Boat House"), is_owner("")
    (True, False, False)

    """
    return _OWNER.fullmatch(name) is not None


@dataclass(frozen=True, slots=True)
class Allowance:
    """What one owner may use; None where there is no limit.

    Attributes:
        requests_per_minute: requests, at all services together.
        jobs_under_way: jobs that wait or run at once; and as many open orders beside them.
        stored_bytes: of files of jobs and orders, fonts and drawings.

    """

    requests_per_minute: int | None = None
    jobs_under_way: int | None = None
    stored_bytes: int | None = None


@dataclass(frozen=True, slots=True)
class Usage:
    """What an owner has: how many things of each kind, and how many bytes in all."""

    counts: dict[str, int]
    stored_bytes: int


def insert(db: sa.Connection, table: sa.Table) -> sqlite.Insert | postgresql.Insert:
    """Return an INSERT that can say what to do about a row that is there already."""
    if db.dialect.name == "sqlite":
        return sqlite.insert(table)
    return postgresql.insert(table)


def hold(db: sa.Connection, owners: Iterable[str], kind: str, id_: str) -> None:
    """Let owners hold a thing; who holds it already goes on doing so."""
    facts = [
        {"owner": o, "kind": kind, "id": id_, "created_at": utc_now()} for o in sorted(set(owners))
    ]
    if facts:
        db.execute(insert(db, tables.holdings).values(facts).on_conflict_do_nothing())


def holders(db: sa.Connection, kind: str, id_: str) -> tuple[str, ...]:
    """Return who holds a thing, the first one first."""
    h = tables.holdings.c
    wanted = sa.select(h.owner).where(h.kind == kind, h.id == id_).order_by(h.seq)
    return tuple(db.execute(wanted).scalars())


def require(db: sa.Connection, owner: str, kind: str, id_: str, what: str | None = None) -> None:
    """Raise `NotFound` (of `what`, or the kind) unless the owner holds the thing."""
    if db.execute(_HOLDING, {"whose": owner, "of": kind, "which": id_}).first() is None:
        raise NotFound(what or kind, id_)


def let_go(db: sa.Connection, owner: str, kind: str, id_: str) -> bool:
    """End a holding; tell whether nobody holds the thing any more. Raises `NotFound`."""
    h = tables.holdings.c
    mine = sa.delete(tables.holdings).where(h.owner == owner, h.kind == kind, h.id == id_)
    if not db.execute(mine).rowcount:
        raise NotFound(kind, id_)
    return not holders(db, kind, id_)


def usage(db: sa.Connection, owner: str) -> Usage:
    """Return what an owner has."""
    h, a = tables.holdings.c, tables.artifacts.c
    found = db.execute(
        sa.select(h.kind, sa.func.count()).where(h.owner == owner).group_by(h.kind)
    ).all()
    sizes = [
        sa.select(sa.func.sum(a.size)).select_from(
            tables.holdings.join(tables.artifacts, a.job == h.id)
        )
    ]
    for kind, table in (("font", tables.fonts), ("artwork", tables.artworks)):
        held = tables.holdings.join(table, sa.and_(table.c.id == h.id, h.kind == kind))
        sizes.append(sa.select(sa.func.sum(table.c.size)).select_from(held))
    total = sum(int(db.execute(s.where(h.owner == owner)).scalar() or 0) for s in sizes)
    return Usage({str(kind): int(count) for kind, count in sorted(found)}, total)
