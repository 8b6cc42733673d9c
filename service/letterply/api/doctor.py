"""Doctor: settings in, what is there and what is missing out; nothing is changed.

Every finding says what it is about, how it stands, and what to do where something is missing.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import sqlalchemy as sa

from letterply import __version__
from letterply.api.settings import Settings
from letterply.catalogue import load_catalogue
from letterply.errors import LetterplyError
from letterply.lettering import shipped_faces
from letterply.storage import AccessKeys, Database, layout_of, newest_layout, probe_bucket
from letterply.workers import ComputePool, is_there

__all__ = ["Finding", "findings"]

_LEAST_FREE_BYTES = 1_000_000_000
_LEAST_MEMORY_MB = 1024


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at.

    Attributes:
        state: `fine`, `note` for what may be meant so, `missing` for what keeps it from running.
        what: it is about.
        said: in words.

    """

    state: Literal["fine", "note", "missing"]
    what: str
    said: str


def findings(settings: Settings) -> Iterator[Finding]:
    """Yield what there is to say, one after the other as it is found out."""
    python = ".".join(map(str, sys.version_info[:3]))
    yield Finding("fine", "versions", f"letterply {__version__}, Python {python}")
    yield _folder(settings)
    yield from _database(settings)
    if settings.bucket_url is not None:
        yield _bucket(settings.bucket_url)
    yield _catalogue(settings)
    yield _fonts()
    yield _workers(settings)


def _folder(settings: Settings) -> Finding:
    what, folder = "LETTERPLY_DATA_FOLDER", settings.data_folder
    near = next(p for p in (folder, *folder.parents) if p.exists())
    if not os.access(near, os.W_OK | os.X_OK):
        return Finding("missing", what, f"{near} cannot be written by this user")
    free = shutil.disk_usage(near).free
    said = f"{folder}, {free / 1e9:.1f} GB free"
    if free < _LEAST_FREE_BYTES:
        return Finding("missing", what, f"{said}: too little for results")
    if folder.exists() and folder.stat().st_mode & 0o077:
        return Finding("note", what, f"{said}; others can enter it until the service starts")
    return Finding("fine", what, said)


def _database(settings: Settings) -> Iterator[Finding]:
    what = "LETTERPLY_DATABASE_URL" if settings.database_url else "database"
    url = settings.database_url or f"sqlite:///{settings.data_folder / 'index.sqlite'}"
    try:
        found = layout_of(url)
    except (sa.exc.SQLAlchemyError, ImportError) as exc:
        yield Finding("missing", what, str(exc).strip().splitlines()[0])
        return
    kind, newest = url.partition(":")[0].partition("+")[0], newest_layout()
    if found is None:
        yield Finding("note", what, f"{kind}, empty: tables are made at the first start")
        yield _keys(settings, stored=False)
    elif found != newest:
        known = "older: `letterply migrate`" if found < newest else "of a later version"
        state: Literal["note", "missing"] = "note" if found < newest else "missing"
        yield Finding(state, what, f"{kind}, its tables ({found}) are {known}")
    else:
        database = Database(url)
        try:
            yield Finding("fine", what, f"{kind}, tables {found}")
            yield _keys(settings, stored=AccessKeys(database).any())
        finally:
            database.close()


def _keys(settings: Settings, *, stored: bool) -> Finding:
    if stored or settings.api_keys:
        return Finding("fine", "API keys", "a key is asked for")
    if settings.open_to_all:
        return Finding(
            "missing", "API keys", f"listening on {settings.host} needs one: letterply keys make"
        )
    return Finding("note", "API keys", "none: everybody on this machine may use the service")


def _bucket(url: str) -> Finding:
    what = "LETTERPLY_BUCKET_URL"
    began = time.monotonic()
    try:
        probe_bucket(url)
    except LetterplyError as exc:
        return Finding("missing", what, f"{url}: {exc.message}")
    took_ms = 1000 * (time.monotonic() - began)
    return Finding("fine", what, f"{url}: written, read and deleted in {took_ms:.0f} ms")


def _catalogue(settings: Settings) -> Finding:
    what = "LETTERPLY_CATALOGUE_FILES" if settings.catalogue_files else "catalogue"
    try:
        found = load_catalogue(*settings.catalogue_files)
    except (LetterplyError, OSError) as exc:
        return Finding("missing", what, str(exc))
    said = f"{len(found.materials)} materials, {len(found.cutters)} cutters"
    return Finding("fine", what, said)


def _fonts() -> Finding:
    lost = [key for key, face in shipped_faces().items() if not face.path.exists()]
    if lost:
        return Finding("missing", "fonts", f"not installed: {', '.join(lost)}")
    return Finding("fine", "fonts", f"{len(shipped_faces())} that come with it")


def _workers(settings: Settings) -> Finding:
    what = "LETTERPLY_MEMORY_LIMIT_MB"
    if settings.memory_limit_mb < _LEAST_MEMORY_MB:
        return Finding("missing", what, f"{settings.memory_limit_mb} MB are too few for a worker")
    began = time.monotonic()
    try:
        asyncio.run(_try_worker(settings))
    except (LetterplyError, TimeoutError) as exc:
        return Finding("missing", "workers", f"a worker does not come up: {exc}")
    return Finding("fine", "workers", f"one was ready after {time.monotonic() - began:.1f} s")


async def _try_worker(settings: Settings) -> None:
    with tempfile.TemporaryDirectory() as folder:
        pool = ComputePool(
            1,
            settings.time_limit_s,
            settings.memory_limit_mb * 1_000_000,
            preload=("letterply.jobs.run",),
            cache_folder=Path(folder),
        )
        pool.start()
        try:
            async with asyncio.timeout(120.0):
                await pool.run(is_there)
        finally:
            pool.stop()
