"""Repairs as a recipe names them: bridges of a stencil, strengthening of an outline.

Both take `true` for what the material asks for, or an object with figures of one's own.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from letterply.requests.fields import Model, NotNegative, Positive

__all__ = ["Bridges", "BridgesWish", "Strengthen", "StrengthenWish", "switched"]


class Bridges(Model):
    """Bridges that hold the islands of a stencil.

    `width` follows from material and thickness where it is left out; `angle` is the direction in
    which bridges run, in degrees from the baseline, where there is a way (90 is upright); `count`
    is how many each island gets where it has room.
    """

    width: Positive | None = None
    angle: Annotated[float, Field(ge=-360, le=360)] | None = None
    count: Annotated[int, Field(ge=1, le=4)] | None = None


class Strengthen(Model):
    """Growth of thin places.

    `limit` is the least width of a stroke, from material and thickness where it is left out;
    `gap` is what gaps and counters keep in their middle, the smallest end mill that goes through
    the layer where it is left out. `way` is how strokes come by it: `taper` adds what is missing
    and fades out along each stroke, `even` makes the whole lettering heavier alike.
    """

    limit: Positive | None = None
    gap: NotNegative | None = None
    way: Literal["taper", "even"] = "taper"


def switched(value: object) -> object:
    """Take true for an object without figures, false for none."""
    if isinstance(value, bool):
        return {} if value else None
    return value


def _limited(value: object) -> object:
    """Take also a bare length, which is the limit."""
    value = switched(value)
    if value is None or isinstance(value, Mapping | Strengthen):
        return value
    return {"limit": value}


BridgesWish = Annotated[
    Bridges | None, BeforeValidator(switched, json_schema_input_type=bool | Bridges | None)
]
StrengthenWish = Annotated[
    Strengthen | None,
    BeforeValidator(_limited, json_schema_input_type=bool | float | str | Strengthen | None),
]
