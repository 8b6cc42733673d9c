"""What is said to the service about offers to customers, and how its answers are read."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypedDict, Unpack
from urllib.parse import urlencode

from letterply_client._calls import Ask, Call, ask
from letterply_client._errors import BadAnswer

__all__ = [
    "Offer",
    "OfferWishes",
    "Reply",
    "make_offer",
    "offer",
    "offer_pdf",
    "offers",
    "withdraw_offer",
]


class OfferWishes(TypedDict, total=False):
    """What is offered, and how.

    Attributes:
        check: id of a check, or
        plan: id of a plan, or
        order: id of an order; one of the three.
        lines: numbers of the lines of the order that are shown; all where this is left out.
        title: what it is called.
        maker: who offers it.
        note: what else the customer should read.
        price: what it costs; that of the plan or of the whole order where it is left out.
        currency: of that price.
        prices: price rules for a plan without a price of its own.
        days: how many days the customer has.

    """

    check: str | None
    plan: str | None
    order: str | None
    lines: Sequence[int] | None
    title: str | None
    maker: str | None
    note: str | None
    price: float | None
    currency: str | None
    prices: Mapping[str, Any] | None
    days: int | None


@dataclass(frozen=True, slots=True)
class Reply:
    """What a customer said.

    Attributes:
        kind: `yes` or `wish`.
        name: of the customer, as it was given.
        text: the wish, or what was added to a yes; may be empty.
        version: of what was shown.
        given_at: ISO 8601, UTC.

    """

    kind: str
    name: str
    text: str
    version: str
    given_at: str


@dataclass(frozen=True, slots=True)
class Offer:
    """What a customer is shown.

    Attributes:
        id: for the maker.
        title: what it is called.
        state: `open`, `agreed` (a yes), `ended` or `withdrawn`.
        price: what it costs, and
        currency: in what.
        version: of all that is shown; of one piece, that of its recipe.
        ends_at: when the link shows nothing any more, ISO 8601, UTC.
        replies: in their order.
        link: for the customer; known to the answer that made the offer alone, else empty.
        document: all that the service says, as JSON values.

    """

    id: str
    title: str
    state: str
    price: float
    currency: str
    version: str
    ends_at: str
    replies: tuple[Reply, ...]
    link: str = field(repr=False)
    document: Mapping[str, Any] = field(repr=False)

    @property
    def yes(self) -> Reply | None:
        """The customer's yes; None as long as there is none."""
        return next((r for r in self.replies if r.kind == "yes"), None)

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> Offer:
        """Return the offer that a document describes; raises `BadAnswer`."""
        names = ("id", "title", "state", "price", "currency", "version", "ends_at")
        try:
            replies = tuple(
                Reply(**{name: r[name] for name in Reply.__slots__}) for r in document["replies"]
            )
            plain = {name: document[name] for name in names}
        except (KeyError, TypeError) as exc:
            raise BadAnswer(f"The offer lacks {exc}.") from exc
        link = str(document.get("link", ""))
        return cls(**plain, replies=replies, link=link, document=document)


def make_offer(**wishes: Unpack[OfferWishes]) -> Call[Offer]:
    """Offer a customer what was checked, planned or ordered; see `OfferWishes`.

    Returns the offer with the link for the customer, which is told this once.
    """
    body = json.dumps({k: v for k, v in wishes.items() if v is not None}, allow_nan=False)
    headers = {"Content-Type": "application/json"}
    answer = yield from ask(Ask("POST", "/v1/offers", headers, content=body.encode(), once=True))
    return Offer.from_document(answer.json())


def offers(*, of: str | None = None, version: str | None = None) -> Call[tuple[Offer, ...]]:
    """Return the offers, newest first.

    Args:
        of: only those made from the check, plan or order with this id.
        version: only those of this version of a recipe (`recipe_version` of a result).

    """
    wishes = {name: value for name, value in (("of", of), ("version", version)) if value}
    path: str | None = f"/v1/offers?{urlencode(wishes)}" if wishes else "/v1/offers"
    found: list[Offer] = []
    while path is not None:
        page = (yield from ask(Ask("GET", path))).json()
        found += [Offer.from_document(item) for item in page["items"]]
        path = page.get("next")
    return tuple(found)


def offer(id: str) -> Call[Offer]:
    """Return an offer: where it stands, what the customer said."""
    return Offer.from_document((yield from ask(Ask("GET", f"/v1/offers/{id}"))).json())


def withdraw_offer(id: str) -> Call[Offer]:
    """Take an offer back; one with a yes cannot be taken back (`ConflictProblem`)."""
    answer = yield from ask(Ask("POST", f"/v1/offers/{id}/withdraw"))
    return Offer.from_document(answer.json())


def offer_pdf(id: str) -> Call[bytes]:
    """Return an offer on paper, PDF."""
    return (yield from ask(Ask("GET", f"/v1/offers/{id}.pdf"))).content
