"""Webhooks: addresses of an owner's own that are told what happened, and the calls to them.

What is to be told is written in the transaction in which it happens (`announce`), so that nothing
that counts goes untold and nothing is told that did not. A sender (who knows HTTP) claims the calls
that are due, and says what came of them. A claim holds for `LEASE_S`: a sender that
was killed loses nothing, and two of them never have the same call at the same time. So a call
arrives at least once, each time under the same event id. One that fails is tried again after
`RETRY_S`, then three times as long each time, `LONGEST_S` at most, for `DAY_S` in all.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import sqlalchemy as sa

from letterply.errors import Conflict, NotFound
from letterply.storage import tables
from letterply.storage.clock import utc_now
from letterply.storage.database import Database, database_now

__all__ = ["EVENT_TYPES", "RETRY_S", "DueCall", "Webhook", "WebhookCall", "Webhooks", "announce"]

EVENT_TYPES = ("order.done", "order.failed", "order.cancelled", "offer.replied")
"""What may be told; `webhook.test` comes beside, when it is asked for."""

MOST = 20
"""Addresses of one owner."""

RETRY_S = 5.0
LONGEST_S = 4 * 3600.0
DAY_S = 86_400.0
LEASE_S = 60.0
"""Longer than a call may take (`letterply.api.hooks`)."""

_DERIVED = "derived"
"""In place of a secret that is derived from the operator's key."""

_WAITING, _DELIVERED, _GIVEN_UP = "waiting", "delivered", "given-up"


@dataclass(frozen=True, slots=True)
class Webhook:
    """An address: `id`, `url`, `events` (some of `EVENT_TYPES`) and `created_at`."""

    id: str
    url: str
    events: tuple[str, ...]
    created_at: str


@dataclass(frozen=True, slots=True)
class WebhookCall:
    """What became of telling an address.

    Attributes:
        event: id of what happened, the same however often it is told.
        type: of it, one of `EVENT_TYPES` or `webhook.test`.
        state: `waiting`, `delivered` or `given-up`.
        tries: how often it was sent.
        status: that the last try was answered with; None where none came.
        said: what was wrong with the last try, in words; None where nothing was.
        created_at, tried_at: when it happened, and when it was last sent.

    """

    event: str
    type: str
    state: str
    tries: int
    status: int | None
    said: str | None
    created_at: str
    tried_at: str | None


@dataclass(frozen=True, slots=True)
class DueCall:
    """A call that is to be sent now: `body` signed with `secret`, to the `url` of `webhook`.

    Without a `secret` it cannot be: that is derived from a key which this service does not have.
    """

    seq: int
    webhook: str
    event: str
    body: str
    url: str
    secret: str


_HOOK = tuple(tables.webhooks.c[n] for n in ("id", "url", "events", "created_at"))
_CALL = tuple(tables.webhook_calls.c[n] for n in WebhookCall.__slots__)


def announce(
    db: sa.Connection, owners: Iterable[str], type_: str, facts: Mapping[str, Any]
) -> None:
    """Have the addresses of owners told of something, within the transaction in which it happens.

    Args:
        db: of the transaction.
        owners: whose addresses.
        type_: one of `EVENT_TYPES`.
        facts: what there is to tell beside id, type and time; JSON values.

    """
    c = tables.webhooks.c
    wanted = sa.select(c.id, c.events).where(c.owner.in_(list(owners))).order_by(c.seq)
    hooks = [id_ for id_, events in db.execute(wanted) if type_ in events.split()]
    _queue(db, hooks, type_, facts)


def _queue(db: sa.Connection, hooks: list[str], type_: str, facts: Mapping[str, Any]) -> str:
    event, now, at = f"evt_{secrets.token_hex(12)}", utc_now(), database_now(db)
    body = json.dumps({"id": event, "type": type_, "time": now, **facts}, ensure_ascii=False)
    rows = [
        {"webhook": hook, "event": event, "type": type_, "body": body, "next_at": at,
         "until": at + DAY_S, "created_at": now}
        for hook in hooks
    ]  # fmt: skip
    if rows:
        db.execute(sa.insert(tables.webhook_calls), rows)
    return event


class Webhooks:
    """The addresses of one owner; and, for whoever sends, the calls to all.

    Args:
        database: they are in.
        owner: whose they are.
        key: of the operator, from which secrets are derived, so that the database has none; where
            it is empty they are made by chance and kept there.

    """

    def __init__(self, database: Database, owner: str, key: str = "") -> None:
        self._database = database
        self._owner = owner
        self._key = key

    @property
    def _mine(self) -> sa.ColumnElement[bool]:
        return tables.belongs(tables.webhooks, self._owner)

    def add(self, url: str, events: Iterable[str] = EVENT_TYPES) -> tuple[Webhook, str]:
        """Keep an address; return it and the secret that calls to it are signed with.

        Raises:
            Conflict: `too-many-webhooks`.

        """
        wanted = tuple(e for e in EVENT_TYPES if e in set(events))
        hook = Webhook(f"hook_{secrets.token_hex(8)}", url, wanted, utc_now())
        secret = self._derived(hook.id) or _in_words(secrets.token_bytes(32))
        row = {"id": hook.id, "owner": self._owner, "url": url, "events": " ".join(wanted),
               "secret": _DERIVED if self._key else secret,
               "created_at": hook.created_at}  # fmt: skip

        def add(db: sa.Connection) -> None:
            count = sa.select(sa.func.count()).select_from(tables.webhooks).where(self._mine)
            if db.execute(count).scalar_one() >= MOST:
                raise Conflict(
                    f"There are {MOST} webhooks already.",
                    code="too-many-webhooks",
                    expected="one of them removed before",
                )
            db.execute(sa.insert(tables.webhooks).values(row))

        self._database.write(add)
        return hook, secret

    def listed(self) -> tuple[Webhook, ...]:
        """Return the addresses, the oldest first."""
        wanted = sa.select(*_HOOK).where(self._mine).order_by(tables.webhooks.c.seq)
        return tuple(_hook(row) for row in self._database.read(lambda db: db.execute(wanted).all()))

    def find(self, id_: str) -> Webhook:
        """Return an address; raises `NotFound` (`webhook-not-found`)."""
        wanted = sa.select(*_HOOK).where(self._mine, tables.webhooks.c.id == id_)
        row = self._database.read(lambda db: db.execute(wanted).one_or_none())
        if row is None:
            raise NotFound("webhook", id_)
        return _hook(row)

    def remove(self, id_: str) -> None:
        """Forget an address and the calls to it; raises `NotFound`."""
        gone = sa.delete(tables.webhooks).where(self._mine, tables.webhooks.c.id == id_)
        if not self._database.write(lambda db: db.execute(gone).rowcount):
            raise NotFound("webhook", id_)

    def try_out(self, id_: str) -> str:
        """Have an address told that this is a test; return the id of the event."""
        self.find(id_)
        return self._database.write(lambda db: _queue(db, [id_], "webhook.test", {"webhook": id_}))

    def calls(
        self, id_: str, *, limit: int, after: str | None = None
    ) -> tuple[tuple[WebhookCall, ...], bool]:
        """Return up to `limit` calls to an address, newest first, and whether there are more.

        Raises:
            NotFound: `webhook-not-found`; `event-not-found` for one that `after` names in vain.

        """
        self.find(id_)
        c = tables.webhook_calls.c
        wanted = sa.select(*_CALL).where(c.webhook == id_).order_by(c.seq.desc()).limit(limit + 1)

        def look(db: sa.Connection) -> list[WebhookCall]:
            listed = wanted
            if after is not None:
                at = sa.select(c.seq).where(c.webhook == id_, c.event == after)
                last = db.execute(at).scalar_one_or_none()
                if last is None:
                    raise NotFound("event", after)
                listed = wanted.where(c.seq < last)
            return [WebhookCall(*row) for row in db.execute(listed)]

        found = self._database.read(look)
        return tuple(found[:limit]), len(found) > limit

    def claim(self, most: int, busy: Iterable[str] = ()) -> tuple[DueCall, ...]:
        """Return calls that are due, of all owners, and hold them.

        Args:
            most: how many.
            busy: webhooks that are left out; of each other there is one call at most.

        """
        left_out = list(busy)
        c, h = tables.webhook_calls.c, tables.webhooks.c

        def waiting(db: sa.Connection, now: float) -> list[int]:
            first = (
                sa.select(sa.func.min(c.seq))
                .where(c.state == _WAITING, c.next_at <= now, c.webhook.not_in(left_out))
                .group_by(c.webhook)
                .order_by(sa.func.min(c.next_at))
                .limit(most)
            )
            return list(db.execute(first).scalars())

        def claim(db: sa.Connection) -> list[DueCall]:
            now = database_now(db)
            # Looked at again under the lock: another sender may have come first.
            due = sa.select(c.seq, h.id, c.event, c.body, h.url, h.secret).join(
                tables.webhooks, h.id == c.webhook
            )
            due = due.where(c.seq.in_(waiting(db, now)), c.state == _WAITING, c.next_at <= now)
            due = due.with_for_update(of=tables.webhook_calls, skip_locked=True)
            found = [self._signable(DueCall(*row)) for row in db.execute(due.order_by(c.seq))]
            held = sa.update(tables.webhook_calls).where(c.seq.in_([call.seq for call in found]))
            db.execute(held.values(next_at=now + LEASE_S, tries=c.tries + 1, tried_at=utc_now()))
            return found

        # Most looks find nothing, and a look holds nobody up.
        if not self._database.read(lambda db: waiting(db, database_now(db))):
            return ()
        return tuple(self._database.write(claim))

    def _signable(self, call: DueCall) -> DueCall:
        if call.secret != _DERIVED:
            return call
        return replace(call, secret=self._derived(call.webhook))

    def _derived(self, id_: str) -> str:
        """Return the secret of an address: a hash of its id under the key; empty without one."""
        if not self._key:
            return ""
        return _in_words(hmac.digest(self._key.encode(), id_.encode(), hashlib.sha256))

    def settle(
        self, call: DueCall, status: int | None, said: str | None, retry_s: float = RETRY_S
    ) -> None:
        """Note what came of a call: delivered where nothing is `said`, else to be tried again."""
        c = tables.webhook_calls.c
        this = sa.and_(c.seq == call.seq, c.state == _WAITING)

        def settle(db: sa.Connection) -> None:
            facts: dict[str, Any] = {"status": status, "said": said}
            if said is None:
                facts["state"] = _DELIVERED
            else:
                row = db.execute(sa.select(c.tries, c.until).where(this)).one_or_none()
                if row is None:
                    return
                next_at = database_now(db) + pause_after(row.tries, retry_s)
                facts["next_at"] = next_at
                facts["state"] = _WAITING if next_at <= row.until else _GIVEN_UP
            db.execute(sa.update(tables.webhook_calls).where(this).values(**facts))

        self._database.write(settle)


def pause_after(tries: int, retry_s: float = RETRY_S) -> float:
    """Return how long a call waits after so many tries, seconds.

    >>> [pause_after(n) for n in (1, 2, 3, 9, 99)]
    [5.0, 15.0, 45.0, 14400.0, 14400.0]

    """
    return float(min(LONGEST_S, retry_s * 3 ** min(tries - 1, 20)))


def _in_words(secret: bytes) -> str:
    return "whsec_" + base64.b64encode(secret).decode()


def _hook(row: Any) -> Webhook:
    id_, url, events, created_at = row
    return Webhook(id_, url, tuple(events.split()), created_at)
