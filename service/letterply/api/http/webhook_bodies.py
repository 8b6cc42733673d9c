"""What is said of webhooks: the request that registers one, and the answers."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "CallPage",
    "EventDocument",
    "NewWebhookDocument",
    "WebhookDocument",
    "WebhookPage",
    "WebhookRequest",
]

EventType = Literal["order.done", "order.failed", "order.cancelled", "offer.replied"]


class WebhookRequest(BaseModel):
    """An address that is to be told what happens."""

    model_config = ConfigDict(extra="forbid")

    url: str = Field(
        min_length=1,
        max_length=2000,
        description="where to send it: https, and public unless the operator allows its network",
        examples=["https://boathouse.example/orders"],
    )
    events: list[EventType] = Field(
        ["order.done", "order.failed", "order.cancelled", "offer.replied"],
        min_length=1,
        max_length=8,
        description="what to tell; all when left out",
    )


class _Open(BaseModel):
    model_config = ConfigDict(extra="allow")


class WebhookDocument(_Open):
    """An address that is told what happens; its secret is not told again."""

    id: str
    url: str
    events: list[str]
    created_at: str
    links: dict[str, str]


class NewWebhookDocument(WebhookDocument):
    """One that was registered just now."""

    secret: str = Field(description="calls are signed with it (Standard Webhooks); shown once")


class WebhookPage(_Open):
    """The addresses, the oldest first."""

    items: list[WebhookDocument]


class CallDocument(_Open):
    """What became of telling an address."""

    event: str = Field(description="id of what happened, the same however often it is sent")
    type: str
    state: Literal["waiting", "delivered", "given-up"]
    tries: int
    status: int | None = Field(description="of the last answer")
    said: str | None = Field(description="what was wrong with the last try")
    created_at: str
    tried_at: str | None


class CallPage(_Open):
    """Calls to an address, newest first."""

    items: list[CallDocument]
    next: str | None


class EventDocument(_Open):
    """An event that will be told."""

    event: str
    links: dict[str, str]
