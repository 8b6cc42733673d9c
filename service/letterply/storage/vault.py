"""The vault: bytes by digest, and answers of tasks by key, where every worker can reach them.

A task looks its key up before it computes anything, and writes its answer under it when it is
done: a task that was cut off after that is not computed again, by whichever worker. Nothing is
ever changed in the vault, only added.
"""

from __future__ import annotations

import json
import os
import uuid
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol

from letterply.storage.blobs import BlobFolder
from letterply.storage.bucket import BlobBucket
from letterply.storage.identity import canonical_json, is_digest
from letterply.storage.places import split_place

__all__ = ["BucketVault", "FolderVault", "Vault", "open_vault"]


class Vault(Protocol):
    """Where tasks find what others made, and leave what they make."""

    def write(self, data: bytes) -> str:
        """Keep bytes; return their digest."""

    def read(self, digest: str) -> bytes:
        """Return bytes; raises `LetterplyError` (`artifact-damaged`) when they are not whole."""

    def path_of(self, digest: str) -> Path:
        """Return a file of this machine that holds the bytes."""

    def recall(self, key: str) -> dict[str, Any] | None:
        """Return the answer of a task, or None when it has not been computed."""

    def note(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer of a task; the first one counts."""


class FolderVault:
    """A vault in a folder that all workers share.

    Args:
        root: the folder of the store; its blobs are shared with it.

    """

    def __init__(self, root: Path) -> None:
        self._blobs = BlobFolder(root)
        self._answers = root / "answers"
        self._answers.mkdir(parents=True, exist_ok=True)

    def write(self, data: bytes) -> str:
        """Keep bytes; return their digest."""
        return self._blobs.put({"it": data})["it"]

    def read(self, digest: str) -> bytes:
        """Return bytes; raises `LetterplyError` (`artifact-damaged`) when they are not whole."""
        return self._blobs.read(digest)

    def path_of(self, digest: str) -> Path:
        """Return a file of this machine that holds the bytes."""
        return self._blobs.path(digest)

    def recall(self, key: str) -> dict[str, Any] | None:
        """Return the answer of a task, or None when it has not been computed."""
        path = self._path(key)
        try:
            found: dict[str, Any] = json.loads(path.read_bytes())
        except (FileNotFoundError, ValueError):
            return None
        return found

    def note(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer of a task; the first one counts."""
        target = self._path(key)
        if target.exists():
            return
        target.parent.mkdir(exist_ok=True)
        waiting = target.with_name(f"{key}.{uuid.uuid4().hex}.part")
        try:
            with waiting.open("xb") as out:
                out.write(canonical_json(dict(answer)))
                out.flush()
                os.fsync(out.fileno())
            waiting.replace(target)
        except BaseException:
            waiting.unlink(missing_ok=True)
            raise

    def _path(self, key: str) -> Path:
        return self._answers.parent / _answer_name(key)


class BucketVault:
    """A vault in an object store that all workers reach.

    Args:
        url: of the bucket and the prefix in it.
        root: folder of this machine for files that are needed as such.

    """

    def __init__(self, url: str, root: Path) -> None:
        self._blobs = BlobBucket(url, root)

    def write(self, data: bytes) -> str:
        """Keep bytes; return their digest."""
        return self._blobs.put({"it": data})["it"]

    def read(self, digest: str) -> bytes:
        """Return bytes; raises `LetterplyError` (`artifact-damaged`) when they are not whole."""
        return self._blobs.read(digest)

    def path_of(self, digest: str) -> Path:
        """Return a file of this machine that holds the bytes."""
        return self._blobs.path(digest)

    def recall(self, key: str) -> dict[str, Any] | None:
        """Return the answer of a task, or None when it has not been computed."""
        data = self._blobs.object(_answer_name(key))
        found: dict[str, Any] | None = None if data is None else json.loads(data)
        return found

    def note(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer of a task; the first one counts."""
        if self.recall(key) is None:
            self._blobs.write(_answer_name(key), canonical_json(dict(answer)))


def _answer_name(key: str) -> str:
    if not is_digest(key):
        raise ValueError(f"{key!r} is no key of a task")
    return f"answers/{key[:2]}/{key}.json"


@lru_cache(maxsize=8)
def open_vault(place: str) -> Vault:
    """Return the vault at a place (`letterply.storage.places`)."""
    root, bucket = split_place(place)
    return BucketVault(bucket, root) if bucket else FolderVault(root)
