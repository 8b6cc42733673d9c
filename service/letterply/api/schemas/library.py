"""Fonts, drawings, templates and the catalogue, as the published description has them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, Field

from letterply.api.schemas.base import Document

__all__ = [
    "ArtworkDocument",
    "ArtworkPage",
    "CutterPage",
    "FontDocument",
    "FontPage",
    "MachinePage",
    "MaterialPage",
    "StockPage",
    "TemplateDocument",
    "TemplatePage",
]


class FontDocument(Document):
    """A font of the library."""

    key: str = Field(description="name to use in a recipe")
    family: str
    style: str
    kind: str = Field(description="what it is good for", examples=["connected script"])
    note: str = ""
    shipped: bool = Field(description="False for an own font")


class ArtworkDocument(Document):
    """A drawing; lengths are mm at its natural size."""

    key: str = Field(description="name to use in a recipe")
    summary: str
    title: str
    ink: dict[str, Any] = Field(description="what would be cut: size, area, pieces")
    room: dict[str, Any] | None = Field(description="room for words: the element `letters`")
    left_out: list[dict[str, Any]] = Field(description="what could not be taken as drawn")
    traced: dict[str, Any] | None = Field(
        None, description="of a picture: how it was traced, and how true the outlines are"
    )


class ArtworkPage(BaseModel):
    """Part of the list of drawings."""

    items: list[ArtworkDocument]
    next: str | None


class FontPage(BaseModel):
    """Part of the list of fonts: own ones first, then those that come with the service."""

    items: list[FontDocument]
    next: str | None


class TemplateDocument(BaseModel):
    """One thing to start from; `titled` is how its title is made from the words (`{text}`)."""

    key: str
    name: str
    about: str
    titled: str
    recipe: dict[str, Any]
    links: dict[str, str]


class TemplatePage(BaseModel):
    """All templates."""

    items: list[TemplateDocument]


class MaterialPage(BaseModel):
    """All materials."""

    items: list[dict[str, Any]]


class CutterPage(BaseModel):
    """All cutters."""

    items: list[dict[str, Any]]


class MachinePage(BaseModel):
    """All machines."""

    items: list[dict[str, Any]]


class StockPage(BaseModel):
    """All stock."""

    items: list[dict[str, Any]]
