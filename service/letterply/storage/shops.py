"""Shops by name: which version each is at, which versions it has had, which one is the usual.

A version is the digest of the document in normal form, whose bytes are kept by that digest like
any file of the store; so is the document as its maker wrote it. Versions stay when a shop changes
or goes: what was made in it names the one that it used.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import sqlalchemy as sa

from letterply.errors import Conflict, NotFound
from letterply.storage import tables
from letterply.storage.store import Store

__all__ = ["ShopRecord", "ShopShelf"]

_COLUMNS = tuple(
    tables.shops.c[n] for n in ("name", "version", "written", "usual", "created_at", "changed_at")
)
_USUAL = sa.select(*_COLUMNS).where(
    tables.shops.c.owner == sa.bindparam("whose"), tables.shops.c.usual
)


@dataclass(frozen=True, slots=True)
class ShopRecord:
    """A shop.

    Attributes:
        name: of it.
        version: digest of its document in normal form.
        written: digest of its document as it was written.
        usual: whether it is taken where none is named.
        created_at, changed_at: when.

    """

    name: str
    version: str
    written: str
    usual: bool
    created_at: str
    changed_at: str


class ShopShelf:
    """The shops of a store's owner. Any thread may call it."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def find(self, name: str) -> ShopRecord:
        """Return a shop; raises `NotFound` (`shop-not-found`)."""
        return self._store.database.read(lambda db: self._find(db, name))

    def usual(self) -> ShopRecord | None:
        """Return the shop that is taken where none is named, or None."""
        whose = {"whose": self._store.owner}
        row = self._store.database.read(lambda db: db.execute(_USUAL, whose).one_or_none())
        return ShopRecord(*row) if row else None

    def page(self, *, limit: int, after: str | None = None) -> tuple[tuple[ShopRecord, ...], bool]:
        """Return up to `limit` shops by name, and whether there are more."""
        name = tables.shops.c.name
        wanted = sa.select(*_COLUMNS).where(self._ours, name > (after or ""))
        wanted = wanted.order_by(name).limit(limit + 1)
        rows = self._store.database.read(lambda db: db.execute(wanted).all())
        return tuple(ShopRecord(*row) for row in rows[:limit]), len(rows) > limit

    def has_had(self, name: str, version: str) -> bool:
        """Tell whether a shop of this name is, or was, at this version."""
        c = tables.shop_versions.c
        wanted = sa.select(c.version).where(self._of(name), c.version == version)
        return self._store.database.read(lambda db: db.execute(wanted).first()) is not None

    def versions(self, name: str) -> tuple[tuple[str, str], ...]:
        """Return every version that a shop of this name has had and since when, newest first."""
        c = tables.shop_versions.c
        wanted = (
            sa.select(c.version, c.created_at)
            .where(self._of(name))
            .order_by(c.created_at.desc(), c.version)
        )
        rows = self._store.database.read(lambda db: db.execute(wanted).all())
        return tuple((version, at) for version, at in rows)

    def put(
        self,
        name: str,
        normal: bytes,
        written: bytes,
        catalogue: bytes | None = None,
        may: Callable[[str | None], None] = lambda version: None,
        along: Callable[[sa.Connection, str], None] = lambda db, version: None,
    ) -> tuple[ShopRecord, bool]:
        """Store a shop; return it and whether it is new.

        Args:
            name: of it.
            normal: its document in normal form.
            written: its document as it was written.
            catalogue: its own catalogue file, where it has one.
            may: is told the version that is replaced, or None, within the transaction; raises to
                leave it.
            along: is told the new version within the transaction: what is to count with it.

        """
        version, _ = self._store.keep_file(normal)
        as_written, _ = self._store.keep_file(written)
        own = self._store.keep_file(catalogue)[0] if catalogue is not None else None
        owner = self._store.owner

        def save(db: sa.Connection) -> bool:
            now = _now()
            found = self._row(db, name, keep=True)
            may(found.version if found else None)
            facts = {"version": version, "written": as_written, "changed_at": now}
            table = tables.shops
            if found is None:
                db.execute(sa.insert(table).values(owner=owner, name=name, created_at=now, **facts))
            elif (found.version, found.written) != (version, as_written):
                db.execute(sa.update(table).where(self._named(name)).values(**facts))
            c = tables.shop_versions.c
            known = sa.select(c.version).where(self._of(name), c.version == version)
            if db.execute(known).first() is None:
                row = {"owner": owner, "name": name, "version": version, "catalogue": own}
                row["created_at"] = now
                db.execute(sa.insert(tables.shop_versions).values(row))
            along(db, version)
            return found is None

        try:
            new = self._store.database.write(save)
        except sa.exc.IntegrityError as exc:  # another has just stored one of this name
            raise Conflict(
                f"The shop {name!r} was stored by somebody else just now.",
                code="shop-changed",
                expected="the same again, on top of what is stored now",
            ) from exc
        return self.find(name), new

    def remove(self, name: str, may: Callable[[str | None], None] = lambda version: None) -> None:
        """Remove a shop; its versions stay for what names them. Raises `NotFound`."""

        def drop(db: sa.Connection) -> None:
            may(self._find(db, name).version)
            db.execute(sa.delete(tables.shops).where(self._named(name)))
            # What is stored under the name later is another stock.
            gone = tables.stock_commits
            mine = tables.belongs(gone, self._store.owner)
            db.execute(sa.delete(gone).where(mine, gone.c.shop == name))

        self._store.database.write(drop)

    def use(self, name: str | None) -> None:
        """Let a shop be the usual one, or none of them; raises `NotFound`."""

        def choose(db: sa.Connection) -> None:
            table = tables.shops
            if name is not None:
                self._find(db, name)
            db.execute(sa.update(table).where(self._ours, table.c.usual).values(usual=False))
            if name is not None:
                db.execute(sa.update(table).where(self._named(name)).values(usual=True))

        self._store.database.write(choose)

    def read(self, digest: str) -> bytes:
        """Return the bytes of a document; raises `artifact-damaged`."""
        return self._store.path_of(digest).read_bytes()

    @property
    def _ours(self) -> sa.ColumnElement[bool]:
        return tables.belongs(tables.shops, self._store.owner)

    def _named(self, name: str) -> sa.ColumnElement[bool]:
        return sa.and_(self._ours, tables.shops.c.name == name)

    def _of(self, name: str) -> sa.ColumnElement[bool]:
        versions = tables.shop_versions
        return sa.and_(tables.belongs(versions, self._store.owner), versions.c.name == name)

    def _row(self, db: sa.Connection, name: str, *, keep: bool = False) -> ShopRecord | None:
        """Return a shop; with `keep` nobody else changes it before the transaction ends."""
        wanted = sa.select(*_COLUMNS).where(self._named(name))
        row = db.execute(wanted.with_for_update() if keep else wanted).one_or_none()
        return ShopRecord(*row) if row else None

    def _find(self, db: sa.Connection, name: str) -> ShopRecord:
        found = self._row(db, name)
        if found is None:
            raise NotFound("shop", name)
        return found


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
