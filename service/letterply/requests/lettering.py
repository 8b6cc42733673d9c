"""The lettering of a recipe: words, font, size, baseline; checked at the edge."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from letterply.requests.artwork import GivenDrawing, Ornament
from letterply.requests.fields import (
    Length,
    Model,
    NotNegative,
    OneWay,
    Positive,
    Tag,
    Within,
    long_length,
    mistake,
)

__all__ = [
    "ArcBaseline",
    "Baseline",
    "Box",
    "CircleBaseline",
    "DrawnLine",
    "LargestOn",
    "LetteringRecipe",
    "PathBaseline",
    "Reading",
    "SizeSpec",
    "StraightBaseline",
    "VerticalBaseline",
]

FontKey = Annotated[str, Field(min_length=1, max_length=80)]


class Box(Model):
    """A box to fit into."""

    width: Positive
    height: Positive


class LargestOn(Model):
    """A sheet or blank to fill, whichever way round is larger."""

    width: Positive
    height: Positive
    margin: NotNegative = 0.0

    @model_validator(mode="after")
    def _room_is_left(self) -> LargestOn:
        if 2 * self.margin >= min(self.width, self.height):
            raise mistake(
                "bad-size", "The margins leave no space for the lettering.", "a smaller margin"
            )
        return self


class Reading(Model):
    """Where letters are read from: the least cap height by the published table.

    `distance` is along the floor, `baseline_height` above it.
    """

    distance: Annotated[float, long_length, Within(ge=0, le=100_000)]
    baseline_height: Annotated[float, long_length, Within(ge=1016, le=20_000)] = 1524.0


class SizeSpec(OneWay):
    """How large the lettering is: exactly one of these.

    `fit_blank` is as large as the safe area of the blank takes.
    """

    cap_height: Positive | None = None
    x_height: Positive | None = None
    em: Positive | None = None
    width: Positive | None = None
    fit: Box | None = None
    fit_disc: Positive | None = None
    fit_blank: Literal[True] | None = None
    largest_on: LargestOn | None = None
    reading: Reading | None = None


class StraightBaseline(Model):
    """A straight baseline."""

    kind: Literal["straight"] = "straight"


class _RoundBaseline(Model):
    radius: Positive
    side: Literal["outside", "inside"] = "outside"
    angle: Annotated[float, Field(ge=-360, le=360)] | None = None


class ArcBaseline(_RoundBaseline):
    """Round a circle, as much of it as the text needs.

    `outside` stands on the circle with heads away from its centre, `inside` with heads towards
    it; `angle` is where the middle of the text stands, in degrees counter-clockwise from the
    right.
    """

    kind: Literal["arc"]


class CircleBaseline(_RoundBaseline):
    """All round a circle, the gaps evened out."""

    kind: Literal["circle"]


class DrawnLine(GivenDrawing):
    """A line of a drawing: the first stretch of an element, as large as the drawing says.

    `reverse` runs it the other way round.
    """

    element: Annotated[str, Field(min_length=1, max_length=200)]
    scale: Annotated[float, Field(gt=0, le=10_000)] = 1.0
    reverse: bool = False


class PathBaseline(Model):
    """Along a line: SVG path data in mm (y down), points (y up), or an element of a drawing."""

    kind: Literal["path"]
    artwork: DrawnLine | None = None
    data: Annotated[str, Field(max_length=10_000)] | None = None
    points: Annotated[list[tuple[Length, Length]], Field(min_length=2, max_length=2000)] | None = (
        None
    )

    @model_validator(mode="after")
    def _one_of_both(self) -> PathBaseline:
        if sum(given is not None for given in (self.data, self.points, self.artwork)) != 1:
            raise mistake(
                "bad-path",
                "The path of the baseline must be given in one way: data, points or artwork.",
                "SVG path data, points, or an element of a drawing",
            )
        return self


class VerticalBaseline(Model):
    """Letters upright, one below the other; scripts with columns of their own use the font's."""

    kind: Literal["vertical"]
    gap: NotNegative | None = None


Baseline = Annotated[
    StraightBaseline | ArcBaseline | CircleBaseline | PathBaseline | VerticalBaseline,
    Field(discriminator="kind"),
]


class LetteringRecipe(Model):
    """Words in a font at a size.

    `features` takes OpenType feature tags and variable axis tags alike; `instance` names a place
    in the design space of a variable font, `face` a face of a collection. Letters that the font
    lacks come from the `fallback` fonts, in order. `joins` says what to do where letters of a
    connected script miss each other by a hair. `ornaments` are drawings beside the words.
    """

    text: Annotated[str, Field(max_length=2000)]
    font: FontKey
    size: SizeSpec
    features: dict[Tag, float | bool] = Field(default_factory=dict, max_length=64)
    align: Literal["left", "centre", "right", "justify"] = "centre"
    tracking: Length = 0.0
    line_gap: Annotated[float, Field(ge=0.3, le=5)] = 1.2
    baseline: Baseline = StraightBaseline()
    fallback: Annotated[list[FontKey], Field(max_length=8)] = Field(default_factory=list)
    face: int | Annotated[str, Field(max_length=200)] | None = None
    instance: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    language: Annotated[str, Field(max_length=40, pattern=r"^[A-Za-z0-9-]*$")] = ""
    direction: Literal["auto", "ltr", "rtl"] = "auto"
    kerning: Literal["font", "off", "optical"] = "font"
    joins: Literal["report", "bridge", "close"] = "report"
    ornaments: Annotated[list[Ornament], Field(max_length=12)] = Field(default_factory=list)
