"""Fonts and drawings as JSON and pictures: what the libraries and the store know of them."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from fastapi import Request, Response

from letterply.api.dependencies import Page
from letterply.api.responses.caching import answer_bytes
from letterply.api.responses.lists import next_link
from letterply.api.responses.results import HARMLESS, MEDIA_TYPES, json_response
from letterply.errors import NotFound
from letterply.jobs import (
    UPLOAD_PICTURES,
    JobService,
    describe_upload,
    picture_upload,
    take_upload,
    told_artwork,
)
from letterply.lettering import FontEntry, shipped_faces
from letterply.requests import TraceWish
from letterply.storage import Store, Upload, UploadKind, digest
from letterply.workers import ComputePool

__all__ = [
    "answer_font_file",
    "answer_picture",
    "artwork_document",
    "font_document",
    "one_font",
    "page_of_artworks",
    "page_of_fonts",
    "take",
]

_FONT_TYPES = {
    b"OTTO": "font/otf",
    b"ttcf": "font/collection",
    b"wOFF": "font/woff",
    b"wOF2": "font/woff2",
}
"""First four bytes -> media type (RFC 8081); TrueType without them."""


def font_document(font: Upload) -> dict[str, Any]:
    """Return an own font as JSON."""
    about = {"key": font.id, "kind": "own", "note": "", "shipped": False}
    return {**about, **font.description, "size_bytes": font.size, "created_at": font.created_at}


def artwork_document(artwork: Upload, units: str) -> dict[str, Any]:
    """Return a drawing as JSON, its sentences in `units`."""
    told = told_artwork(artwork.description, units)
    about = {"key": artwork.id, "name": artwork.name, **told}
    about |= {"size_bytes": artwork.size, "created_at": artwork.created_at}
    self = f"/v1/artworks/{artwork.id}"
    return about | {"links": {"self": self, "png": f"{self}.png", "svg": f"{self}.svg"}}


def _shipped(face: FontEntry) -> dict[str, Any]:
    return {
        "key": face.key,
        "kind": face.kind,
        "note": face.note,
        "shipped": True,
        "family": face.family,
        "style": face.style,
    }


async def page_of_fonts(store: Store, page: Page) -> dict[str, Any]:
    """Return one page of the fonts: own ones by name, then the shipped ones by key."""
    return await asyncio.to_thread(_page_of_fonts, store, page)


def _page_of_fonts(store: Store, page: Page) -> dict[str, Any]:
    shipped = shipped_faces()
    items: list[dict[str, Any]] = []
    more = False
    if page.after not in shipped:
        own, more = store.uploads(UploadKind.FONT, limit=page.limit, after=page.after)
        items = [font_document(font) for font in own]
    if not more:
        start = page.after if page.after in shipped else ""
        rest = [face for key, face in shipped.items() if key > (start or "")]
        room = page.limit - len(items)
        items += [_shipped(face) for face in rest[:room]]
        more = len(rest) > room
    last = items[-1]["key"] if items else ""
    # A page that is full of own fonts goes on behind the last of them.
    return {"items": items, "next": next_link("/v1/fonts", page, last) if more else None}


async def page_of_artworks(store: Store, page: Page, units: str) -> dict[str, Any]:
    """Return one page of the drawings, by name."""
    found, more = await asyncio.to_thread(
        store.uploads, UploadKind.ARTWORK, limit=page.limit, after=page.after
    )
    last = found[-1].id if found else ""
    items = [artwork_document(artwork, units) for artwork in found]
    return {"items": items, "next": next_link("/v1/artworks", page, last) if more else None}


async def one_font(store: Store, pool: ComputePool, key: str) -> dict[str, Any]:
    """Return one font with what it says of itself; raises `NotFound` (`font-not-found`)."""
    shipped = await asyncio.to_thread(shipped_faces)
    if key not in shipped:
        return font_document(await asyncio.to_thread(store.upload, UploadKind.FONT, key))
    face = shipped[key]
    if not face.path.exists():
        raise NotFound("font", key)
    return _shipped(face) | await pool.run(
        describe_upload, UploadKind.FONT, key, str(face.path), owner=store.owner
    )


async def take(
    job_service: JobService,
    kind: UploadKind,
    data: bytes,
    wish: TraceWish | None = None,
    units: str = "mm",
) -> Response:
    """Keep a file that was sent; 201 where it is new, 200 where it was there already."""
    upload, new = await take_upload(
        job_service.store, job_service.short_lane, kind, data, wish, job_service.check_room, units
    )
    document = font_document(upload) if kind is UploadKind.FONT else artwork_document(upload, units)
    where = {"Location": f"/v1/{kind}s/{upload.id}"}
    return json_response(document, 201 if new else 200, where)


async def answer_picture(
    job_service: JobService, kind: UploadKind, key: str, suffix: str, units: str = "mm"
) -> Response:
    """Answer GET of a picture of a font or a drawing.

    Raises:
        NotFound: `font-not-found` or `artwork-not-found`; `file-not-found` for another suffix.

    """
    path = await _path(job_service, kind, key)
    if suffix not in UPLOAD_PICTURES:
        raise NotFound("file", f"{key}.{suffix}")
    picture = await job_service.short_lane.run(
        picture_upload, kind, key, str(path), suffix, units, owner=job_service.owner
    )
    headers = {"Content-Security-Policy": HARMLESS, "Cache-Control": "private, max-age=3600"}
    return Response(picture, media_type=MEDIA_TYPES[f".{suffix}"], headers=headers)


async def answer_font_file(request: Request, job_service: JobService, key: str) -> Response:
    """Answer GET of the file of a font; raises `NotFound` (`font-not-found`)."""
    path = await _path(job_service, UploadKind.FONT, key)
    try:
        data = await asyncio.to_thread(path.read_bytes)
    except OSError as exc:
        raise NotFound("font", key) from exc
    media_type = _FONT_TYPES.get(data[:4], "font/ttf")
    response = await answer_bytes(
        request, f'"{digest(data)}"', lambda: data, media_type, cache="private, max-age=86400"
    )
    response.headers["Content-Security-Policy"] = HARMLESS
    return response


async def _path(job_service: JobService, kind: UploadKind, key: str) -> Path:
    shipped = await asyncio.to_thread(shipped_faces) if kind is UploadKind.FONT else {}
    if key in shipped:
        return shipped[key].path
    record = await asyncio.to_thread(job_service.store.upload, kind, key)
    return Path(await asyncio.to_thread(job_service.store.path_of, record.digest))
