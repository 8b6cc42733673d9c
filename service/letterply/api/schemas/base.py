"""What all documents share: members may be added, and what is wrong."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Document", "Problem"]


class Document(BaseModel):
    """An answer; members may be added."""

    model_config = ConfigDict(extra="allow")


class Problem(Document):
    """Problem details (RFC 9457)."""

    type: str = Field(examples=["/problems/unknown-unit"])
    title: str = Field(examples=["An unknown unit"])
    status: int = Field(examples=[422])
    detail: str = Field(examples=["'parsec' is no unit of length."])
    instance: str | None = Field(None, description="names this occurrence; the log has it too")
    code: str = Field(description="stable; branch on this", examples=["unknown-unit"])
    field: str | None = Field(None, examples=["recipe.layers.0.thickness"])
    expected: str | None = Field(None, description="what would be right, in words")
