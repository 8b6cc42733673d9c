"""The book of a shop's stock: what orders and plans took out of it, what came back, and when.

A *commit* stands until it is undone, and one of an order or a plan stands at most: the schema sees
to it. It is written in the transaction that changes the shop (`ShopShelf.put`).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from letterply.storage import tables
from letterply.storage.clock import utc_now
from letterply.storage.store import Store

__all__ = ["Along", "Commit", "CommitBook"]

_NAMES = ("seq", "shop", "kind", "subject", "moved", "version", "created_at", "undone_at")
_COLUMNS = tuple(tables.stock_commits.c[n] for n in _NAMES)
Along = Callable[[sa.Connection, str], None]
"""Is told the new version of a shop within the transaction that stores it."""


@dataclass(frozen=True, slots=True)
class Commit:
    """What one order or plan did to the stock of a shop.

    Attributes:
        number: grows from commit to commit.
        shop: name of it.
        kind, subject: `order` or `plan`, and its id.
        moved: what was taken and what came back, as it was written down.
        version: of the shop, as it was then.
        created_at: when.
        undone_at: when it was undone; None while it stands.

    """

    number: int
    shop: str
    kind: str
    subject: str
    moved: Mapping[str, Any]
    version: str
    created_at: str
    undone_at: str | None


class CommitBook:
    """The commits of a store's owner. Any thread may call it."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def standing(self, kind: str, subject: str) -> Commit | None:
        """Return the commit of an order or a plan that was not undone, or None."""
        c = tables.stock_commits.c
        wanted = sa.select(*_COLUMNS).where(
            self._ours, c.kind == kind, c.subject == subject, c.undone_at.is_(None)
        )
        row = self._store.database.read(lambda db: db.execute(wanted).one_or_none())
        return _commit(row) if row else None

    def page(
        self, shop: str, *, limit: int, before: int | None = None
    ) -> tuple[tuple[Commit, ...], bool]:
        """Return up to `limit` commits of a shop, newest first, and whether there are more."""
        c = tables.stock_commits.c
        wanted = sa.select(*_COLUMNS).where(self._ours, c.shop == shop)
        if before is not None:
            wanted = wanted.where(c.seq < before)
        wanted = wanted.order_by(c.seq.desc()).limit(limit + 1)
        rows = self._store.database.read(lambda db: db.execute(wanted).all())
        return tuple(_commit(row) for row in rows[:limit]), len(rows) > limit

    def of_shop(self, shop: str) -> tuple[Commit, ...]:
        """Return all commits of a shop, newest first."""
        return self.page(shop, limit=1_000_000)[0]

    def writing(self, shop: str, kind: str, subject: str, moved: Mapping[str, Any]) -> Along:
        """Return what writes a commit down."""
        row = {"owner": self._store.owner, "shop": shop, "kind": kind, "subject": subject}
        row |= {"moved": json.dumps(moved, sort_keys=True), "created_at": utc_now()}

        def write(db: sa.Connection, version: str) -> None:
            db.execute(sa.insert(tables.stock_commits).values(**row, version=version))

        return write

    def undoing(self, commit: Commit) -> Along:
        """Return what writes down that a commit was undone."""
        c = tables.stock_commits.c
        one = sa.update(tables.stock_commits).where(c.seq == commit.number, c.undone_at.is_(None))

        def write(db: sa.Connection, version: str) -> None:
            db.execute(one.values(undone_at=utc_now()))

        return write

    @property
    def _ours(self) -> sa.ColumnElement[bool]:
        return tables.belongs(tables.stock_commits, self._store.owner)


def _commit(row: Any) -> Commit:
    number, shop, kind, subject, moved, *rest = row
    return Commit(number, shop, kind, subject, json.loads(moved), *rest)
