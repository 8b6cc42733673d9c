"""Offers as values: what a customer is shown, and what the customer replied.

Terms: an *offer* shows pieces at a price until an end; it is never changed, only withdrawn. A
*piece* is one design with its *version*, the digest of its recipe. A *reply* is a yes or a wish; a
yes is final, a wish may be followed by another reply. The *token* is the secret part of the link
that the customer is given; its digest alone is kept.
"""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from letterply.errors import InputError
from letterply.names import plain_text
from letterply.storage import canonical_json, digest

__all__ = [
    "MOST_NAME",
    "MOST_REPLIES",
    "MOST_TEXT",
    "Offer",
    "OfferState",
    "Piece",
    "Reply",
    "ReplyKind",
    "checked_reply",
    "end_after",
    "instant",
    "token_digest",
    "version_of",
]

MOST_NAME = 80
"""Characters of a customer's name."""

MOST_TEXT = 2000
"""Characters of a wish."""

MOST_REPLIES = 20
"""Replies to an offer, wishes included."""


class OfferState(StrEnum):
    """Where an offer stands."""

    OPEN = "open"
    AGREED = "agreed"
    """The customer has said yes."""
    ENDED = "ended"
    WITHDRAWN = "withdrawn"


class ReplyKind(StrEnum):
    """What a customer says."""

    YES = "yes"
    WISH = "wish"


@dataclass(frozen=True, slots=True)
class Piece:
    """One design that is shown.

    Attributes:
        title: what it is called.
        text: its words.
        quantity: how many there are of it.
        size_mm: width, height, thickness.
        materials: name and thickness of each layer, the uppermost first.
        version: of its recipe.
        picture: digest of its picture, PNG.
        line: number of its line in an order; 0 for a piece by itself.
        units: in which its size is told.

    """

    title: str
    text: str
    quantity: int
    size_mm: tuple[float, float, float]
    materials: tuple[str, ...]
    version: str
    picture: str
    line: int = 0
    units: str = "mm"


@dataclass(frozen=True, slots=True)
class Reply:
    """What a customer said: `number` counts from 1, `version` is that of the offer."""

    number: int
    kind: ReplyKind
    name: str
    text: str
    version: str
    given_at: str


@dataclass(frozen=True, slots=True)
class Offer:
    """What a customer is shown, and what came back.

    Attributes:
        id: for the maker; it opens nothing by itself.
        job: id of the check, plan or order that it was made from, and
        source: which of these it is.
        title, maker, note: as the maker wrote them.
        price: what it costs, and
        currency: in what.
        pieces: what is shown.
        version: of all that is shown (`version_of`).
        created_at, ends_at, withdrawn_at: ISO 8601, UTC; the last one None where it was not.
        replies: in their order.

    """

    id: str
    job: str
    source: str
    title: str
    maker: str
    note: str
    price: float
    currency: str
    pieces: tuple[Piece, ...]
    version: str
    created_at: str
    ends_at: str
    withdrawn_at: str | None = None
    replies: tuple[Reply, ...] = ()

    @property
    def yes(self) -> Reply | None:
        """The customer's yes, where there is one."""
        return next((r for r in self.replies if r.kind is ReplyKind.YES), None)

    def state(self, now: str) -> OfferState:
        """Return where it stands at an instant (`instant`)."""
        if self.withdrawn_at is not None:
            return OfferState.WITHDRAWN
        if self.yes is not None:
            return OfferState.AGREED
        return OfferState.ENDED if self.is_over(now) else OfferState.OPEN

    def is_over(self, now: str) -> bool:
        """Tell whether its link shows nothing any more: an end comes whatever was replied."""
        return now >= self.ends_at


def version_of(pieces: Sequence[Piece]) -> str:
    """Return the version of what is shown: of one piece its own, of several a digest of theirs."""
    if len(pieces) == 1:
        return pieces[0].version
    return digest(canonical_json([[p.version, p.quantity] for p in pieces]))


def token_digest(token: str) -> str:
    """Return what is kept of a token. It has 192 random bits, so a plain digest keeps it secret."""
    return hashlib.sha256(token.encode()).hexdigest()


def instant(moment: datetime) -> str:
    """Return a moment as text that sorts by time.

    >>> instant(datetime(2031, 5, 4, 9, 30, tzinfo=UTC))
    '2031-05-04T09:30:00.000Z'

    """
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def end_after(moment: datetime, days: int) -> str:
    """Return the instant at which the last day ends (UTC).

    >>> end_after(datetime(2031, 5, 4, 9, 30, tzinfo=UTC), 14)
    '2031-05-19T00:00:00.000Z'

    """
    midnight = moment.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    return instant(midnight + timedelta(days=days + 1))


def _is_seen(text: str) -> bool:
    return any(unicodedata.category(sign)[0] in "LNPS" for sign in text)


def checked_reply(kind: str, name: str, text: str) -> tuple[ReplyKind, str, str]:
    """Return a reply that holds: what cannot be seen is taken out of name and text.

    Raises:
        InputError: with every mistake in its data.

    """
    known = {k.value for k in ReplyKind}
    name, text = plain_text(name), plain_text(text, lines=True)
    wrong = []
    if not _is_seen(name):
        wrong.append(("name", "empty-value", "Your name is missing.", "a name"))
    if len(name) > MOST_NAME:
        wrong.append(("name", "too-long", "The name is too long.", f"at most {MOST_NAME} signs"))
    if kind not in known:
        wrong.append(("kind", "unknown-choice", "Neither a yes nor a wish.", "yes or wish"))
    if kind == ReplyKind.WISH and not _is_seen(text):
        wrong.append(("text", "empty-value", "The wish is missing.", "what should be different"))
    if len(text) > MOST_TEXT:
        wrong.append(("text", "too-long", "The text is too long.", f"at most {MOST_TEXT} signs"))
    if wrong:
        names = ("field", "code", "message", "expected")
        mistakes = [dict(zip(names, one, strict=True)) for one in wrong]
        field, code, message, expected = wrong[0]
        raise InputError(
            message, code=code, field=field, expected=expected, data={"mistakes": mistakes}
        )
    return ReplyKind(kind), name, text
