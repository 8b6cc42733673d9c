"""Kinds of fields that the parts of a recipe share: lengths as people write them, names, tags."""

from __future__ import annotations

from typing import Annotated

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    ValidationInfo,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError

from letterply.errors import InputError
from letterply.requests.default_sources import RECIPE_DEFAULTS
from letterply.units import parse_length

__all__ = ["Length", "Model", "Name", "NotNegative", "Positive", "Tag", "long_length", "mistake"]


def mistake(code: str, message: str, expected: str) -> PydanticCustomError:
    """Return a mistake in our own words for a validator to raise."""
    return PydanticCustomError(
        "letterply", "{message}", {"code": code, "message": message, "expected": expected}
    )


def _length(value: object, _: ValidationInfo) -> float:
    try:
        return parse_length(value)
    except InputError as exc:
        raise mistake(exc.code, exc.message, exc.expected or "") from exc


_MAX_LENGTH_MM = 5000

# Bare, for lengths beyond those of a workshop. The published schema says what a maker may write,
# not what it is turned into.
long_length = BeforeValidator(_length, json_schema_input_type=float | str)

Length = Annotated[float, long_length, Field(ge=-_MAX_LENGTH_MM, le=_MAX_LENGTH_MM)]
Positive = Annotated[float, long_length, Field(gt=0, le=_MAX_LENGTH_MM)]
NotNegative = Annotated[float, long_length, Field(ge=0, le=_MAX_LENGTH_MM)]
Name = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[A-Za-z0-9][A-Za-z0-9 _-]*$")]
Tag = Annotated[str, Field(pattern=r"^[A-Za-z0-9 ]{4}$")]


class Model(BaseModel):
    """Base of all parts of a recipe: frozen, strict about names."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Return the schema, with the source beside each default that is a figure."""
        schema = handler(core_schema)
        for name, member in handler.resolve_ref_schema(schema).get("properties", {}).items():
            source = RECIPE_DEFAULTS.get(f"{cls.__name__}.{name}")
            if source is not None:
                member["x-source"] = f"{source.text} ({source.status})"
        return schema
