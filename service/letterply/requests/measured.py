"""What a maker has measured: figures that a shop keeps, and how they came about.

The figures are what test pieces give (`letterply.pieces`), and may be typed in by hand as well.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import AliasChoices, Field, model_validator

from letterply.requests.fields import (
    Figures,
    Key,
    Length,
    NotNegative,
    Positive,
    Within,
    mistake,
)
from letterply.units import format_exact

__all__ = ["FitFigure", "MeasuredRecord", "TrueThickness"]

_Date = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]


def _either(name: str) -> AliasChoices:
    return AliasChoices(name, f"{name}_mm")


class FitFigure(Figures):
    """How much wider than what goes in a recess or hole is cut, so that it goes in by hand.

    Attributes:
        kind: `inlay`, a plug in a recess; `dowel`, a bought dowel in a hole.
        into: key of the material that is cut into.
        of: key of the material of the plug; left out for a dowel.
        diameter_mm: of the dowel; left out for a plug.
        clearance_mm: all round.
        uncertainty_mm: of it, at about 95 %.
        measured_on: when, as 2026-11-29.

    """

    kind: Literal["inlay", "dowel"]
    into: Key
    of: Key | None = None
    diameter_mm: Annotated[Positive | None, Field(validation_alias=_either("diameter"))] = None
    clearance_mm: Annotated[
        Length, Within(ge=-1, le=3), Field(validation_alias=_either("clearance"))
    ]
    uncertainty_mm: Annotated[NotNegative, Field(validation_alias=_either("uncertainty"))] = 0.0
    measured_on: _Date | None = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        inlay = self.kind == "inlay"
        if (self.of is not None) != inlay or (self.diameter_mm is not None) == inlay:
            wanted = "'of', the material of the plug" if inlay else "'diameter', that of the dowel"
            other = "diameter" if inlay else "of"
            raise mistake(
                "missing-field",
                f"The fit of an {self.kind} is known by {wanted}."
                if inlay
                else f"The fit of a {self.kind} is known by {wanted}.",
                f"{wanted}, and no '{other}'",
            )
        return self


class TrueThickness(Figures):
    """How thick sheets really are that are sold as of one thickness.

    Attributes:
        material: key of the material.
        thickness_mm: by which recipes and the rack call it.
        measured_mm: what it is.
        flatness_mm: between the highest and the lowest place of its face.
        uncertainty_mm: of the thickness, at about 95 %.
        measured_on: when, as 2026-11-29.

    """

    material: Key
    thickness_mm: Annotated[Positive, Within(le=300), Field(validation_alias=_either("thickness"))]
    measured_mm: Annotated[Positive, Within(le=300), Field(validation_alias=_either("measured"))]
    flatness_mm: Annotated[NotNegative, Field(validation_alias=_either("flatness"))] = 0.0
    uncertainty_mm: Annotated[NotNegative, Field(validation_alias=_either("uncertainty"))] = 0.0
    measured_on: _Date | None = None

    @model_validator(mode="after")
    def _plausible(self) -> Self:
        if not 0.7 <= self.measured_mm / self.thickness_mm <= 1.3:
            raise mistake(
                "out-of-range",
                "A sheet is not so far from the thickness by which it is sold.",
                f"between {format_exact(0.7 * self.thickness_mm)} and "
                f"{format_exact(1.3 * self.thickness_mm)}",
                field="measured",
            )
        return self


class MeasuredRecord(Figures):
    """One entry of a shop's history of measured figures.

    Attributes:
        on: when, as 2026-11-29.
        piece: id of the test piece.
        kind: of test piece.
        subject: what was measured, in words.
        figure: which figure of it, as `diameter_mm`.
        old, new: the figure before and since; mm, degrees or mm/min as its name says.
        uncertainty: of the new one, at about 95 %; in the same unit.
        readings: what was read, mm or the letter of a step.
        words: all of it in a sentence, in the units that the shop spoke.

    """

    on: _Date
    piece: Annotated[str, Field(max_length=64)] = ""
    kind: Annotated[str, Field(max_length=40)]
    subject: Annotated[str, Field(max_length=300)]
    figure: Annotated[str, Field(max_length=80)]
    old: float | None = None
    new: float
    uncertainty: float = 0.0
    readings: dict[str, Any] = Field(default_factory=dict)
    words: Annotated[str, Field(max_length=500)] = ""
