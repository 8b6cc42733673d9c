"""What is answered about the stock of a shop, as the published description has it."""

from __future__ import annotations

from pydantic import BaseModel, Field

__all__ = ["CommitDocument", "CommitPage"]


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
