"""Artwork in a recipe: which drawing, how large, what of it; checked at the edge."""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from letterply.requests.fields import Length, Model, NotNegative, OneWay, Positive, mistake

__all__ = ["WHITE", "ArtworkRecipe", "ArtworkSizeSpec", "GivenDrawing", "Ornament"]

WHITE = "#ffffff"
"""The page of a drawing that says nothing of it."""


_COLOUR = re.compile("#[0-9A-Fa-f]{6}")


class ArtworkBox(Model):
    """A box to fit into."""

    width: Positive
    height: Positive


class KnownLength(Model):
    """A length that is known: two points in the drawing's own coordinates, and how far apart."""

    start: tuple[float, float]
    end: tuple[float, float]
    length: Positive


class ArtworkSizeSpec(OneWay):
    """How large a drawing is: exactly one of these; lengths are of what is cut."""

    width: Positive | None = None
    height: Positive | None = None
    fit: ArtworkBox | None = None
    scale: Annotated[float, Field(gt=0, le=10_000)] | None = None
    known: KnownLength | None = None


class GivenDrawing(Model):
    """A drawing that was uploaded, by its id, or the text of an SVG: exactly one of both."""

    id: Annotated[str, Field(min_length=1, max_length=80)] | None = None
    svg: Annotated[str, Field(min_length=1, max_length=500_000)] | None = None

    @model_validator(mode="after")
    def _one_drawing(self) -> Self:
        if (self.id is None) == (self.svg is None):
            raise mistake(
                "bad-artwork",
                "A drawing is given by its id or as SVG, not both.",
                "the id of a drawing, or the text of an SVG",
            )
        return self


class ArtworkRecipe(GivenDrawing):
    """A drawing: one that was uploaded, by its id, or the text of an SVG.

    Without `size` it is as large as it says itself (96 px an inch). `only` takes ids of elements
    or groups and colours (`#rrggbb`): of a colour what is seen is cut. `ground` is the colour of
    the page: what is painted in it leaves a hole in what lies below, as a white eye on a black
    bird, and is not cut itself; `none` takes paint of every colour. `turn` is degrees
    counter-clockwise.
    """

    size: ArtworkSizeSpec | None = None
    only: Annotated[list[Annotated[str, Field(max_length=200)]], Field(max_length=100)] = Field(
        default_factory=list
    )
    ground: Annotated[str, Field(max_length=7)] = WHITE
    font: Annotated[str, Field(min_length=1, max_length=80)] | None = None
    turn: Annotated[float, Field(ge=-360, le=360)] = 0.0
    mirror: bool = False

    @field_validator("ground")
    @classmethod
    def _colour(cls, value: str) -> str:
        if value != "none" and not _COLOUR.fullmatch(value):
            raise mistake(
                "bad-value", "The ground must be a colour.", "none, or a colour as #ffffff"
            )
        return value.lower()


class Ornament(Model):
    """A drawing beside the words, cut with them.

    Without a size of its own it is as high as the lettering at its sides, as wide above and
    below. `shift` moves it along that side.
    """

    artwork: ArtworkRecipe
    side: Literal["left", "right", "above", "below"] = "left"
    gap: NotNegative = 6.0
    shift: Length = 0.0
