"""Bodies: bytes from outside in, a JSON object or the bytes of a file out, or a problem."""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Iterable
from typing import Annotated, Any

from fastapi import Depends, Request
from starlette.datastructures import UploadFile

from letterply.api.http.headers import read_media_type
from letterply.api.http.problems import HttpProblem
from letterply.errors import InputError

__all__ = ["ArtworkBody", "FontBody", "JsonBody", "parse_object", "upload_body"]

_FONT_TYPES = ("font/", "application/font", "application/x-font", "application/octet-stream")

_ARTWORK_TYPES = (
    "image/svg+xml",
    "image/png",
    "image/jpeg",
    "application/xml",
    "text/xml",
    "application/octet-stream",
)


_SMALL_BYTES = 50_000
"""A body that is read in less time than it takes to hand it to a thread."""


def parse_object(raw: bytes) -> dict[str, Any]:
    """Return the JSON object in `raw`: well-formed text, numbers that can be computed with.

    Whole numbers that no field has a use for become floats, as they are read elsewhere: what a
    field may be is said by who reads the field.

    Raises:
        HttpProblem: `malformed-json`.
        InputError: `not-an-object`; `not-text`, naming the fields with halves of characters.

    """

    def refuse(name: str) -> float:
        raise ValueError(f"{name} is no JSON number")

    try:
        value = json.loads(raw.decode("utf-8"), parse_constant=refuse, parse_int=_whole)
    except json.JSONDecodeError as exc:
        raise HttpProblem(
            f"The body is not JSON: {exc.msg} in line {exc.lineno}, column {exc.colno}.",
            code="malformed-json",
            data={"line": exc.lineno, "column": exc.colno},
        ) from exc
    except (UnicodeDecodeError, ValueError, RecursionError) as exc:
        raise HttpProblem(
            "The body is not JSON: it must be UTF-8 text with finite numbers of sensible length "
            "and depth.",
            code="malformed-json",
        ) from exc
    if not isinstance(value, dict):
        raise InputError(
            "The body is not a JSON object.", code="not-an-object", expected='{"recipe": {...}}'
        )
    if b"\\u" in raw:
        _refuse_halves(value)
    return value


_MOST_DIGITS = 16
"""Of a number that is read as a whole one; a float has as many."""


def _whole(digits: str) -> int | float:
    return int(digits) if len(digits) <= _MOST_DIGITS else float(digits)


_HALF = re.compile("[\ud800-\udfff]")


def _refuse_halves(value: dict[str, Any]) -> None:
    """Refuse texts with half of a surrogate pair: JSON can spell it, no text holds it."""
    found: list[str] = []
    waiting: list[tuple[str, Any]] = [("", value)]
    while waiting:
        where, item = waiting.pop()
        inner: Iterable[tuple[object, Any]] = ()
        if isinstance(item, str):
            found += [where] if _HALF.search(item) else []
        elif isinstance(item, dict):
            found += [f"{where}.{name}".removeprefix(".") for name in item if _HALF.search(name)]
            inner = item.items()
        elif isinstance(item, list):
            inner = enumerate(item)
        waiting += [(f"{where}.{name}".removeprefix("."), one) for name, one in inner]
    if found:
        found.sort()
        raise InputError(
            "The text holds half of a character that JSON spells in two (\\ud800 to \\udfff).",
            code="not-text",
            field=found[0],
            expected="both halves, or the character itself in UTF-8",
            data={"fields": found[:20]} if len(found) > 1 else {},
        )


async def _read_json(request: Request) -> dict[str, Any]:
    given = _media_type(request)
    if given != "application/json" and not given.endswith("+json"):
        raise _unsupported(given, "application/json")
    raw = await request.body()
    if len(raw) <= _SMALL_BYTES:
        return parse_object(raw)
    return await asyncio.to_thread(parse_object, raw)


async def _read_font(request: Request) -> bytes:
    expected = "multipart/form-data, font/* or application/octet-stream"
    return await _read_file(request, _FONT_TYPES, expected, "not-a-font", "font")


async def _read_artwork(request: Request) -> bytes:
    expected = "multipart/form-data, image/svg+xml, image/png or image/jpeg"
    return await _read_file(request, _ARTWORK_TYPES, expected, "not-svg", "artwork")


def upload_body(*types: str) -> dict[str, Any]:
    """Return how OpenAPI describes a body that is a file, by itself or in a form."""
    file: dict[str, Any] = {"type": "string", "format": "binary"}
    form: dict[str, Any] = {"type": "object", "required": ["file"], "properties": {"file": file}}
    content: dict[str, Any] = {"multipart/form-data": {"schema": form}}
    content |= {one: {"schema": file} for one in types}
    return {"requestBody": {"required": True, "content": content}}


async def _read_file(
    request: Request, types: tuple[str, ...], expected: str, code: str, what: str
) -> bytes:
    """Return the bytes of a file that was sent, by itself or in a form."""
    given = _media_type(request)
    if given == "multipart/form-data":
        async with request.form(max_files=1, max_fields=8) as form:
            file = form.get("file")
            if not isinstance(file, UploadFile):
                raise InputError(
                    "The form has no file.", code="file-missing", field="file", expected="a file"
                )
            data = await file.read()
    elif given.startswith(types):
        data = await request.body()
    else:
        raise _unsupported(given, expected)
    if not data:
        raise InputError("The file is empty.", code=code, field=what, expected=f"a file of {what}")
    return data


def _media_type(request: Request) -> str:
    return read_media_type(request.headers.get("content-type", ""))[0]


def _unsupported(given: str, expected: str) -> HttpProblem:
    return HttpProblem(
        f"A body of type {given or 'unknown'!r} is not taken here.",
        code="unsupported-media-type",
        expected=expected,
    )


JsonBody = Annotated[dict[str, Any], Depends(_read_json)]
ArtworkBody = Annotated[bytes, Depends(_read_artwork)]
FontBody = Annotated[bytes, Depends(_read_font)]
