"""The book of offers: what was offered and what was replied, kept in the database."""

from __future__ import annotations

import hmac
import json
from collections.abc import Iterable, Mapping
from typing import Any

import sqlalchemy as sa

from letterply.errors import Conflict, NotFound
from letterply.offers.model import (
    MOST_REPLIES,
    Offer,
    Piece,
    Reply,
    ReplyKind,
    token_digest,
)
from letterply.storage import HOUSE, Database, announce, canonical_json, tables

__all__ = ["OfferBook", "require_open"]

_COLUMNS = tuple(
    tables.offers.c[name]
    for name in (
        "id", "job", "token_digest", "version", "content", "created_at", "ends_at", "withdrawn_at",
    )
)  # fmt: skip


class OfferBook:
    """Offers in a database. Instants are handed in (`letterply.offers.model.instant`)."""

    def __init__(self, database: Database, owner: str | None = None) -> None:
        self._database = database
        self._owner = owner

    def of(self, owner: str) -> OfferBook:
        """Return the same book as one owner sees it; without an owner it is the customers'."""
        return OfferBook(self._database, owner)

    @property
    def _mine(self) -> sa.ColumnElement[bool]:
        return sa.true() if self._owner is None else tables.belongs(tables.offers, self._owner)

    def add(self, offer: Offer, token: str) -> Offer:
        """Keep an offer behind a token; of the token its digest alone is kept."""
        row = {
            "id": offer.id,
            "job": offer.job,
            "token_digest": token_digest(token),
            "version": offer.version,
            "content": canonical_json(_content(offer)).decode(),
            "created_at": offer.created_at,
            "ends_at": offer.ends_at,
            "owner": self._owner or HOUSE,
        }

        def add(db: sa.Connection) -> None:
            known = sa.select(tables.offers.c.seq).where(tables.offers.c.id == offer.id)
            if db.execute(known).one_or_none() is None:  # this may be the second try
                db.execute(sa.insert(tables.offers).values(row))

        self._database.write(add)
        return self.offer(offer.id)

    def offer(self, offer_id: str) -> Offer:
        """Return an offer; raises `NotFound` (`offer-not-found`)."""

        def look(db: sa.Connection) -> Offer | None:
            return _one(db, sa.and_(tables.offers.c.id == offer_id, self._mine))

        found = self._database.read(look)
        if found is None:
            raise NotFound("offer", offer_id)
        return found

    def behind(self, token: str) -> Offer:
        """Return the offer behind a token; raises `NotFound`, which does not tell the token.

        It is found by a digest, of which nobody can choose a part; the comparison takes the same
        time for all.
        """
        asked = token_digest(token)

        def look(db: sa.Connection) -> Offer | None:
            wanted = sa.select(tables.offers.c.id, tables.offers.c.token_digest)
            row = db.execute(wanted.where(tables.offers.c.token_digest == asked)).one_or_none()
            if row is None or not hmac.compare_digest(row[1].encode(), asked.encode()):
                return None
            return _one(db, tables.offers.c.id == row[0])

        found = self._database.read(look)
        if found is None:
            raise NotFound("offer", "at this address")
        return found

    def offers(
        self,
        *,
        limit: int,
        after: str | None = None,
        job: str | None = None,
        version: str | None = None,
    ) -> tuple[tuple[Offer, ...], bool]:
        """Return up to `limit` offers, newest first, and whether there are more.

        Args:
            limit: how many.
            after: id of the last one of the page before.
            job: only those that were made from this job.
            version: only those of this version.

        """
        c = tables.offers.c

        def look(db: sa.Connection) -> list[Offer]:
            wanted = sa.select(*_COLUMNS).where(self._mine)
            wanted = wanted.order_by(c.seq.desc()).limit(limit + 1)
            if after is not None:
                at = sa.select(c.seq).where(c.id == after, self._mine)
                last = db.execute(at).scalar_one_or_none()
                if last is None:
                    raise NotFound("offer", after)
                wanted = wanted.where(c.seq < last)
            if job is not None:
                wanted = wanted.where(c.job == job)
            if version is not None:
                wanted = wanted.where(c.version == version)
            return _with_replies(db, db.execute(wanted).all())

        found = self._database.read(look)
        return tuple(found[:limit]), len(found) > limit

    def of_jobs(self, jobs: Iterable[str]) -> tuple[Offer, ...]:
        """Return all offers that were made from any of these jobs, oldest first."""
        wanted = sa.select(*_COLUMNS).where(tables.offers.c.job.in_(list(jobs)), self._mine)
        wanted = wanted.order_by(tables.offers.c.seq)
        return tuple(self._database.read(lambda db: _with_replies(db, db.execute(wanted).all())))

    def withdraw(self, offer_id: str, now: str) -> Offer:
        """Take an offer back; one that was withdrawn stays as it is.

        Raises:
            NotFound: `offer-not-found`.
            Conflict: `offer-agreed`.

        """
        self.offer(offer_id)  # somebody else's is not there

        def withdraw(db: sa.Connection) -> None:
            known = _held(db, offer_id)
            if known.yes is not None:
                raise _agreed(known.yes)
            if known.withdrawn_at is None:
                row = sa.update(tables.offers).where(tables.offers.c.id == offer_id)
                db.execute(row.values(withdrawn_at=now))

        self._database.write(withdraw)
        return self.offer(offer_id)

    def reply(self, offer_id: str, kind: ReplyKind, name: str, text: str, now: str) -> Offer:
        """Keep a reply to an offer that is open.

        Raises:
            Conflict: `offer-agreed`, `offer-ended`, `offer-withdrawn`, `too-many-replies`.

        """

        def reply(db: sa.Connection) -> None:
            known = _held(db, offer_id)
            last = known.replies[-1:]
            if [(r.kind, r.name, r.text, r.given_at) for r in last] == [(kind, name, text, now)]:
                return  # this is the second try
            require_open(known, now)
            if known.yes is not None:
                raise _agreed(known.yes)
            # A yes always finds room: it is the last one anyway.
            if len(known.replies) >= MOST_REPLIES and kind is ReplyKind.WISH:
                raise Conflict(
                    f"There are {MOST_REPLIES} wishes already.",
                    code="too-many-replies",
                    expected="a word with the maker, or a yes",
                )
            row = {
                "offer": offer_id,
                "number": len(known.replies) + 1,
                "kind": kind,
                "name": name,
                "text": text,
                "version": known.version,
                "given_at": now,
            }
            db.execute(sa.insert(tables.offer_replies).values(row))
            c = tables.offers.c
            owners = db.execute(sa.select(c.owner).where(c.id == offer_id)).scalars()
            # What the customer wrote is for who asks with a key.
            told = {"offer": offer_id, "job": known.job, "source": known.source,
                    "title": known.title, "reply": kind, "number": row["number"]}  # fmt: skip
            announce(db, owners, "offer.replied", told)

        self._database.write(reply)
        return self.offer(offer_id)


def require_open(offer: Offer, now: str) -> None:
    """Refuse what is behind a link no more; raises `Conflict`."""
    if offer.withdrawn_at is not None:
        raise Conflict("The maker has taken this offer back.", code="offer-withdrawn")
    if offer.is_over(now):
        raise Conflict("This offer has ended.", code="offer-ended", data={"ends_at": offer.ends_at})


def _agreed(yes: Reply) -> Conflict:
    return Conflict(
        "There is a yes to this offer already, and a yes is final.",
        code="offer-agreed",
        expected="a new offer for anything else",
        data={"given_at": yes.given_at},
    )


def _one(db: sa.Connection, which: sa.ColumnElement[bool]) -> Offer | None:
    found = _with_replies(db, db.execute(sa.select(*_COLUMNS).where(which)).all())
    return found[0] if found else None


def _held(db: sa.Connection, offer_id: str) -> Offer:
    """Return an offer whose row is held until the transaction ends: replies come one at a time."""
    c = tables.offers.c
    row = db.execute(sa.select(*_COLUMNS).where(c.id == offer_id).with_for_update()).one_or_none()
    if row is None:
        raise NotFound("offer", offer_id)
    return _with_replies(db, [row])[0]


def _with_replies(db: sa.Connection, rows: Iterable[Any]) -> list[Offer]:
    listed = list(rows)
    r = tables.offer_replies.c
    wanted = sa.select(r.offer, r.number, r.kind, r.name, r.text, r.version, r.given_at)
    wanted = wanted.where(r.offer.in_([row[0] for row in listed])).order_by(r.offer, r.number)
    replies: dict[str, list[Reply]] = {}
    for offer, number, kind, *rest in db.execute(wanted) if listed else ():
        replies.setdefault(offer, []).append(Reply(number, ReplyKind(kind), *rest))
    return [_offer_from(row, tuple(replies.get(row[0], ()))) for row in listed]


def _content(offer: Offer) -> dict[str, Any]:
    names = ("source", "title", "maker", "note", "price", "currency")
    pieces = [{name: getattr(p, name) for name in Piece.__slots__} for p in offer.pieces]
    return {name: getattr(offer, name) for name in names} | {"pieces": pieces}


def _offer_from(row: Any, replies: tuple[Reply, ...]) -> Offer:
    id_, job, _, version, content, created_at, ends_at, withdrawn_at = row
    facts: Mapping[str, Any] = json.loads(content)
    pieces = tuple(
        Piece(**{**p, "size_mm": tuple(p["size_mm"]), "materials": tuple(p["materials"])})
        for p in facts["pieces"]
    )
    return Offer(
        id=id_,
        job=job,
        version=version,
        created_at=created_at,
        ends_at=ends_at,
        withdrawn_at=withdrawn_at,
        replies=replies,
        **{**facts, "pieces": pieces},
    )
