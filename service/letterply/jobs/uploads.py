"""Files at the border: read and described in a worker, kept in the store only when usable.

A font, an SVG file or a picture from outside is parsed nowhere but in a worker process, from a
file that is set aside until it has proved usable. Of a picture the drawing that was traced is kept.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from letterply.errors import NotFound
from letterply.exports import ENTRY_PX, artwork_picture, font_picture, png_within
from letterply.lettering import (
    artwork_digest,
    artwork_summary,
    describe,
    describe_artwork,
    doubts_told,
    font_digest,
    is_picture,
    load_font,
    read_artwork,
    read_picture,
    trace_picture,
    traced_words,
)
from letterply.requests import TraceWish
from letterply.storage import Store, Upload, UploadKind
from letterply.units import speaking
from letterply.workers import ComputePool

__all__ = [
    "UPLOAD_PICTURES",
    "describe_upload",
    "picture_upload",
    "take_upload",
    "told_artwork",
]

UPLOAD_PICTURES = ("svg", "png")


def describe_upload(kind: UploadKind, key: str, path: str, units: str = "mm") -> dict[str, Any]:
    """Return the facts of a font or a drawing as plain JSON values. Runs in a worker only.

    What is wrong with it is told in `units`.

    Raises:
        FontError, InputError: the file cannot be used, naming the field `font` or `artwork`.

    """
    data = Path(path).read_bytes()
    if kind is UploadKind.FONT:
        return describe(load_font(key, data))
    with speaking(units):
        return describe_artwork(read_artwork(key, data))


def told_artwork(facts: Mapping[str, Any], units: str) -> dict[str, Any]:
    """Return the facts of a stored drawing with their sentences in `units`."""
    traced = facts.get("traced")
    with speaking(units):
        summary = artwork_summary(facts)
        if traced is None:
            return {**facts, "summary": summary}
        told = {**traced, "doubts": doubts_told(traced)}
    return {**facts, "summary": f"{summary} {traced_words(traced)}", "traced": told}


def picture_upload(kind: UploadKind, key: str, path: str, suffix: str, units: str = "mm") -> bytes:
    """Return a picture of a font, or of what would be cut of a drawing. Runs in a worker only.

    Args:
        kind: what the file is.
        key: its id.
        path: where it lies.
        suffix: one of `UPLOAD_PICTURES`.
        units: in which it speaks.

    Raises:
        FontError, InputError: the file cannot be used, naming the field `font` or `artwork`.

    """
    data = Path(path).read_bytes()
    if kind is UploadKind.FONT:
        picture = font_picture(load_font(key, data))
    else:
        with speaking(units):
            picture = artwork_picture(read_artwork(key, data))
    return png_within(picture, ENTRY_PX) if suffix == "png" else picture.encode()


def trace_upload(path: str, wish: TraceWish) -> tuple[bytes, dict[str, Any]]:
    """Return a picture as an SVG drawing, and how true it is. Runs in a worker only.

    Raises:
        InputError: `not-a-picture` and as `letterply.lettering.trace_picture`.

    """
    traced = trace_picture(read_picture(Path(path).read_bytes()), wish)
    return traced.svg.encode(), traced.facts


async def take_upload(
    store: Store,
    pool: ComputePool,
    kind: UploadKind,
    data: bytes,
    wish: TraceWish | None = None,
    check_room: Callable[[], None] = lambda: None,
    units: str = "mm",
) -> tuple[Upload, bool]:
    """Vet a file and keep it; return it and whether it is new to its owner.

    Args:
        store: as its owner sees it.
        pool: where it is vetted.
        kind: what it is.
        data: its bytes.
        wish: how a picture is traced.
        check_room: refuses what the owner has no room for.
        units: in which what is wrong with it is told.

    A picture (PNG, JPEG) is traced as `wish` says, and what was traced is kept as a drawing.

    Raises:
        FontError, InputError: the file cannot be used; the store stays as it was.
        JobFailed: vetting it ran out of time or memory.

    """
    told: dict[str, Any] = {}
    if kind is UploadKind.ARTWORK and is_picture(data):
        with store.set_aside(data) as path:
            data, truth = await pool.run(trace_upload, str(path), wish or TraceWish())
        told = {"traced": truth}
    id_ = font_digest(data) if kind is UploadKind.FONT else artwork_digest(data)
    try:
        return await asyncio.to_thread(store.upload, kind, id_), False
    except NotFound:
        pass
    await asyncio.to_thread(check_room)
    with store.set_aside(data) as path:
        described = await pool.run(describe_upload, kind, id_, str(path), units, owner=store.owner)
    facts = described | told
    name = _name(kind, facts) or id_
    return await asyncio.to_thread(store.add_upload, kind, id_, data, name, facts), True


def _name(kind: UploadKind, facts: Mapping[str, Any]) -> str:
    if kind is UploadKind.ARTWORK:
        return str(facts["title"])
    return " ".join(part for part in (facts["family"], facts["style"]) if part)
