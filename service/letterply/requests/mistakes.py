"""Requests read: JSON values in, a frozen model out, or one error with every mistake in our words.

Each mistake has a stable code, the dotted path of the field as the maker wrote it, a sentence and
what would be right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from types import UnionType
from typing import Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from letterply.errors import InputError, renamed_field, shown
from letterply.names import sentence
from letterply.units import counted

__all__ = []

_M = TypeVar("_M", bound=BaseModel)

_Context = Mapping[str, Any]

_UNION_TAGS = frozenset(
    {"lettering", "plate", "holes", "through_lettering", "groove_lettering", "scribe_lettering",
     "recess", "dowels", "placement_lines", "frame", "blank", "none", "straight", "arc", "circle",
     "path", "vertical", "artwork", "border", "slots", "standoffs", "keyholes", "name", "sheet"}
)  # fmt: skip
_PLAIN_TYPES = frozenset({"bool", "float", "int", "str"})
"""Names of the branches of a union of plain values: pydantic puts them at the end of the path."""
_LISTS_OF_KINDS = ("features", "stock")
_RENAMED = {
    "start_depth": "from_depth",
    "max_depth": "floor_at",
    "pass_depth": "depth_per_pass",
    "junction_deviation_mm": "corner_slack",
    "junction_deviation": "corner_slack",
}
"""Name that a field once had -> the name it has."""
_OBJECTS = {"recipe": "bad-recipe", "shop": "bad-shop"}
"""Field -> code of a mistake where it is no object at all."""
"""Kinds by which a union is told apart: pydantic puts them into the path, a maker does not."""


def _choices(context: _Context) -> str:
    return str(context.get("expected") or context.get("expected_tags") or "").replace("'", "")


def _entries(count: int) -> str:
    return counted(count, "entry", "entries")


_KINDS: dict[str, tuple[str, str, Callable[[_Context], str]]] = {
    "missing": ("missing-field", "is missing", lambda c: "a value for it"),
    "extra_forbidden": ("unknown-field", "is not known here", lambda c: "no such field"),
    "union_tag_invalid": ("unknown-kind", "is of a kind that is not known", _choices),
    "union_tag_not_found": (
        "missing-field", "has to name its kind", lambda c: "a field called kind"
    ),
    "literal_error": ("unknown-choice", "is not one of the choices", _choices),
    "enum": ("unknown-choice", "is not one of the choices", _choices),
    "greater_than": ("out-of-range", "is too small", lambda c: f"more than {c['gt']:g}"),
    "greater_than_equal": ("out-of-range", "is too small", lambda c: f"at least {c['ge']:g}"),
    "less_than": ("out-of-range", "is too large", lambda c: f"less than {c['lt']:g}"),
    "less_than_equal": ("out-of-range", "is too large", lambda c: f"at most {c['le']:g}"),
    "length_below": ("out-of-range", "is too small", lambda c: c["expected"]),
    "length_above": ("out-of-range", "is too large", lambda c: c["expected"]),
    "finite_number": ("out-of-range", "must be a finite number", lambda c: "a finite number"),
    "string_too_long": (
        "too-long", "is too long", lambda c: f"at most {counted(c['max_length'], 'character')}"
    ),
    "too_long": (
        "too-long", "has too many entries", lambda c: f"at most {_entries(c['max_length'])}"
    ),
    "string_too_short": (
        "empty-value", "is too short", lambda c: f"at least {counted(c['min_length'], 'character')}"
    ),
    "too_short": (
        "empty-value", "has too few entries", lambda c: f"at least {_entries(c['min_length'])}"
    ),
    "string_pattern_mismatch": (
        "bad-name", "has characters that a name may not have",
        lambda c: "letters, digits, spaces, hyphens and underscores",
    ),
    "string_type": ("bad-value", "must be text", lambda c: "text in quotes"),
    "bool_type": ("bad-value", "must be true or false", lambda c: "true or false"),
    "bool_parsing": ("bad-value", "must be true or false", lambda c: "true or false"),
    "int_type": ("bad-value", "must be a whole number", lambda c: "a whole number"),
    "int_parsing": ("bad-value", "must be a whole number", lambda c: "a whole number"),
    "int_from_float": ("bad-value", "must be a whole number", lambda c: "a whole number"),
    "float_type": ("bad-value", "must be a number", lambda c: "a number"),
    "float_parsing": ("bad-value", "must be a number", lambda c: "a number"),
    "list_type": ("bad-value", "must be a list", lambda c: "a list in brackets"),
    "tuple_type": ("bad-value", "must be a list of two lengths", lambda c: "a list of two lengths"),
    "dict_type": ("bad-value", "must be an object", lambda c: "an object in braces"),
    "model_type": ("bad-value", "must be an object", lambda c: "an object in braces"),
    "model_attributes_type": ("bad-value", "must be an object", lambda c: "an object in braces"),
}  # fmt: skip
"""pydantic's kind of mistake -> our code, what is wrong, what would be right."""


def read_request(model: type[_M], raw: object, *, field: str = "") -> _M:
    """Return the request in decoded JSON.

    Args:
        model: what it should be.
        raw: decoded JSON.
        field: dotted path of the request within a larger one.

    Raises:
        InputError: with the first mistake; with all of them in its data where there are more.

    """
    if not isinstance(raw, Mapping):
        raise InputError(
            sentence(f"{_words([field] if field else [])} must be an object"),
            code=_OBJECTS.get(field, "bad-value" if field else "bad-request"),
            field=field or None,
            expected=f"a JSON object with {', '.join(_names(model))}",
        )
    try:
        return model.model_validate(raw, by_name=False)
    except ValidationError as exc:
        mistakes = [_mistake(e, field, model) for e in exc.errors(include_url=False)]
    first = mistakes[0]
    raise InputError(
        first["message"],
        code=first["code"],
        field=first["field"],
        expected=first["expected"],
        data={"mistakes": mistakes[:20]} if len(mistakes) > 1 else {},
    )


def _mistake(error: Any, field: str, model: type[BaseModel]) -> dict[str, Any]:
    path = _path(error["loc"], field)
    name = path[-1] if path else "request"
    context = error.get("ctx") or {}
    new = _RENAMED.get(error["loc"][-2:])
    if new is not None:
        told = renamed_field(error["loc"][-1], new, ".".join(path))
        return {
            "code": told.code, "message": told.message, "field": told.field, "expected": new,
        }  # fmt: skip
    if error["type"] == "letterply":
        code, message, expected = context["code"], context["message"], context["expected"]
        path += [context["field"]] if context.get("field") else []
    else:
        kind = _KINDS.get(error["type"])
        code, wrong, right = kind or ("bad-value", "does not fit", lambda c: "another value")
        if error["type"] in ("model_type", "model_attributes_type"):
            code = _OBJECTS.get(name, code)
        elif error["type"] == "dict_type" and path[:-1] == ["recipes"]:
            code = _OBJECTS["recipe"]
        message, expected = sentence(f"{_words(path)} {wrong}"), right(context)
        if code == "unknown-field":
            known = _names_at(model, error["loc"][:-1])
            expected = ", ".join(known) or expected
            if _RENAMED.get(name) in known:
                renamed = renamed_field(name, _RENAMED[name], "")
                message, expected = renamed.message, _RENAMED[name]
    return {
        "code": code,
        "message": message,
        "field": ".".join(path) or None,
        "expected": str(expected),
    }


def _path(loc: tuple[int | str, ...], field: str) -> list[str]:
    """Return the path as the maker wrote it: without the tags and names of union branches."""
    path = [field] if field else []
    for at, step in enumerate(loc):
        before = loc[at - 1] if at else None
        listed = isinstance(before, int) and at > 1 and loc[at - 2] in _LISTS_OF_KINDS
        tag = step in _UNION_TAGS and (before in ("outline", "align", "baseline") or listed)
        branch = isinstance(step, str) and ("[" in step or step.startswith("function-"))
        branch = branch or (step in _PLAIN_TYPES and at == len(loc) - 1 and at > 0)
        if not tag and not branch:
            path.append(str(step))
    return path


def _words(path: Sequence[str]) -> str:
    """Return what a place in a request is called: `'copies'`, `entry 2 of 'layers'`."""
    if not path:
        return "the request"
    *before, name = path
    if name.isdigit() and before:
        return f"entry {int(name) + 1} of {_words(before)}"
    return shown(name, 80)


def _names(model: type[BaseModel]) -> list[str]:
    return [info.alias or name for name, info in model.model_fields.items()]


def _names_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> list[str]:
    """Return the names of the fields of the models that stand at a place of a request."""
    models = [model]
    inside: list[Any] = [model]
    for step in loc:
        found = [a for one in inside for a in _below(one, step)]
        inside = found or inside  # the tag of a union leads nowhere new
        tagged = [m for m in inside if isinstance(m, type) and _is_kind(m, step)]
        inside = tagged or inside
        models = [m for one in inside for m in _models(one)]
    return list(dict.fromkeys(name for m in models for name in _names(m)))


def _below(annotation: Any, step: int | str) -> Iterator[Any]:
    for part in _parts(annotation):
        if isinstance(part, type) and issubclass(part, BaseModel):
            for name, info in part.model_fields.items():
                if step in (info.alias, name):
                    yield from _parts(info.annotation)
        elif get_origin(part) in (list, tuple) and isinstance(step, int):
            yield from _parts(get_args(part)[0])
        elif get_origin(part) is dict and isinstance(step, str):
            yield from _parts(get_args(part)[1])


def _parts(annotation: Any) -> Iterator[Any]:
    """Yield the branches of a type: what is annotated or united, one by one."""
    origin = get_origin(annotation)
    if origin in (Union, UnionType):
        for branch in get_args(annotation):
            yield from _parts(branch)
    elif hasattr(annotation, "__metadata__"):
        yield from _parts(annotation.__origin__)
    else:
        yield annotation


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    for part in _parts(annotation):
        if isinstance(part, type) and issubclass(part, BaseModel):
            yield part


def _is_kind(model: Any, step: int | str) -> bool:
    info = getattr(model, "model_fields", {}).get("kind")
    return (
        info is not None
        and get_origin(info.annotation) is Literal
        and step in get_args(info.annotation)
    )
