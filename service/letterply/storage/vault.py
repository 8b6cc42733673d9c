"""The vault: bytes by digest, and answers of tasks by key, where every worker can reach them.

A task looks its key up before it computes anything, and writes its answer under it when it is
done, sealed with its digest: a task that was cut off after that is not computed again, by
whichever worker. Nothing is ever changed in the vault, only added; what is damaged is put there
again.
"""

from __future__ import annotations

import contextlib
import json
import os
import uuid
from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol

from letterply.storage.away import reaching_folder, while_away
from letterply.storage.blobs import BLOBS, BlobFolder, Blobs, make_private, private_file, whole_file
from letterply.storage.bucket import BlobBucket
from letterply.storage.identity import canonical_json, digest, is_digest
from letterply.storage.places import split_place

__all__ = [
    "BucketVault",
    "FolderVault",
    "KeptVault",
    "PatientVault",
    "Vault",
    "named_bytes",
    "open_vault",
]


class Vault(Protocol):
    """Where tasks find what others made, and leave what they make."""

    def write(self, data: bytes) -> str:
        """Keep bytes; return their digest."""

    def read(self, digest: str) -> bytes:
        """Return bytes; raises `LetterplyError` (`artifact-damaged`) when they are not whole."""

    def path_of(self, digest: str) -> Path:
        """Return a file of this machine that holds the bytes."""

    def recall(self, key: str) -> dict[str, Any] | None:
        """Return the answer of a task, or None when there is none that can be read."""

    def is_whole(self, answer: Mapping[str, Any]) -> bool:
        """Tell whether all bytes that an answer names by their digests are there, undamaged."""

    def note(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer of a task; the first one counts, as long as it is whole."""


class KeptVault(Vault, Protocol):
    """A vault whose answers can be gone through: to sweep it, or to copy it."""

    def peek(self, key: str) -> dict[str, Any] | None:
        """Return an answer as `recall`, without its counting as needed."""

    def answer_bytes(self, key: str) -> bytes | None:
        """Return an answer as it is kept, sealed; None when there is none."""

    def keep_answer(self, key: str, sealed: bytes) -> None:
        """Keep an answer that was kept elsewhere (`answer_bytes`)."""

    def keys(self) -> Iterator[tuple[str, float]]:
        """Yield the keys of answers, each with when it was kept or recalled last."""

    def forget(self, key: str, before: float) -> int:
        """Remove an answer unless it was recalled since; return its bytes, or 0."""


class _BlobVault(ABC):
    """What every vault does alike: all but where answers lie."""

    _blobs: Blobs

    def write(self, data: bytes) -> str:
        """Keep bytes; return their digest."""
        return self._blobs.put({"it": data})["it"]

    def read(self, digest: str) -> bytes:
        """Return bytes; raises `LetterplyError` (`artifact-damaged`) when they are not whole."""
        return self._blobs.read(digest)

    def path_of(self, digest: str) -> Path:
        """Return a file of this machine that holds the bytes; raises as `read`."""
        return whole_file(self._blobs, digest)

    def recall(self, key: str) -> dict[str, Any] | None:
        """Return the answer of a task, or None when there is none that can be read."""
        return _unsealed(self._answer(_answer_name(key), needed=True))

    def peek(self, key: str) -> dict[str, Any] | None:
        """Return an answer as `recall`, without its counting as needed."""
        return _unsealed(self._answer(_answer_name(key), needed=False))

    def answer_bytes(self, key: str) -> bytes | None:
        """Return an answer as it is kept, sealed; None when there is none."""
        return self._answer(_answer_name(key), needed=False)

    def keep_answer(self, key: str, sealed: bytes) -> None:
        """Keep an answer that was kept elsewhere (`answer_bytes`)."""
        self._keep(_answer_name(key), sealed)

    def is_whole(self, answer: Mapping[str, Any]) -> bool:
        """Tell whether all bytes that an answer names by their digests are there, undamaged."""
        return all(self._blobs.holds(name) for name in sorted(set(named_bytes(answer))))

    def note(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer of a task; the first one counts, as long as it is whole."""
        known = self.recall(key)
        if known is None or not self.is_whole(known):
            content = canonical_json(dict(answer))
            self._keep(_answer_name(key), digest(content).encode() + b"\n" + content)

    @abstractmethod
    def _answer(self, name: str, *, needed: bool) -> bytes | None:
        """Return the bytes of an answer as they were kept, or None; note that it is needed."""

    @abstractmethod
    def _keep(self, name: str, data: bytes) -> None:
        """Keep the bytes of an answer."""


class FolderVault(_BlobVault):
    """A vault in a folder that all workers share.

    Args:
        root: the folder of the store; its blobs are shared with it.

    """

    def __init__(self, root: Path) -> None:
        self._root = root
        self._blobs = BlobFolder(root)

    def keys(self) -> Iterator[tuple[str, float]]:
        """Yield the keys of answers, each with when it was kept or recalled last."""
        for file in sorted((self._root / "answers").glob("*/*.json")):
            with contextlib.suppress(FileNotFoundError):
                yield file.stem, file.stat().st_mtime

    def forget(self, key: str, before: float) -> int:
        """Remove an answer unless it was recalled since; return its bytes, or 0."""
        file = self._root / _answer_name(key)
        with contextlib.suppress(FileNotFoundError):
            facts = file.stat()
            if facts.st_mtime < before:
                file.unlink()
                return facts.st_size
        return 0

    def _answer(self, name: str, *, needed: bool) -> bytes | None:
        file = self._root / name
        try:
            with reaching_folder(self._root / BLOBS):
                data = file.read_bytes()
                if needed:
                    os.utime(file)  # a sweep leaves it alone
        except FileNotFoundError:
            return None
        return data

    def _keep(self, name: str, data: bytes) -> None:
        target = self._root / name
        with reaching_folder(self._root / BLOBS):
            # Where a disk is taken off, nothing is put into the place that it had.
            (self._root / BLOBS).stat()
            self._put(target, data)

    def _put(self, target: Path, data: bytes) -> None:
        make_private(target.parent.parent)
        make_private(target.parent)
        waiting = target.with_name(f"{target.stem}.{uuid.uuid4().hex}.part")
        try:
            with private_file(waiting) as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
            waiting.replace(target)
        except BaseException:
            waiting.unlink(missing_ok=True)
            raise


class BucketVault(_BlobVault):
    """A vault in an object store that all workers reach.

    Args:
        url: of the bucket and the prefix in it.
        root: folder of this machine for files that are needed as such.

    """

    def __init__(self, url: str, root: Path) -> None:
        self._bucket = BlobBucket(url, root)
        self._blobs = self._bucket

    def keys(self) -> Iterator[tuple[str, float]]:
        """Yield the keys of answers, each with when it was kept or recalled last."""
        for path, stored_at in self._bucket.listed("answers/"):
            yield path.rpartition("/")[2].removesuffix(".json"), stored_at

    def forget(self, key: str, before: float) -> int:
        """Remove an answer unless it was recalled since; return its bytes, or 0."""
        return self._bucket.delete(_answer_name(key), before)

    def _answer(self, name: str, *, needed: bool) -> bytes | None:
        return self._bucket.recalled(name) if needed else self._bucket.object(name)

    def _keep(self, name: str, data: bytes) -> None:
        self._bucket.write(name, data)


class PatientVault:
    """A vault that is waited for while it is away or full (`letterply.storage.away`)."""

    def __init__(self, vault: Vault) -> None:
        self._vault = vault

    def write(self, data: bytes) -> str:
        """Keep bytes; return their digest."""
        return while_away(lambda: self._vault.write(data))

    def read(self, digest: str) -> bytes:
        """Return bytes; raises `LetterplyError` (`artifact-damaged`) when they are not whole."""
        return while_away(lambda: self._vault.read(digest))

    def path_of(self, digest: str) -> Path:
        """Return a file of this machine that holds the bytes; raises as `read`."""
        return while_away(lambda: self._vault.path_of(digest))

    def recall(self, key: str) -> dict[str, Any] | None:
        """Return the answer of a task, or None when there is none that can be read."""
        return while_away(lambda: self._vault.recall(key))

    def is_whole(self, answer: Mapping[str, Any]) -> bool:
        """Tell whether all bytes that an answer names by their digests are there, undamaged."""
        return while_away(lambda: self._vault.is_whole(answer))

    def note(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer of a task; the first one counts, as long as it is whole."""
        while_away(lambda: self._vault.note(key, answer))


def _unsealed(data: bytes | None) -> dict[str, Any] | None:
    seal, _, content = (data or b"").partition(b"\n")
    if digest(content).encode() != seal:
        return None
    found: dict[str, Any] = json.loads(content)
    return found


def named_bytes(value: Any) -> Iterator[str]:
    """Yield the digests of bytes that an answer names; a `key` is an identity without any."""
    if isinstance(value, str):
        yield from (value,) if is_digest(value) else ()
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from named_bytes(inner) if name != "key" else ()
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from named_bytes(inner)


def _answer_name(key: str) -> str:
    if not is_digest(key):
        raise ValueError(f"{key!r} is no key of a task")
    return f"answers/{key[:2]}/{key}.json"


@lru_cache(maxsize=8)
def open_vault(place: str) -> KeptVault:
    """Return the vault at a place (`letterply.storage.places`)."""
    root, bucket = split_place(place)
    return BucketVault(bucket, root) if bucket else FolderVault(root)
