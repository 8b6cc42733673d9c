"""Kinds of fields that requests share: lengths and feeds as people write them, names, tags."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, LiteralString, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from letterply.errors import InputError
from letterply.names import visible
from letterply.requests.default_sources import RECIPE_DEFAULTS
from letterply.units import format_mm, parse_feed, parse_length

__all__ = [
    "Detail",
    "Feed",
    "Figures",
    "Key",
    "Length",
    "Model",
    "Name",
    "NotNegative",
    "OneWay",
    "Positive",
    "Search",
    "Tag",
    "Within",
    "long_length",
    "mistake",
]


def mistake(code: str, message: str, expected: str, *, field: str = "") -> PydanticCustomError:
    """Return a mistake in our own words for a validator to raise; `field` lies below its place."""
    return PydanticCustomError(
        "letterply",
        "{message}",
        {"code": code, "message": message, "expected": expected, "field": field},
    )


def _length(value: object) -> float:
    try:
        return parse_length(value)
    except InputError as exc:
        raise mistake(exc.code, exc.message, exc.expected or "") from exc


def _feed(value: object) -> float:
    try:
        return parse_feed(value)
    except InputError as exc:
        raise mistake(exc.code, exc.message, exc.expected or "") from exc


@dataclass(frozen=True, slots=True)
class Within:
    """Bounds of a length, mm, in `Annotated`: as those of a field, told in the units of the shop.

    Attributes:
        gt, ge, le: it is more than, at least, at most.

    """

    gt: float | None = None
    ge: float | None = None
    le: float | None = None

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Return the schema of a length with its bounds held after it."""
        return core_schema.no_info_after_validator_function(self._held, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Return what is published: the bounds of a bare number."""
        bounds = {"exclusiveMinimum": self.gt, "minimum": self.ge, "maximum": self.le}
        return {**handler(schema), **{k: v for k, v in bounds.items() if v is not None}}

    def _held(self, value: float) -> float:
        if self.gt is not None and not value > self.gt:
            raise _beyond("length_below", "more than", self.gt)
        if self.ge is not None and not value >= self.ge:
            raise _beyond("length_below", "at least", self.ge)
        if self.le is not None and not value <= self.le:
            raise _beyond("length_above", "at most", self.le)
        return value


def _beyond(kind: LiteralString, words: str, bound: float) -> PydanticCustomError:
    """Return a mistake that is named as those of other bounds are, where its place is known."""
    expected = f"{words} {format_mm(bound) if bound else '0'}"
    return PydanticCustomError(kind, "{expected}", {"expected": expected})


_MAX_LENGTH_MM = 5000

# Bare, for lengths beyond those of a workshop. The published schema says what a maker may write,
# not what it is turned into.
long_length = BeforeValidator(_length, json_schema_input_type=float | str)

Length = Annotated[float, long_length, Within(ge=-_MAX_LENGTH_MM, le=_MAX_LENGTH_MM)]
Positive = Annotated[float, long_length, Within(gt=0, le=_MAX_LENGTH_MM)]
NotNegative = Annotated[float, long_length, Within(ge=0, le=_MAX_LENGTH_MM)]
Detail = Annotated[float, long_length, Within(ge=0.02, le=20)]
"""How deep an inside corner may stay round; less than paths stray by can not be asked for."""
Search = Annotated[int, Field(ge=0, le=600)]
"""Seconds for tighter layouts."""
Feed = Annotated[float, BeforeValidator(_feed, json_schema_input_type=float | str), Field(gt=0)]


def _all_seen(text: str) -> str:
    if visible(text) != text:
        raise mistake("bad-value", "The name has signs that cannot be seen.", "plain text")
    return text


Key = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_all_seen)]
"""Name of an entry of the catalogue, of a font or of a drawing."""
Name = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[A-Za-z0-9][A-Za-z0-9 _-]*$")]
Tag = Annotated[str, Field(pattern=r"^[A-Za-z0-9 ]{4}$")]


class Model(BaseModel):
    """Base of all parts of a request: frozen, strict about names."""

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


class OneWay(Model):
    """Base of what is given in exactly one of several ways: a size."""

    @model_validator(mode="after")
    def _exactly_one(self) -> Self:
        given = [name for name in type(self).model_fields if getattr(self, name) is not None]
        if len(given) != 1:
            raise mistake(
                "bad-size",
                f"The size is given in {len(given)} ways." if given else "The size is missing.",
                f"exactly one of {', '.join(type(self).model_fields)}",
            )
        return self


class Figures(Model):
    """Base of sets of figures: strict about kinds, and a request leaves `_mm` off their names."""

    model_config = ConfigDict(
        strict=True,
        alias_generator=lambda name: name.removesuffix("_mm"),
        validate_by_name=True,
        validate_by_alias=True,
        serialize_by_alias=True,
    )
