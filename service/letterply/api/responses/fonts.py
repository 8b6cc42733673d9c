"""Fonts as JSON: what the shelf and the store know of them."""

from __future__ import annotations

import asyncio
from typing import Any

from letterply.api.dependencies import Page
from letterply.api.responses.lists import next_link
from letterply.errors import NotFound
from letterply.jobs import FONT_PICTURES, describe_font_file, picture_font_file
from letterply.lettering import FontEntry, shipped_faces
from letterply.storage import FontRecord, Store
from letterply.workers import ComputePool

__all__ = ["font_picture", "one_font", "own_font", "page_of_fonts"]


def own_font(font: FontRecord) -> dict[str, Any]:
    """Return an own font as JSON."""
    about = {"key": font.id, "kind": "own", "note": "", "shipped": False}
    return {**about, **font.description, "size_bytes": font.size, "created_at": font.created_at}


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
    """Return one page of the shelf: own fonts by name, then the shipped ones by key."""
    shipped = await asyncio.to_thread(shipped_faces)
    items: list[dict[str, Any]] = []
    more = False
    if page.after not in shipped:
        own, more = await asyncio.to_thread(store.fonts, limit=page.limit, after=page.after)
        items = [own_font(font) for font in own]
    if not more:
        start = page.after if page.after in shipped else ""
        rest = [face for key, face in shipped.items() if key > (start or "")]
        room = page.limit - len(items)
        items += [_shipped(face) for face in rest[:room]]
        more = len(rest) > room
    last = items[-1]["key"] if items else ""
    # A page that is full of own fonts goes on behind the last of them.
    return {"items": items, "next": next_link("/v1/fonts", page, last) if more else None}


async def one_font(store: Store, pool: ComputePool, key: str) -> dict[str, Any]:
    """Return one font with what it says of itself; raises `NotFound` (`font-not-found`)."""
    shipped = await asyncio.to_thread(shipped_faces)
    if key not in shipped:
        return own_font(await asyncio.to_thread(store.font, key))
    face = shipped[key]
    if not face.path.exists():
        raise NotFound("font", key)
    return _shipped(face) | await pool.run(describe_font_file, key, str(face.path))


async def font_picture(store: Store, pool: ComputePool, key: str, kind: str) -> bytes:
    """Return a picture of a font, `svg` or `png`.

    Raises:
        NotFound: `font-not-found`, or `file-not-found` for another kind.

    """
    shipped = await asyncio.to_thread(shipped_faces)
    if key in shipped:
        path = shipped[key].path
    else:
        record = await asyncio.to_thread(store.font, key)
        path = await asyncio.to_thread(store.path_of, record.digest)
    if kind not in FONT_PICTURES:
        raise NotFound("file", f"{key}.{kind}")
    return await pool.run(picture_font_file, key, str(path), kind)
