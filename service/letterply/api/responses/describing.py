"""What routes say of themselves to the published description: bodies, answers, examples."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import FastAPI
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from letterply.api.http.problems import MEDIA_TYPE
from letterply.api.http.webhook_bodies import WebhookRequest
from letterply.api.schemas import JobDocument, KeyRequest, Problem
from letterply.api.security.guard import needed_scope
from letterply.requests import (
    CheckRequest,
    MeasuredRequest,
    OfferRequest,
    OrderRequest,
    PieceRequest,
    PlanRequest,
    PreviewRequest,
    ProofRequest,
    ShopDocument,
    SizeRequest,
    StackRequest,
    SurveyRequest,
)

__all__ = [
    "ABOUT",
    "EXAMPLE_COMPARISON",
    "EXAMPLE_RECIPE",
    "EXAMPLE_SURVEY",
    "FILES",
    "NOT_MODIFIED",
    "body_of",
    "file_of",
    "install_description",
    "made",
    "problems",
]

_BODIES: tuple[type[BaseModel], ...] = (
    ShopDocument,
    PreviewRequest,
    ProofRequest,
    StackRequest,
    CheckRequest,
    MeasuredRequest,
    PieceRequest,
    PlanRequest,
    SurveyRequest,
    SizeRequest,
    OrderRequest,
    KeyRequest,
    OfferRequest,
    WebhookRequest,
    Problem,
)
_REF = "#/components/schemas/{model}"

ABOUT = """\
Words in, parts that fit together out. A **recipe** says what to make; a **stack** is its layers of
parts; a **check** says what stands in the way; a **plan** holds sheets, operations and programs,
with the **proof** of an independent reading of those programs. A **survey** says what the glyphs
of a font can bear, or which of several fonts can be cut smallest for a text. A **size** says how
large, how small or how wide a recipe may be.
A **test piece** is cut, measured and typed in: the figures of a shop are true then.

Lengths are numbers in mm or text with a unit, as `"1/8 in"`. The same request has the same id and
the same bytes. Everything that goes wrong is a problem (RFC 9457) with a stable `code`.

Programs move cutters. Read them before use, follow the manual of your machine, and mind eyes,
ears, dust and fumes.
"""

EXAMPLE_RECIPE: dict[str, Any] = {
    "title": "Avocet rack sign",
    "lettering": {
        "text": "Avocet",
        "font": "pacifico",
        "size": {"cap_height": "60 mm"},
    },
    "layers": [
        {
            "name": "backer",
            "material": "mdf",
            "thickness": "6 mm",
            "outline": {"kind": "lettering", "grow": "4 mm", "join": True},
        },
        {
            "name": "face",
            "material": "acrylic-cast",
            "thickness": "3 mm",
            "outline": {"kind": "lettering"},
        },
    ],
    "align": {"kind": "dowels", "diameter": "3 mm"},
}

EXAMPLE_SURVEY: dict[str, Any] = {
    "font": "playfair-display",
    "set": "latin-basic",
    "material": "acrylic-cast",
    "thickness": "3 mm",
    "cutters": ["flat-1"],
    "cap_height": "50 mm",
}
EXAMPLE_COMPARISON: dict[str, Any] = {
    "font": "lobster",
    "text": "Godwit",
    "compare": ["pacifico", "dancing-script"],
    "material": "birch-plywood",
    "thickness": "6.5 mm",
}

_SAYS = {
    400: "The request is broken as HTTP or JSON.",
    401: "No API key, or one that is not valid.",
    403: "Not with this key, or not from this machine.",
    404: "There is no such thing.",
    406: "Not in a type that the request accepts.",
    409: "It does not go with the present state.",
    413: "The body is too large.",
    415: "The body is of a type that is not taken.",
    412: "It is not what `If-Match` takes it for.",
    416: "The range lies outside of the file.",
    422: "The request cannot be met as written.",
    429: "The owner uses as much as it may; `Retry-After` says when to ask again.",
    500: "The work failed through a fault of the service, or within its limits could not be done.",
    503: "Not now: too much is under way, or the store does not answer; see `Retry-After`.",
}


NOT_MODIFIED: dict[int | str, dict[str, Any]] = {304: {"description": "Nothing has changed."}}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return the description of answers that are problems."""
    content = {MEDIA_TYPE: {"schema": {"$ref": _REF.format(model="Problem")}}}
    return {s: {"description": _SAYS[s], "content": content} for s in statuses}


_BINARY = {"schema": {"type": "string", "format": "binary"}}
_FILE_TYPES = (
    "image/png", "image/svg+xml", "image/vnd.dxf", "application/zip", "application/pdf",
    "text/csv", "text/plain", "application/octet-stream",
)  # fmt: skip


def file_of(*types: str) -> dict[int | str, dict[str, Any]]:
    """Return the description of answers that are a file of these types, or a part of it."""
    content = dict.fromkeys(types, _BINARY)
    # A document is a file as well, and not always an object.
    content |= {"application/json": {"schema": {}}} if "application/zip" in types else {}
    return {
        200: {"description": "The file.", "content": content},
        206: {"description": "The bytes that `Range` asks for.", "content": content},
        **NOT_MODIFIED,
        **problems(412, 416),
    }


FILES = file_of(*_FILE_TYPES)
"""Answers that are one of the files of a result."""


def made(document: type[BaseModel]) -> dict[int | str, dict[str, Any]]:
    """Return the description of what a POST may answer."""
    return {
        200: {"model": document, "description": "It was there already."},
        201: {"model": document, "description": "It was made."},
        202: {
            "model": JobDocument,
            "description": "Being made; `Location` says where to ask.",
        },
        **problems(400, 409, 413, 415, 422, 500, 503),
    }


def body_of(model: type[BaseModel], **examples: Mapping[str, Any]) -> dict[str, Any]:
    """Return the description of a JSON body that the route reads by itself."""
    return {
        "requestBody": {
            "required": True,
            "content": {
                "application/json": {
                    "schema": {"$ref": _REF.format(model=model.__name__)},
                    "examples": {name: {"value": dict(v)} for name, v in examples.items()},
                }
            },
        }
    }


def install_description(app: FastAPI) -> None:
    """Let `app.openapi()` also describe bodies that routes read by themselves, and API keys."""
    built_in = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            schema = built_in()
            _, extra = models_json_schema(
                [(model, "validation") for model in _BODIES], ref_template=_REF
            )
            schemas = schema.setdefault("components", {}).setdefault("schemas", {})
            for name, definition in extra.get("$defs", {}).items():
                schemas.setdefault(name, definition)
            _replace_validation_errors(schema)
            _describe_access(schema)
            app.openapi_schema = schema
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]


def _describe_access(schema: dict[str, Any]) -> None:
    """Say which operations need a key, what else the guard answers, and whose things are meant."""
    about = "An API key, where the service has any; on its own machine it may do without."
    schema["components"]["securitySchemes"] = {
        "key": {"type": "http", "scheme": "bearer", "description": about}
    }
    for path, operations in schema["paths"].items():
        for method, operation in operations.items():
            needed = needed_scope(path, method.upper())
            refusals = problems(400, 403)
            if needed is not None:
                operation["security"] = [{"key": []}, {}]
                operation["x-letterply-scope"] = needed
                refusals |= problems(401, 429, 503)
            for status, said in refusals.items():
                operation["responses"].setdefault(str(status), said)


def _replace_validation_errors(schema: dict[str, Any]) -> None:
    """Say of every 422 what this service answers, not what the framework would."""
    for operations in schema["paths"].values():
        for operation in operations.values():
            found = operation["responses"].get("422", {}).get("content", {})
            if "application/json" in found:
                operation["responses"]["422"] = problems(422)[422]
    for name in ("HTTPValidationError", "ValidationError"):
        schema["components"]["schemas"].pop(name, None)
