"""Orders, and offers to customers, as the published description has them."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from letterply.api.schemas.base import Document

__all__ = [
    "EstimateDocument",
    "MadeOfferDocument",
    "OfferDocument",
    "OfferPage",
    "OrderDocument",
    "OrderOfferDocument",
    "OrderOfferPage",
    "ReplyEntry",
]


class OrderDocument(BaseModel):
    """Where an order stands and, once it is done, what it made."""

    model_config = ConfigDict(extra="allow")

    id: str
    kind: Literal["order"]
    title: str
    state: Literal["queued", "running", "done", "failed", "cancelled"]
    phase: str
    line_count: int
    links: dict[str, str]


class EstimateDocument(Document):
    """What an order would make, take and cost; nothing is kept of it."""

    summary: str
    title: str


class ReplyEntry(Document):
    """What a customer said."""

    number: int
    kind: Literal["yes", "wish"]
    name: str
    text: str
    version: str = Field(description="of what was shown")
    given_at: str


class OfferDocument(Document):
    """What a customer is shown, where that stands, what was replied."""

    id: str
    title: str
    state: Literal["open", "agreed", "ended", "withdrawn"]
    price: float
    currency: str
    replies: list[ReplyEntry]
    version: str = Field(description="of all that is shown; of one piece, that of its recipe")
    created_at: str
    ends_at: str
    withdrawn_at: str | None
    source: dict[str, str] = Field(description="`kind` and `id` of what it was made from")
    pieces: list[dict[str, Any]]
    links: dict[str, str]


class MadeOfferDocument(OfferDocument):
    """An offer that was made just now; a dry run has no link."""

    link: str = Field(description="for the customer; told this once")
    link_reaches: Literal["machine", "network"] = Field(description="who can open the link")


class OfferPage(BaseModel):
    """Part of the list of offers, newest first."""

    items: list[OfferDocument]
    next: str | None


class OrderOfferDocument(OfferDocument):
    """An offer as its order shows it."""

    current: bool = Field(description="whether the order makes all of it as it was shown")
    changed: list[str] = Field(description="titles of pieces that have changed since")


class OrderOfferPage(BaseModel):
    """The offers of an order, newest first."""

    items: list[OrderOfferDocument]
