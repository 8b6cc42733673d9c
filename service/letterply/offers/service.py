"""The counter for offers: made from what was checked or ordered, shown, replied to, withdrawn.

Lives on the event loop of the service, as the job service does; papers are drawn in a worker
process, for they hold text of strangers.
"""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Callable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from letterply.catalogue import Catalogue
from letterply.errors import InputError
from letterply.exports import (
    LabelFaces,
    OfferPaper,
    OfferPiece,
    SaidOnPaper,
    job_sheet_with_replies,
    offer_pdf,
)
from letterply.jobs import JobService, recipe_version
from letterply.offers.book import OfferBook, require_open
from letterply.offers.customer_words import ENGLISH, Words
from letterply.offers.model import (
    Offer,
    Piece,
    ReplyKind,
    checked_reply,
    end_after,
    instant,
    version_of,
)
from letterply.offers.sources import what_is_offered
from letterply.offers.words import (
    about,
    lines_words,
    said,
    short_version,
)
from letterply.orders import OrderService
from letterply.requests import OfferRequest, read_request
from letterply.storage import Vault, open_vault
from letterply.units import listed
from letterply.workers import ComputePool

__all__ = ["OfferService", "OrderOffer", "draw_job_sheet", "draw_offer"]

_TOKEN_BYTES = 24
"""Random bytes of a link: 192 bits."""

_Clock = Callable[[], datetime]


def _utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class OrderOffer:
    """An offer as an order sees it.

    Attributes:
        offer: made from the order, or from one that it revises.
        changed: titles of its pieces that this order does not make as they were shown: a yes is
            to what was shown, not to these.
        earlier: whether it was made from an order that this one revises.

    """

    offer: Offer
    changed: tuple[str, ...] = ()
    earlier: bool = False


class OfferService:
    """Makes offers, shows them to customers, keeps what these reply.

    Args:
        job_service: has checks, plans and the store.
        order_service: has orders.
        catalogue: names of materials.
        lane: where papers are drawn.
        clock: tells the time.

    """

    def __init__(
        self,
        job_service: JobService,
        order_service: OrderService,
        catalogue: Catalogue,
        lane: ComputePool,
        clock: _Clock = _utc_now,
    ) -> None:
        self._jobs = job_service
        self._orders = order_service
        self._catalogue = catalogue
        self._lane = lane
        self._clock = clock
        self._vault: Vault = open_vault(job_service.store.place)
        self._book = OfferBook(job_service.store.database)

    def of(self, owner: str) -> OfferService:
        """Return the same counter as one owner sees it; by itself it is the customers' door."""
        theirs = copy(self)
        theirs._jobs, theirs._orders = self._jobs.of(owner), self._orders.of(owner)
        theirs._book = self._book.of(owner)
        return theirs

    @property
    def now(self) -> str:
        """The present instant."""
        return instant(self._clock())

    async def make(self, request: Mapping[str, Any], *, dry_run: bool = False) -> tuple[Offer, str]:
        """Make an offer; return it and the token of its link, which is told this once.

        Args:
            request: `OfferRequest` as JSON.
            dry_run: only say what would be offered; nothing is kept, the token is empty.

        Raises:
            InputError: the request does not hold.
            NotFound, Conflict: as `what_is_offered`.

        """
        asked = await asyncio.to_thread(read_request, OfferRequest, request)
        source = await what_is_offered(asked, self._jobs, self._orders, self._catalogue)
        price = source.price if asked.price is None else asked.price
        if price is None:
            raise InputError(
                "Nothing tells the price.",
                code="missing-field",
                field="price",
                expected="a price; or a plan, or a whole order, which has one",
            )
        usual = source.currency if asked.price is None else None
        now = self._clock()
        offer = Offer(
            id=secrets.token_hex(16),
            job=source.job,
            source=source.kind,
            title=asked.title or source.title,
            maker=asked.maker,
            note=asked.note,
            price=round(price, 2),
            currency=asked.currency or usual or "EUR",
            pieces=source.pieces,
            version=version_of(source.pieces),
            created_at=instant(now),
            ends_at=end_after(now, asked.days),
        )
        if dry_run:
            return offer, ""
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        return await asyncio.to_thread(self._book.add, offer, token), token

    async def offer(self, offer_id: str) -> Offer:
        """Return an offer; raises `NotFound` (`offer-not-found`)."""
        return await asyncio.to_thread(self._book.offer, offer_id)

    async def offers(
        self,
        *,
        limit: int,
        after: str | None = None,
        job: str | None = None,
        version: str | None = None,
    ) -> tuple[tuple[Offer, ...], bool]:
        """Return a page of offers, see `OfferBook.offers`."""
        look = partial(self._book.offers, limit=limit, after=after, job=job, version=version)
        return await asyncio.to_thread(look)

    async def withdraw(self, offer_id: str) -> Offer:
        """Take an offer back; raises as `OfferBook.withdraw`."""
        return await asyncio.to_thread(self._book.withdraw, offer_id, self.now)

    async def behind(self, token: str) -> Offer:
        """Return the offer behind a link that still shows it.

        Raises:
            NotFound: `offer-not-found`.
            Conflict: `offer-ended`, `offer-withdrawn`.

        """
        found = await asyncio.to_thread(self._book.behind, token)
        require_open(found, self.now)
        return found

    async def once_behind(self, token: str) -> Offer:
        """Return the offer behind a link even if it is over; raises `NotFound`."""
        return await asyncio.to_thread(self._book.behind, token)

    async def reply(self, token: str, kind: str, name: str, text: str) -> Offer:
        """Keep a customer's reply.

        Raises:
            InputError: with every mistake in its data.
            NotFound, Conflict: as `behind`; `offer-agreed`, `too-many-replies`.

        """
        offer = await self.behind(token)
        checked = checked_reply(kind, name, text)
        return await asyncio.to_thread(self._book.reply, offer.id, *checked, self.now)

    async def picture(self, piece: Piece) -> bytes:
        """Return the picture of a piece, PNG."""
        return await asyncio.to_thread(self._vault.read, piece.picture)

    async def pdf(self, offer: Offer, words: Words = ENGLISH) -> bytes:
        """Return an offer as a document, in the language of the words."""
        pictures = await asyncio.to_thread(self._pictures, offer)
        return await self._lane.run(draw_offer, offer, pictures, words)

    async def of_order(self, order_id: str) -> tuple[OrderOffer, ...]:
        """Return the offers of an order and of those that it revises, the oldest first."""
        ids = (order_id, *await self._orders.revised(order_id))
        found = await asyncio.to_thread(self._book.of_jobs, ids)
        if not found:
            return ()
        if all(o.job == order_id for o in found):
            return tuple(OrderOffer(o) for o in found)
        lines = await self._orders.lines(order_id)
        made = await asyncio.to_thread(lambda: {recipe_version(x.recipe) for x in lines})
        return tuple(
            OrderOffer(
                o, tuple(p.title for p in o.pieces if p.version not in made), o.job != order_id
            )
            for o in found
        )

    async def job_sheet(self, title: str, job_sheet: bytes, offers: Sequence[OrderOffer]) -> bytes:
        """Return the job sheet of an order with what the customer replied; as it is for nothing."""
        told = tuple(one for offer in offers for one in _told(offer))
        if not told:
            return job_sheet
        return await self._lane.run(draw_job_sheet, job_sheet, title, told)

    def _pictures(self, offer: Offer) -> list[str]:
        return [str(self._vault.path_of(piece.picture)) for piece in offer.pieces]


def draw_offer(offer: Offer, pictures: Sequence[str], words: Words = ENGLISH) -> bytes:
    """Return an offer as a document. Runs in a worker."""
    paper = OfferPaper(
        title=offer.title,
        maker=words.made_by.format(maker=offer.maker) if offer.maker else "",
        price=words.price_of(offer.price, offer.currency),
        until="" if offer.yes else words.open_until.format(day=words.last_day(offer.ends_at)),
        note=offer.note,
        page_word=words.page,
        version=words.version.format(version=short_version(offer.version)),
        pieces=tuple(
            OfferPiece(p.title, words.facts_of(p), Path(path).read_bytes)
            for p, path in zip(offer.pieces, pictures, strict=True)
        ),
        replies=tuple(f"{words.said(r)}." for r in offer.replies if r.kind is ReplyKind.YES),
    )
    return offer_pdf(paper, LabelFaces())


def draw_job_sheet(job_sheet: bytes, title: str, told: Sequence[SaidOnPaper]) -> bytes:
    """Return a job sheet with what the customer replied. Runs in a worker."""
    return job_sheet_with_replies(job_sheet, title, told, LabelFaces())


def _told(of_order: OrderOffer) -> list[SaidOnPaper]:
    offer = of_order.offer
    withdrawn = "The offer was withdrawn." if offer.withdrawn_at is not None else ""
    stale = withdrawn or _stale(of_order)
    which = about(offer, earlier=of_order.earlier)
    return [
        SaidOnPaper(
            said=said(reply),
            text=reply.text,
            offer=f"For {lines_words(offer)}.",
            about=which,
            stale=stale,
            is_yes=reply.kind is ReplyKind.YES,
        )
        for reply in offer.replies
    ]


def _stale(of_order: OrderOffer) -> str:
    if not of_order.changed:
        return ""
    named = listed([f"“{title}”" for title in of_order.changed[:12]])
    return f"Changed since it was shown, so the reply is not to this order as it is: {named}."
