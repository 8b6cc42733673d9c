"""Keys, use and health, as the published description has them."""

from __future__ import annotations

from typing import Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from letterply.api.schemas.base import Document

__all__ = [
    "KeyDocument",
    "KeyPage",
    "KeyRequest",
    "LiveDocument",
    "NewKeyDocument",
    "ReadyDocument",
    "UsageDocument",
]


class KeyRequest(BaseModel):
    """A key that is to be made."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(
        min_length=1, max_length=60, description="who holds it; goes to the log", examples=["bench"]
    )
    owner: str = Field(
        pattern=r"^[a-z0-9][a-z0-9._-]{0,59}$",
        description="whose things it reaches",
        examples=["boathouse"],
    )
    scopes: list[Literal["read", "write", "metrics", "admin"]] = Field(
        ["read", "write"], min_length=1, max_length=4
    )
    expires_at: AwareDatetime | None = Field(
        None, description="from then on it opens nothing (RFC 3339)"
    )


class KeyDocument(Document):
    """A key; its secret is not kept."""

    id: str
    name: str
    owner: str
    scopes: list[str]
    created_at: str
    expires_at: str | None
    revoked_at: str | None
    valid: bool


class NewKeyDocument(KeyDocument):
    """A key that was made just now."""

    secret: str = Field(description="shown once; send it as `Authorization: Bearer <secret>`")


class KeyPage(Document):
    """The keys of the store."""

    items: list[KeyDocument]


class UsageDocument(Document):
    """What an owner has, and what it may have."""

    owner: str
    counts: dict[str, int] = Field(description="kind of thing -> how many")
    stored_bytes: int
    limits: dict[str, int | None]


class LiveDocument(Document):
    """The service runs."""

    status: Literal["live"]
    version: str
    engine_version: str


class ReadyDocument(Document):
    """Whether the service is ready for work."""

    status: Literal["ready", "not ready"]
    checks: dict[str, bool]
    missing: list[str] = Field(description="what is missing, in words")
