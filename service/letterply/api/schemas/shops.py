"""Shops and what goes out of their stock, as the published description has them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, Field

from letterply.api.schemas.base import Document

__all__ = [
    "CommitDocument",
    "CommitPage",
    "KeptOffcut",
    "MeasuredDocument",
    "ShopEntry",
    "ShopPage",
    "StoredShop",
    "TakenSheets",
]


class ShopEntry(Document):
    """A shop in a list."""

    key: str = Field(description="its name", examples=["boathouse"])
    version: str = Field(description="digest of what is in it")
    default: bool = Field(description="whether requests that name no shop have it")
    links: dict[str, str]


class MeasuredDocument(Document):
    """What readings of a test piece change in a shop."""

    summary: str
    shop: str
    version: str = Field(description="of the shop, as it is now")
    kept: bool
    piece: str
    changes: list[dict[str, Any]] = Field(
        description="old and new figure, its expanded uncertainty (k = 2), and all of it in words"
    )
    remarks: list[str]


class StoredShop(ShopEntry):
    """A shop with all that is in it."""

    title: str
    summary: str
    shop: dict[str, Any] = Field(description="as it was written")
    versions: list[dict[str, str]] = Field(description="that it has had, newest first")


class ShopPage(BaseModel):
    """Part of the list of shops."""

    items: list[ShopEntry]
    next: str | None


class TakenSheets(BaseModel):
    """Sheets that went out."""

    key: str
    count: int
    left: int = Field(description="how many there were after it")


class KeptOffcut(BaseModel):
    """What is left of a sheet, now a sheet itself: write its key on it."""

    key: str
    material: str
    thickness_mm: float
    width_mm: float = Field(description="of the box round it")
    height_mm: float
    holes: int = Field(description="how many there are in it")
    links: dict[str, str] = Field(description="its drawing: `svg`, `dxf`, `png`")


class CommitDocument(BaseModel):
    """What an order or a plan took out of a shop's stock, and what came back."""

    summary: str
    shop: str
    kind: str = Field(description="`order` or `plan`")
    id: str = Field(description="of the order or plan")
    at: str
    undone_at: str | None
    version: str = Field(description="of the shop, as it was after it")
    taken: list[TakenSheets]
    added: list[KeptOffcut]


class CommitPage(BaseModel):
    """Part of the history of a shop's stock, newest first."""

    items: list[CommitDocument]
    next: str | None = None
