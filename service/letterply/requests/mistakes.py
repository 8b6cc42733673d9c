"""What is wrong with a recipe, in our own words: a validation's mistakes as one error.

Each mistake has a stable code, the dotted path of the field as the maker wrote it, a sentence and
what would be right.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import ValidationError

from letterply.errors import InputError, renamed_field

__all__ = ["translate_validation"]

_Context = Mapping[str, Any]

_UNION_TAGS = frozenset(
    {"lettering", "plate", "holes", "through_lettering", "groove_lettering", "scribe_lettering",
     "recess", "dowels", "placement_lines", "frame", "blank", "none", "straight", "arc", "circle",
     "path", "vertical", "artwork", "border", "slots", "standoffs", "keyholes"}
)  # fmt: skip
"""Kinds by which a union is told apart: pydantic puts them into the path, a maker does not."""


def _choices(context: _Context) -> str:
    return str(context.get("expected") or context.get("expected_tags") or "").replace("'", "")


_KINDS: dict[str, tuple[str, str, Callable[[_Context], str]]] = {
    "missing": ("missing-field", "is missing", lambda c: "a value for it"),
    "extra_forbidden": ("unknown-field", "is not known here", lambda c: "no such field"),
    "union_tag_invalid": ("unknown-kind", "has an unknown kind", _choices),
    "union_tag_not_found": ("missing-field", "has no kind", lambda c: "a field called kind"),
    "literal_error": ("unknown-choice", "is none of the choices", _choices),
    "greater_than": ("out-of-range", "is too small", lambda c: f"more than {c['gt']:g}"),
    "greater_than_equal": ("out-of-range", "is too small", lambda c: f"at least {c['ge']:g}"),
    "less_than": ("out-of-range", "is too large", lambda c: f"less than {c['lt']:g}"),
    "less_than_equal": ("out-of-range", "is too large", lambda c: f"at most {c['le']:g}"),
    "finite_number": ("out-of-range", "is not finite", lambda c: "a finite number"),
    "string_too_long": (
        "too-long", "is too long", lambda c: f"at most {c['max_length']} characters"
    ),
    "too_long": ("too-long", "has too many entries", lambda c: f"at most {c['max_length']}"),
    "string_too_short": (
        "empty-value", "is too short", lambda c: f"at least {c['min_length']} characters"
    ),
    "too_short": ("empty-value", "has too few entries", lambda c: f"at least {c['min_length']}"),
    "string_pattern_mismatch": (
        "bad-name", "has characters that a name may not have",
        lambda c: "letters, digits, spaces, hyphens and underscores",
    ),
    "string_type": ("bad-value", "is no text", lambda c: "text in quotes"),
    "bool_type": ("bad-value", "is neither true nor false", lambda c: "true or false"),
    "bool_parsing": ("bad-value", "is neither true nor false", lambda c: "true or false"),
    "int_type": ("bad-value", "is no whole number", lambda c: "a whole number"),
    "int_parsing": ("bad-value", "is no whole number", lambda c: "a whole number"),
    "int_from_float": ("bad-value", "is no whole number", lambda c: "a whole number"),
    "float_type": ("bad-value", "is no number", lambda c: "a number"),
    "float_parsing": ("bad-value", "is no number", lambda c: "a number"),
    "list_type": ("bad-value", "is no list", lambda c: "a list in brackets"),
    "tuple_type": ("bad-value", "is no pair", lambda c: "a list of two lengths"),
    "dict_type": ("bad-value", "is no object", lambda c: "an object in braces"),
    "model_type": ("bad-value", "is no object", lambda c: "an object in braces"),
    "model_attributes_type": ("bad-value", "is no object", lambda c: "an object in braces"),
}  # fmt: skip
"""pydantic's kind of mistake -> our code, what is wrong, what would be right."""


_RENAMED = {
    ("groove_lettering", "start_depth"): "from_depth",
    ("groove_lettering", "max_depth"): "floor_at",
}
"""Kind and a name that a field of it once had -> the name it has."""


def translate_validation(exc: ValidationError, *, field: str = "") -> InputError:
    """Return the first mistake of a validation as an `InputError`; all are in its data."""
    mistakes = [_mistake(e, field) for e in exc.errors(include_url=False)]
    first = mistakes[0]
    return InputError(
        first["message"],
        code=first["code"],
        field=first["field"],
        expected=first["expected"],
        data={"mistakes": mistakes[:20]} if len(mistakes) > 1 else {},
    )


def _mistake(error: Any, field: str) -> dict[str, Any]:
    path = _path(error["loc"], field)
    context = error.get("ctx") or {}
    new = _RENAMED.get(error["loc"][-2:])
    if new is not None:
        told = renamed_field(error["loc"][-1], new, ".".join(path))
        return {
            "code": told.code, "message": told.message, "field": told.field, "expected": new,
        }  # fmt: skip
    if error["type"] == "letterply":
        code, message, expected = context["code"], context["message"], context["expected"]
    else:
        kind = _KINDS.get(error["type"])
        code, wrong, right = kind or ("bad-value", "does not fit", lambda c: "another value")
        message, expected = f"{path[-1] if path else 'The request'} {wrong}.", right(context)
    return {"code": code, "message": message, "field": ".".join(path), "expected": str(expected)}


def _path(loc: tuple[int | str, ...], field: str) -> list[str]:
    """Return the path as the maker wrote it: without the tags and names of union branches."""
    path = [field] if field else []
    for at, step in enumerate(loc):
        before = loc[at - 1] if at else None
        listed = isinstance(before, int) and at > 1 and loc[at - 2] == "features"
        tag = step in _UNION_TAGS and (before in ("outline", "align", "baseline") or listed)
        branch = isinstance(step, str) and ("[" in step or step.startswith("function-"))
        if not tag and not branch:
            path.append(str(step))
    return path
