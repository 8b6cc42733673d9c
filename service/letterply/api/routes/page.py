"""page: the bench page, for whoever would rather look than write JSON.

Its files are built from `clients/browser` and ship with the package. Nothing is fetched from
elsewhere; there is no script or style but the page's own, and no text of anybody becomes markup.
"""

from __future__ import annotations

import gzip
from functools import lru_cache
from importlib.resources import files

from fastapi import APIRouter, Request, Response

from letterply.api.http.negotiation import tag_matches
from letterply.errors import NotFound
from letterply.storage import digest

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "img-src 'self' blob:; font-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'"
)
_TYPES = {
    "index.html": "text/html",
    "bench.js": "text/javascript",
    "german.js": "text/javascript",
    "style.css": "text/css",
    "icon.svg": "image/svg+xml",
}

_KEPT = {"icon.svg": "max-age=86400"}
"""A browser asks for the icon whenever the address changes: with every letter that is typed."""


@lru_cache
def _built(name: str) -> tuple[bytes, bytes, str]:
    """Return a file of the page, the same compressed, and its entity tag."""
    plain = (files("letterply.api") / "static" / "page" / name).read_bytes()
    return plain, gzip.compress(plain, mtime=0), f'"{digest(plain)}"'


@router.get("/")
def bench_page(request: Request) -> Response:
    """Return the page."""
    return _answer(request, "index.html")


@router.get("/page/{name}")
def part_of_page(request: Request, name: str) -> Response:
    """Return its script or its style."""
    if name not in _TYPES:
        raise NotFound("page", name)
    return _answer(request, name)


def _answer(request: Request, name: str) -> Response:
    plain, packed, tag = _built(name)
    headers = {
        "Content-Security-Policy": _POLICY,
        "Referrer-Policy": "no-referrer",
        "Cache-Control": _KEPT.get(name, "no-cache"),
        "ETag": tag,
        "Vary": "Accept-Encoding",
    }
    if tag_matches(request.headers.get("if-none-match"), tag):
        return Response(status_code=304, headers=headers)
    if "gzip" in request.headers.get("accept-encoding", ""):
        return Response(
            packed, headers={**headers, "Content-Encoding": "gzip"}, media_type=_TYPES[name]
        )
    return Response(plain, headers=headers, media_type=_TYPES[name])
