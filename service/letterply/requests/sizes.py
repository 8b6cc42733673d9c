"""Questions of size: a recipe, and what is to be found out of it.

{"recipe": {...}, "fit": "6 in", "each": true}
{"recipe": {...}, "sheets": 1}
{"recipe": {...}, "smallest": true}
{"recipe": {...}, "width": "20 in"}
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from letterply.requests.fields import Positive, mistake
from letterply.requests.jobs import CheckedRequest
from letterply.requests.lettering import Box

__all__ = ["QUESTIONS", "SizeRequest"]

QUESTIONS = ("fit", "sheets", "smallest", "width")


def _square(value: object) -> object:
    """Return the box for one length: as wide as it is high."""
    if value is None or isinstance(value, Mapping | Box):
        return value
    return {"width": value, "height": value}


class SizeRequest(CheckedRequest):
    """Ask for a size: exactly one of `fit`, `sheets`, `smallest` and `width`."""

    fit: Annotated[
        Box | None, BeforeValidator(_square, json_schema_input_type=Box | float | str | None)
    ] = Field(None, description="the largest letters that fit into this box, each with its layers")
    each: bool = Field(
        False, strict=True, description="with `fit`: every letter as large as it may be by itself"
    )
    sheets: Annotated[int, Field(ge=1, le=100)] | None = Field(
        None,
        description="the largest lettering whose parts all go onto so many sheets of each material",
    )
    smallest: Literal[True] | None = Field(
        None, description="the smallest lettering at which every layer holds"
    )
    width: Positive | None = Field(
        None, description="lettering so wide: whether it holds, and what would make it hold"
    )

    @property
    def question(self) -> str:
        """Which of the questions is asked."""
        return next(name for name in QUESTIONS if getattr(self, name) is not None)

    @model_validator(mode="after")
    def _one_question(self) -> SizeRequest:
        given = [name for name in QUESTIONS if getattr(self, name) is not None]
        if len(given) != 1:
            raise mistake(
                "bad-size",
                f"{len(given)} sizes are asked for at once." if given else "No size is asked for.",
                f"exactly one of {', '.join(QUESTIONS)}",
                field=given[1] if given else "",
            )
        if self.each and self.fit is None:
            raise mistake("bad-value", "'each' goes with 'fit'.", "fit, a box", field="each")
        if self.recipe.lettering is None:
            raise mistake(
                "missing-lettering", "There is no lettering to be sized.",
                "a recipe with lettering", field="recipe.lettering",
            )  # fmt: skip
        return self
