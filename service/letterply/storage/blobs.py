"""Blobs: bytes in, a digest out; a digest in, the same bytes out or an error.

One file a digest in a folder. A file is written under another name in the same file system,
flushed to the disk, then renamed: under its digest there is never a part of a file. Bytes are
checked against the digest when they are read.
"""

from __future__ import annotations

import contextlib
import math
import os
import time
import uuid
from collections.abc import Collection, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import BinaryIO, Protocol

from letterply.errors import LetterplyError
from letterply.storage.away import reaching_folder
from letterply.storage.identity import digest, is_digest

__all__ = ["BLOBS", "BlobFolder", "Blobs", "damaged", "make_private", "private_file", "whole_file"]

_FOLDERS = tuple(f"{n:02x}" for n in range(256))
"""What a digest begins with."""

BLOBS = "blobs"
"""Name of the folder of blobs below that of the store."""

_STALE_S = 3600.0
"""A file set aside for longer belongs to a process that is gone."""


_OWN_FOLDER, _OWN_FILE = 0o700, 0o600
"""Only the user who runs the service reads what is stored."""


def make_private(folder: Path) -> None:
    """Make a folder that only this user can enter; one that is there is closed to others."""
    folder.mkdir(parents=True, exist_ok=True, mode=_OWN_FOLDER)
    with contextlib.suppress(PermissionError):  # somebody else's, who sees to it
        folder.chmod(_OWN_FOLDER)


def private_file(path: Path) -> BinaryIO:
    """Open a new file for writing that only this user can read; raises `FileExistsError`."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return os.fdopen(os.open(path, flags, _OWN_FILE), "wb")


class Blobs(Protocol):
    """What a store needs of the place where its blobs are."""

    def path(self, name: str) -> Path:
        """Return where a file with the bytes of the blob called `name` lies."""

    def holds(self, name: str) -> bool:
        """Tell whether the blob is there, whole: its bytes are those of its digest."""

    def put(self, files: Mapping[str, bytes]) -> dict[str, str]:
        """Store several files; return name -> digest."""

    def read(self, name: str) -> bytes:
        """Return the bytes of a blob, checked; raises `artifact-damaged`."""

    def set_aside(self, data: bytes) -> AbstractContextManager[Path]:
        """Give a file with these bytes that is gone when the context ends."""

    def stored_before(self, before: float) -> Iterator[str]:
        """Yield the names of blobs that nobody has stored since then (seconds since 1970)."""

    def remove(self, name: str, before: float) -> int:
        """Remove a blob, unless somebody has stored it again since; return its bytes, or 0."""

    def tidy(self, keep: Collection[str] = ()) -> None:
        """Remove files that processes left behind that are gone; `keep` names some to leave."""


def damaged(name: str) -> LetterplyError:
    """Return the error that says that a blob is gone, or is not what was stored."""
    return LetterplyError(
        "A stored file is damaged or gone; ask for the result again to make it anew.",
        code="artifact-damaged",
        data={"digest": name},
    )


def whole_file(blobs: Blobs, name: str) -> Path:
    """Return a file with the bytes of a blob; raises `artifact-damaged` when it is not whole."""
    path = blobs.path(name)
    if not _is_whole(path, name, path.parents[1]):
        raise damaged(name)
    return path


class BlobFolder:
    """Content-addressed files below `root`."""

    def __init__(self, root: Path) -> None:
        self._kept = root / BLOBS
        self._incoming = root / "incoming"
        for folder in (root, self._kept, self._incoming):
            make_private(folder)
        # All at once, so that of what is kept later only its own folder must be flushed.
        if sum(1 for _ in self._kept.iterdir()) < len(_FOLDERS):
            for name in _FOLDERS:
                (self._kept / name).mkdir(exist_ok=True, mode=_OWN_FOLDER)
            _flush_folder(self._kept)
        self._sweep()

    def path(self, name: str) -> Path:
        """Return where the blob called `name` lies, whether it is there or not."""
        if not is_digest(name):
            raise ValueError(f"{name!r} is no digest")
        return self._kept / name[:2] / name

    def holds(self, name: str) -> bool:
        """Tell whether the blob is there, whole: its bytes are those of its digest."""
        return _is_whole(self.path(name), name, self._kept)

    def put(self, files: Mapping[str, bytes]) -> dict[str, str]:
        """Store several files; return name -> digest.

        All of them are on the disk when this returns. A blob that is there already is left
        alone unless it is damaged.
        """
        digests = {name: digest(data) for name, data in files.items()}
        folders: set[Path] = set()
        with reaching_folder(self._kept):
            for name, data in files.items():
                target = self.path(digests[name])
                if self.holds(digests[name]) and _touched(target):
                    continue
                waiting = self._write(data)
                waiting.replace(target)
                folders.add(target.parent)
            for folder in folders:
                _flush_folder(folder)
        return digests

    def read(self, name: str) -> bytes:
        """Return the bytes of a blob.

        Raises:
            LetterplyError: `artifact-damaged` when the blob is gone or is not what was stored;
                here and from all the others `store-unreachable` while the folder is away.

        """
        try:
            with reaching_folder(self._kept):
                data = self.path(name).read_bytes()
        except FileNotFoundError:
            data = None
        if data is None or digest(data) != name:
            raise damaged(name)
        return data

    @contextmanager
    def set_aside(self, data: bytes) -> Iterator[Path]:
        """Give a file with these bytes that is gone when the context ends."""
        with reaching_folder(self._kept):
            waiting = self._write(data)
        try:
            yield waiting
        finally:
            waiting.unlink(missing_ok=True)

    def stored_before(self, before: float) -> Iterator[str]:
        """Yield the names of blobs that nobody has stored since then (seconds since 1970)."""
        for folder in sorted(self._kept.iterdir()):
            for file in sorted(folder.iterdir()):
                if is_digest(file.name) and _age(file) < before:
                    yield file.name

    def remove(self, name: str, before: float) -> int:
        """Remove a blob, unless somebody has stored it again since; return its bytes, or 0.

        It is put aside first: who stores it while that happens either finds it there and marks it
        (then it is put back), or does not find it and writes it anew.
        """
        aside = self._incoming / f"{name}.{uuid.uuid4().hex}"
        try:
            self.path(name).rename(aside)
        except FileNotFoundError:
            return 0  # another sweep was faster
        facts = aside.stat()
        if facts.st_mtime >= before:
            aside.rename(self.path(name))
            return 0
        aside.unlink()
        return facts.st_size

    def tidy(self, keep: Collection[str] = ()) -> None:
        """Remove files that processes left behind that are gone."""
        self._sweep()

    def _write(self, data: bytes) -> Path:
        waiting = self._incoming / uuid.uuid4().hex
        try:
            with private_file(waiting) as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
        except BaseException:
            waiting.unlink(missing_ok=True)
            raise
        return waiting

    def _sweep(self) -> None:
        oldest = time.time() - _STALE_S
        for waiting in self._incoming.iterdir():
            try:
                if waiting.stat().st_mtime < oldest:
                    waiting.unlink()
            except FileNotFoundError:
                continue  # another process swept it


def _is_whole(file: Path, name: str, below: Path) -> bool:
    try:
        with reaching_folder(below):
            return digest(file.read_bytes()) == name
    except FileNotFoundError:
        return False


def _touched(file: Path) -> bool:
    """Mark a file as stored now; tell whether it is still there."""
    try:
        os.utime(file)
    except FileNotFoundError:
        return False
    return True


def _age(file: Path) -> float:
    try:
        return file.stat().st_mtime
    except FileNotFoundError:
        return math.inf


def _flush_folder(folder: Path) -> None:
    # A rename is only durable once the folder itself is on the disk.
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
