"""Drawings at the border: read and described in a worker, kept in the store only when usable.

An SVG file from outside is parsed nowhere but in a worker process, from a file that is set aside
until the drawing has proved usable.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from letterply.errors import NotFound
from letterply.exports import artwork_picture, png_within
from letterply.lettering import artwork_digest, describe_artwork, read_artwork
from letterply.storage import ArtworkRecord, Store
from letterply.workers import ComputePool

__all__ = ["ARTWORK_PICTURES", "describe_artwork_file", "picture_artwork_file", "take_artwork"]

ARTWORK_PICTURES = ("svg", "png")

_PICTURE_PX = 1200


def describe_artwork_file(key: str, path: str) -> dict[str, Any]:
    """Return what there is to know of a drawing as plain JSON values. Runs in a worker only.

    Raises:
        InputError: the drawing cannot be used, naming the field `artwork`.

    """
    return describe_artwork(read_artwork(key, Path(path).read_bytes()))


def picture_artwork_file(key: str, path: str, kind: str) -> bytes:
    """Return a picture of what would be cut of a drawing, `svg` or `png`. In a worker only.

    Raises:
        InputError: the drawing cannot be used.

    """
    picture = artwork_picture(read_artwork(key, Path(path).read_bytes()))
    return png_within(picture, _PICTURE_PX) if kind == "png" else picture.encode()


async def take_artwork(store: Store, pool: ComputePool, data: bytes) -> tuple[ArtworkRecord, bool]:
    """Read a drawing and keep it; return it and whether it is new.

    Raises:
        InputError: the drawing cannot be used; the store stays as it was.
        JobFailed: reading it ran out of time or memory.

    """
    artwork_id = artwork_digest(data)
    try:
        return await asyncio.to_thread(store.artwork, artwork_id), False
    except NotFound:
        pass
    with store.set_aside(data) as path:
        facts = await pool.run(describe_artwork_file, artwork_id, str(path))
    name = facts["title"] or artwork_id
    return await asyncio.to_thread(store.add_artwork, artwork_id, data, name, facts), True
