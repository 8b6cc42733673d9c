"""Drawings as JSON and pictures: what the store knows of them."""

from __future__ import annotations

import asyncio
from typing import Any

from letterply.api.dependencies import Page
from letterply.api.responses.lists import next_link
from letterply.errors import NotFound
from letterply.jobs import ARTWORK_PICTURES, picture_artwork_file
from letterply.storage import ArtworkRecord, Store
from letterply.workers import ComputePool

__all__ = ["artwork_document", "artwork_picture", "page_of_artworks"]


def artwork_document(artwork: ArtworkRecord) -> dict[str, Any]:
    """Return a drawing as JSON."""
    about = {"key": artwork.id, "name": artwork.name, **artwork.description}
    about |= {"size_bytes": artwork.size, "created_at": artwork.created_at}
    self = f"/v1/artworks/{artwork.id}"
    return about | {"links": {"self": self, "png": f"{self}.png", "svg": f"{self}.svg"}}


async def page_of_artworks(store: Store, page: Page) -> dict[str, Any]:
    """Return one page of the drawings, by name."""
    found, more = await asyncio.to_thread(store.artworks, limit=page.limit, after=page.after)
    last = found[-1].id if found else ""
    items = [artwork_document(artwork) for artwork in found]
    return {"items": items, "next": next_link("/v1/artworks", page, last) if more else None}


async def artwork_picture(store: Store, pool: ComputePool, key: str, kind: str) -> bytes:
    """Return a picture of what would be cut of a drawing, `svg` or `png`.

    Raises:
        NotFound: `artwork-not-found`, or `file-not-found` for another kind.

    """
    record = await asyncio.to_thread(store.artwork, key)
    if kind not in ARTWORK_PICTURES:
        raise NotFound("file", f"{key}.{kind}")
    path = await asyncio.to_thread(store.path_of, record.digest)
    return await pool.run(picture_artwork_file, key, str(path), kind)
