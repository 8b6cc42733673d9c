"""Places of a sheet that cutters keep out of, as a request, a shop or a catalogue says them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AliasChoices, Field, model_validator

from letterply.requests.fields import Figures, NotNegative, Positive, mistake

__all__ = ["KeptClearList", "KeptClearRequest"]


def _either(name: str) -> AliasChoices:
    return AliasChoices(name, f"{name}_mm")


class KeptClearRequest(Figures):
    """A place of a sheet that cutters keep out of: a clamp, a screw, what was cut out before.

    Attributes:
        kind: what is there.
        x_mm, y_mm: lower left corner of an oblong, or the middle of a round place, from the lower
            left of the sheet.
        width_mm, height_mm: size of an oblong.
        diameter_mm: of a round place.

    """

    kind: Literal["clamp", "screw", "cut"]
    x_mm: Annotated[NotNegative, Field(validation_alias=_either("x"))]
    y_mm: Annotated[NotNegative, Field(validation_alias=_either("y"))]
    width_mm: Annotated[Positive | None, Field(validation_alias=_either("width"))] = None
    height_mm: Annotated[Positive | None, Field(validation_alias=_either("height"))] = None
    diameter_mm: Annotated[Positive | None, Field(validation_alias=_either("diameter"))] = None

    @model_validator(mode="after")
    def _sized(self) -> KeptClearRequest:
        sides = (self.width_mm is not None, self.height_mm is not None)
        if any(sides) != all(sides) or (self.diameter_mm is not None) == all(sides):
            raise mistake(
                "bad-shop",
                "A place that is kept clear has a diameter, or a width and a height.",
                "diameter, or width and height",
            )
        return self


KeptClearList = Annotated[list[KeptClearRequest], Field(max_length=100)]
"""Those of one sheet."""
