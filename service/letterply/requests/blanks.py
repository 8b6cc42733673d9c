"""Fields of a recipe for blanks, which exist already and are only worked, and for frames."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from letterply.requests.fields import Model, NotNegative, Positive, mistake

__all__ = ["BlankHole", "BlankOutline", "FixtureWish", "Frame"]


class BlankHole(Model):
    """A hole that the blank has already: at its top, or in the round end of a tag."""

    diameter: Positive = 4.0
    inset: Positive = 4.0


class FixtureWish(Model):
    """The board with pockets that holds blanks while they are worked.

    Pockets are `clearance` wider than the blank all round and as deep as it is thick, unless
    `depth` says less; `columns` by `rows` of them lie `gap` apart.
    """

    material: Annotated[str, Field(min_length=1, max_length=80)] = "mdf"
    thickness: Positive = 12.0
    columns: Annotated[int, Field(ge=1, le=20)] = 1
    rows: Annotated[int, Field(ge=1, le=20)] = 1
    gap: Positive = 10.0
    clearance: NotNegative = 0.1
    depth: Positive | None = None
    finger_holes: bool = True


class BlankOutline(Model):
    """A ready-made tag, disc, plate or bar: it is worked and not cut.

    Work keeps `safe_margin` away from its edge and from its hole. `price` is that of one blank.
    """

    kind: Literal["blank"]
    shape: Literal["rectangle", "rounded", "circle", "oval", "tag", "arch"] = "rectangle"
    width: Positive | None = None
    height: Positive | None = None
    diameter: Positive | None = None
    corner: NotNegative | None = None
    hole: BlankHole | None = None
    safe_margin: NotNegative = 3.0
    fixture: FixtureWish | None = FixtureWish()
    price: Annotated[float, Field(ge=0, le=1_000_000)] = 0.0

    @model_validator(mode="after")
    def _sized(self) -> BlankOutline:
        sides = self.width is not None and self.height is not None
        good = self.diameter is not None if self.shape == "circle" else sides
        stray = (
            self.width is not None or self.height is not None
            if self.shape == "circle"
            else self.diameter is not None
        )
        if stray or not good:
            wanted = "diameter" if self.shape == "circle" else "width and height"
            raise mistake("bad-blank", f"A blank {self.shape} is known by its {wanted}.", wanted)
        return self


class Frame(Model):
    """An assembly frame for each glue-up, cut from scrap: the upper layer's negative.

    It lies on the lower layer, flush with its edges where there is room, while the parts of the
    upper one are glued into its openings, `clearance` wider all round.
    """

    kind: Literal["frame"]
    clearance: NotNegative = 0.2
    material: Annotated[str, Field(min_length=1, max_length=80)] = "mdf"
    thickness: Positive = 3.0
