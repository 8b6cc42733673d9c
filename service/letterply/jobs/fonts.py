"""Fonts at the border: vetted and described in a worker, kept in the store only when usable.

A font file from outside is parsed nowhere but in a worker process, from a file that is set aside
until the font has proved usable.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from letterply.errors import NotFound
from letterply.exports import font_picture, png_within
from letterply.lettering import describe, font_digest, load_font
from letterply.storage import FontRecord, Store
from letterply.workers import ComputePool

__all__ = ["FONT_PICTURES", "describe_font_file", "picture_font_file", "take_font"]

FONT_PICTURES = ("svg", "png")

_PICTURE_PX = 1200


def describe_font_file(key: str, path: str) -> dict[str, Any]:
    """Return the facts of a font file as plain JSON values. Runs in a worker only.

    Raises:
        FontError: the file cannot be used, naming the field `font`.

    """
    return describe(load_font(key, Path(path).read_bytes()))


def picture_font_file(key: str, path: str, kind: str) -> bytes:
    """Return a picture of a font file, `svg` or `png`. Runs in a worker only.

    Raises:
        FontError: the file cannot be used, naming the field `font`.

    """
    picture = font_picture(load_font(key, Path(path).read_bytes()))
    return png_within(picture, _PICTURE_PX) if kind == "png" else picture.encode()


async def take_font(store: Store, pool: ComputePool, data: bytes) -> tuple[FontRecord, bool]:
    """Vet a font file and keep it; return it and whether it is new.

    Raises:
        FontError: the file cannot be used; the store stays as it was.
        JobFailed: vetting it ran out of time or memory.

    """
    font_id = font_digest(data)
    try:
        return await asyncio.to_thread(store.font, font_id), False
    except NotFound:
        pass
    with store.set_aside(data) as path:
        facts = await pool.run(describe_font_file, font_id, str(path))
    name = " ".join(part for part in (facts["family"], facts["style"]) if part)
    return await asyncio.to_thread(store.add_font, font_id, data, name, facts), True
