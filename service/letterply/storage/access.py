"""Access keys: made, found again by their secret, revoked. Only digests of secrets are kept.

A secret is 256 bits of chance, so a fast digest of it (SHA-256) is as good as a slow one: there is
nothing to guess. It is shown once, when it is made. What is looked up is its digest, so the time
that the look-up takes tells nothing of it.
"""

from __future__ import annotations

import hashlib
import math
import secrets
import time
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from letterply.errors import InputError, NotFound
from letterply.storage import tables
from letterply.storage.clock import utc_now
from letterply.storage.database import Database
from letterply.storage.owners import is_owner

__all__ = ["SCOPES", "AccessKey", "AccessKeys", "digest_of_secret"]

SCOPES = ("read", "write", "metrics", "admin")
"""`read` to ask, `write` to have things made and deleted, `metrics` to watch the service, `admin`
for all of that, keys, and whatever owner a request names."""

_SECRET_BYTES = 32
_BELIEVED_S = 1.0
_ONE = sa.select(tables.api_keys.c.id).limit(1)
_COLUMNS = ("id", "name", "owner", "scopes", "created_at", "expires_at", "revoked_at")


@dataclass(frozen=True, slots=True)
class AccessKey:
    """A key as it is kept.

    Attributes:
        id: names it in public; no secret.
        name: who holds it; goes to the log.
        owner: whose things it reaches.
        scopes: of `SCOPES`.
        created_at: ISO 8601, UTC.
        expires_at: from then on it opens nothing; None for never.
        revoked_at: since then it opens nothing; None if it was not revoked.

    """

    id: str
    name: str
    owner: str
    scopes: frozenset[str]
    created_at: str
    expires_at: str | None = None
    revoked_at: str | None = None

    def reaches(self, scope: str) -> bool:
        """Tell whether a scope is among its own; `admin` holds all."""
        return scope in self.scopes or "admin" in self.scopes

    @property
    def valid(self) -> bool:
        """Whether it opens anything now."""
        return self.revoked_at is None and (self.expires_at is None or self.expires_at > utc_now())


def digest_of_secret(secret: str) -> str:
    """Return what is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


class AccessKeys:
    """The keys in a database."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._any = False, -math.inf

    def make(
        self,
        name: str,
        owner: str,
        scopes: Iterable[str] = ("read", "write"),
        expires_at: str | None = None,
    ) -> tuple[AccessKey, str]:
        """Make a key; return it and its secret, which is not kept.

        Raises:
            InputError: `bad-key`, for a name, an owner, scopes or an end that cannot be.

        """
        wanted = frozenset(scopes)
        _vet(name, owner, wanted, expires_at)
        secret = f"lp_{secrets.token_urlsafe(_SECRET_BYTES)}"
        key = AccessKey(secrets.token_hex(6), name, owner, wanted, utc_now(), expires_at)
        facts = {
            "id": key.id,
            "name": name,
            "owner": owner,
            "scopes": " ".join(sorted(wanted)),
            "digest": digest_of_secret(secret),
            "created_at": key.created_at,
            "expires_at": expires_at,
        }
        self._database.write(lambda db: db.execute(sa.insert(tables.api_keys).values(facts)))
        self._any = True, time.monotonic()
        return key, secret

    def find(self, secret: str) -> AccessKey | None:
        """Return the key with this secret, valid or not; None when there is none."""
        wanted = _select().where(tables.api_keys.c.digest == digest_of_secret(secret))
        row = self._database.read(lambda db: db.execute(wanted).one_or_none())
        return _key(row) if row is not None else None

    def listed(self) -> tuple[AccessKey, ...]:
        """Return all keys, the oldest first; revoked ones too."""
        c = tables.api_keys.c
        rows = self._database.read(lambda db: db.execute(_select().order_by(c.seq)).all())
        return tuple(_key(row) for row in rows)

    def key(self, id_: str) -> AccessKey:
        """Return a key by its id; raises `NotFound` (`key-not-found`)."""
        wanted = _select().where(tables.api_keys.c.id == id_)
        row = self._database.read(lambda db: db.execute(wanted).one_or_none())
        if row is None:
            raise NotFound("key", id_)
        return _key(row)

    def revoke(self, id_: str) -> AccessKey:
        """End a key at once; one that was revoked stays so. Raises `NotFound`."""
        c = tables.api_keys.c
        statement = (
            sa.update(tables.api_keys)
            .where(c.id == id_, c.revoked_at.is_(None))
            .values(revoked_at=utc_now())
        )
        self._database.write(lambda db: db.execute(statement))
        return self.key(id_)

    def any(self) -> bool:
        """Tell whether a key was ever made: from then on one is asked for."""
        asked_at = time.monotonic()
        found = self._database.read(lambda db: db.execute(_ONE).first()) is not None
        self._any = found or self._any[0], asked_at
        return found

    @property
    def any_known(self) -> bool | None:
        """What `any` is, where it need not be asked; None where it must.

        Keys are revoked, never forgotten, so one stays one. That there is none is believed for a
        second: so late is one asked for that another process made.
        """
        found, asked_at = self._any
        return found if found or time.monotonic() - asked_at < _BELIEVED_S else None


def _vet(name: str, owner: str, scopes: frozenset[str], expires_at: str | None) -> None:
    wrong: dict[str, str] = {}
    if not 1 <= len(name) <= 60 or not name.isprintable():
        wrong["name"] = "1 to 60 printable characters"
    if not is_owner(owner):
        wrong["owner"] = "small letters, digits, dots and dashes, 60 at most"
    if not scopes or not scopes <= set(SCOPES):
        wrong["scopes"] = f"some of {', '.join(SCOPES)}"
    if expires_at is not None and expires_at <= utc_now():
        wrong["expires_at"] = "a time that is still to come"
    if wrong:
        field, expected = next(iter(wrong.items()))
        raise InputError(
            f"The key cannot be made: its {' and its '.join(wrong)} cannot be used.",
            code="bad-key",
            field=field,
            expected=expected,
            data={"fields": wrong} if len(wrong) > 1 else {},
        )


def _select() -> sa.Select[Any]:
    return sa.select(*(tables.api_keys.c[name] for name in _COLUMNS))


def _key(row: Any) -> AccessKey:
    id_, name, owner, scopes, created_at, expires_at, revoked_at = row
    held = frozenset(scopes.split())
    return AccessKey(id_, name, owner, held, created_at, expires_at, revoked_at)
