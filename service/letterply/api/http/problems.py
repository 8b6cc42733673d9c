"""Problems: errors in, problem details (RFC 9457) out, by one table.

Every answer that is not a success is `application/problem+json` with the standard members and
these extensions: `code` (stable, to branch on), `field` and `expected` where they help, and the
facts of the error under their own names. Inner wording never leaves the service: unforeseen
errors say nothing but the id under which the log has more.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any, cast

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from letterply.api.http.problem_types import problem_type
from letterply.errors import (
    Conflict,
    InputError,
    JobFailed,
    LetterplyError,
    NotFound,
    OverAllowance,
)

__all__ = [
    "MEDIA_TYPE",
    "HttpProblem",
    "install_handlers",
    "problem_document",
    "problem_response",
    "status_of",
]

MEDIA_TYPE = "application/problem+json"

_STATUS_OF_CODE: dict[str, int] = {
    "malformed-json": 400,
    "malformed-toml": 400,
    "bad-idempotency-key": 400,
    "bad-host": 400,
    "bad-owner": 400,
    "missing-key": 401,
    "insufficient-scope": 403,
    "loopback-only": 403,
    "not-found": 404,
    "method-not-allowed": 405,
    "not-acceptable": 406,
    "plan-not-proved": 409,
    "offer-agreed": 409,
    "offer-not-ready": 409,
    "too-many-replies": 409,
    "offer-ended": 410,
    "offer-withdrawn": 410,
    "shop-changed": 412,
    "body-too-large": 413,
    "too-many-requests": 429,
    "unsupported-media-type": 415,
    "idempotency-key-reused": 422,
    "job-timeout": 422,
    "job-memory": 422,
    "answer-outdated": 409,
    "job-outdated": 409,
    "owner-busy": 429,
    "owner-full": 429,
    "precondition-failed": 412,
    "range-not-satisfiable": 416,
    "service-busy": 503,
    "job-stopped": 503,
    "service-stopping": 503,
    "request-timeout": 408,
    "store-busy": 503,
    "store-unreachable": 503,
    "order-cancelled": 409,
    "order-unfinished": 409,
    "nothing-lost": 409,
}
_STATUS_OF_ERROR: tuple[tuple[type[LetterplyError], int], ...] = (
    (NotFound, 404),
    (Conflict, 409),
    (InputError, 422),
    (OverAllowance, 429),
    (JobFailed, 500),
    (LetterplyError, 500),
)
_HEADERS_OF_CODE: dict[str, dict[str, str]] = {
    "missing-key": {"WWW-Authenticate": 'Bearer realm="letterply"'},
    "insufficient-scope": {
        "WWW-Authenticate": 'Bearer realm="letterply", error="insufficient_scope"'
    },
    "owner-busy": {"Retry-After": "5"},
    "owner-full": {"Retry-After": "3600"},
    "job-stopped": {"Retry-After": "5"},
    "service-stopping": {"Retry-After": "5"},
    "service-busy": {"Retry-After": "5"},
    "store-busy": {"Retry-After": "5"},
    "store-unreachable": {"Retry-After": "5"},
    "too-many-requests": {"Retry-After": "60"},
    "idempotency-key-running": {"Retry-After": "1"},
    "body-too-large": {"Connection": "close"},
}
_STANDARD = frozenset({"type", "title", "status", "detail", "instance"})
_CODE_OF_STATUS = {
    400: "malformed-json",
    404: "not-found",
    405: "method-not-allowed",
    413: "body-too-large",
}


class HttpProblem(LetterplyError):
    """Something wrong with the request as HTTP; its code decides the status."""


def status_of(error: LetterplyError) -> int:
    """Return the HTTP status of an error: by code where the table has it, else by class."""
    if error.code in _STATUS_OF_CODE:
        return _STATUS_OF_CODE[error.code]
    return next(status for kind, status in _STATUS_OF_ERROR if isinstance(error, kind))


def problem_document(error: LetterplyError, instance: str | None = None) -> dict[str, Any]:
    """Return an error as problem details."""
    document: dict[str, Any] = {
        "type": f"/problems/{error.code}",
        "title": problem_type(error.code).title,
        "status": status_of(error),
        "detail": error.message,
    }
    if instance is not None:
        document["instance"] = instance
    document["code"] = error.code
    if error.field is not None:
        document["field"] = error.field
    if error.expected is not None:
        document["expected"] = error.expected
    extensions = {k: v for k, v in error.data.items() if k not in document and k not in _STANDARD}
    return document | extensions


def problem_response(
    error: LetterplyError, instance: str | None = None, headers: Mapping[str, str] | None = None
) -> Response:
    """Return an error as a response, whatever it echoes."""
    return Response(
        _written(problem_document(error, instance)),
        status_code=status_of(error),
        headers={
            "Cache-Control": "no-store",
            **_HEADERS_OF_CODE.get(error.code, {}),
            **_facts_as_headers(error),
            **(headers or {}),
        },
        media_type=MEDIA_TYPE,
    )


def _facts_as_headers(error: LetterplyError) -> dict[str, str]:
    found = {}
    if "retry_after_s" in error.data:
        found["Retry-After"] = str(error.data["retry_after_s"])
    if error.code == "range-not-satisfiable":
        found["Content-Range"] = f"bytes */{error.data['size_bytes']}"
    return found


def _written(document: Mapping[str, Any]) -> bytes:
    """Return a problem as JSON; what JSON cannot carry is shown as text.

    A lone surrogate is written as its escape, which is how it came.
    """
    text = json.dumps(_plain(document), ensure_ascii=False, separators=(",", ":"))
    return text.encode("utf-8", "backslashreplace")


_MOST = 10**300


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, int):
        return value if abs(value) <= _MOST else "a number too large to write"
    if isinstance(value, float):
        return value if math.isfinite(value) else str(value)
    if isinstance(value, Mapping):
        return {str(name): _plain(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return str(value)


def instance_of(request: Request) -> str | None:
    """Return the URI that names this occurrence; the log has the same id."""
    request_id = getattr(request.state, "request_id", None)
    return f"urn:uuid:{request_id}" if request_id else None


def install_handlers(app: FastAPI) -> None:
    """Let every error of the app be answered as a problem."""
    app.add_exception_handler(LetterplyError, _on_letterply_error)
    app.add_exception_handler(RequestValidationError, _on_invalid_request)
    app.add_exception_handler(HTTPException, _on_http_exception)


async def _on_letterply_error(request: Request, exc: Exception) -> Response:
    return problem_response(cast(LetterplyError, exc), instance_of(request))


async def _on_invalid_request(request: Request, exc: Exception) -> Response:
    errors = [
        {"field": ".".join(str(part) for part in found["loc"]), "message": found["msg"]}
        for found in cast(RequestValidationError, exc).errors()
    ]
    first = errors[0]
    name = first["field"].rpartition(".")[2]
    problem = InputError(
        f"The parameter {name!r} is wrong: {_lower(first['message'])}.",
        code="invalid-request",
        field=first["field"],
        expected=first["message"],
        data={"errors": errors},
    )
    return problem_response(problem, instance_of(request))


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:].removesuffix(".")


async def _on_http_exception(request: Request, exc: Exception) -> Response:
    found = cast(HTTPException, exc)
    code = _CODE_OF_STATUS.get(found.status_code, "internal-error")
    sentences = {
        "not-found": f"There is nothing at {request.url.path!r}.",
        "method-not-allowed": f"{request.method} is not possible at {request.url.path!r}.",
    }
    problem = HttpProblem(sentences.get(code, problem_type(code).title + "."), code=code)
    headers = dict(found.headers or {})
    if code == "method-not-allowed":
        headers["Allow"] = _allowed(request) or headers.get("Allow", "")
    return problem_response(problem, instance_of(request), headers)


def _allowed(request: Request) -> str:
    """Return every method of a path; the router names those of the first route that fits."""
    methods: set[str] = set()
    for template, operations in request.app.openapi()["paths"].items():
        parts = re.split(r"(\{[^}]*\})", template)
        pattern = "".join(
            (".+" if p == "{path}" else "[^/]+") if p.startswith("{") else re.escape(p)
            for p in parts
        )
        if re.fullmatch(pattern, request.url.path):
            methods.update(name.upper() for name in operations)
    if "GET" in methods:
        methods.add("HEAD")
    return ", ".join(sorted(methods))
