"""reading: the interactive description of the service, and the problem types in words.

Everything comes from this service: no script, style or font is fetched from elsewhere.
"""

from __future__ import annotations

import re
from functools import lru_cache
from html import escape
from importlib.resources import files

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from letterply.api.http.problem_types import PROBLEM_TYPES, problem_type
from letterply.api.responses.describing import problems
from letterply.api.responses.results import json_response
from letterply.errors import NotFound

__all__ = ["router"]

router = APIRouter(tags=["reading"])

_CODE = re.compile(r"[a-z][a-z0-9-]{1,60}")
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "img-src 'self' blob:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_TYPES = {"docs.css": "text/css", "docs.js": "text/javascript", "docs.html": "text/html"}


@lru_cache
def _static(name: str) -> bytes:
    return (files("letterply.api") / "static" / name).read_bytes()


@router.get("/docs", include_in_schema=False)
def docs() -> Response:
    """Return the page that lists the operations and tries them out."""
    return Response(
        _static("docs.html"),
        media_type="text/html; charset=utf-8",
        headers={"Content-Security-Policy": _POLICY},
    )


@router.get("/docs/{name}", include_in_schema=False)
def docs_part(name: str) -> Response:
    """Return the style or script of the page."""
    if name not in _TYPES:
        raise NotFound("page", name)
    return Response(_static(name), media_type=f"{_TYPES[name]}; charset=utf-8")


@router.get("/problems")
def list_problems() -> Response:
    """List the published problem types."""
    items = [
        {"code": code, "type": f"/problems/{code}", "title": found.title, "advice": found.advice}
        for code, found in sorted(PROBLEM_TYPES.items())
    ]
    return json_response({"items": items})


@router.get("/problems/{code}", response_class=HTMLResponse, responses=problems(404))
def explain_problem(code: str) -> Response:
    """Say in words what a problem is about and what to do."""
    if not _CODE.fullmatch(code):
        raise NotFound("problem", code)
    found = problem_type(code)
    page = (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(code)}</title>'
        f'<link rel="stylesheet" href="/docs/docs.css"><main><h1>{escape(found.title)}</h1>'
        f"<p><code>{escape(code)}</code></p><p>{_marked(found.advice)}</p></main></html>"
    )
    return HTMLResponse(page, headers={"Content-Security-Policy": _POLICY})


def _marked(text: str) -> str:
    return re.sub(r"`([^`]*)`", r"<code>\1</code>", escape(text))
