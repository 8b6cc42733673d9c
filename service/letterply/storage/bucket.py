"""Blobs in an object store: the same as a folder of blobs (`blobs`), on S3 and its like.

Objects appear whole or not at all. Bytes are checked against their digest when they are read.
What needs a file of this machine gets one from a folder beside, checked as well.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Collection, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

from letterply.errors import LetterplyError
from letterply.storage.blobs import BlobFolder, damaged
from letterply.storage.identity import digest, is_digest

__all__ = ["BlobBucket", "open_bucket", "probe_bucket"]


_AGED_S = 900.0
"""What was stored longer ago is stored again when it is needed again; a sweep leaves alone what is
four times as old."""

_NEAR_S = 86_400.0
"""How long a file that was fetched is kept on this machine."""


def _aged() -> float:
    return time.time() - _AGED_S


def open_bucket(url: str) -> Any:
    """Return the object store at a URL (`s3://bucket/prefix`); keys come from the environment.

    Raises:
        LetterplyError: `store-unreachable` without the package that talks to it, as from all that
            a bucket does when it cannot be reached.

    """
    try:
        from obstore.store import from_url
    except ImportError as exc:
        raise LetterplyError(
            "Artifacts in a bucket need the extra `s3` of letterply.", code="store-unreachable"
        ) from exc
    return from_url(url)


def probe_bucket(url: str) -> None:
    """Write, read and delete an object in a bucket; raises `LetterplyError` where that fails."""
    objects, path, data = open_bucket(url), f"probe/{uuid.uuid4().hex}", b"letterply"
    with _reaching() as obstore:
        obstore.put(objects, path, data)
        found = bytes(obstore.get(objects, path).bytes())
        obstore.delete(objects, path)
    if found != data:
        raise LetterplyError("The bucket gives other bytes back.", code="store-unreachable")


class BlobBucket:
    """Content-addressed objects in a bucket.

    Args:
        url: of the bucket and the prefix in it.
        root: folder of this machine for files that are set aside or needed as such.

    """

    def __init__(self, url: str, root: Path) -> None:
        self._objects = open_bucket(url)
        self._near = BlobFolder(root / "near")

    def path(self, name: str) -> Path:
        """Return a file of this machine with the bytes of a blob, if the blob is there."""
        if not self._near.holds(name):
            self._near.put({"it": self.read(name)})
        return self._near.path(name)

    def holds(self, name: str) -> bool:
        """Tell whether the blob is there, whole: its bytes are those of its digest."""
        data = self.object(_place(name))
        return data is not None and digest(data) == name

    def put(self, files: Mapping[str, bytes]) -> dict[str, str]:
        """Store several files; return name -> digest. What is there, whole, is left alone."""
        digests = {name: digest(data) for name, data in files.items()}
        for name, data in files.items():
            place = _place(digests[name])
            known, stored_at = self.dated(place)
            # What is old is stored again, so that a sweep sees that somebody needs it.
            if known is None or digest(known) != digests[name] or stored_at < _aged():
                self.write(place, data)
        return digests

    def read(self, name: str) -> bytes:
        """Return the bytes of a blob, checked; raises `artifact-damaged`."""
        data = self.object(_place(name))
        if data is None or digest(data) != name:
            raise damaged(name)
        return data

    def object(self, path: str) -> bytes | None:
        """Return the bytes of an object, or None when there is none."""
        return self.dated(path)[0]

    def dated(self, path: str) -> tuple[bytes | None, float]:
        """Return an object, or None, and when it was stored (seconds since 1970)."""
        with _reaching() as obstore:
            try:
                found = obstore.get(self._objects, path)
                return bytes(found.bytes()), found.meta["last_modified"].timestamp()
            except FileNotFoundError:
                return None, 0.0

    def recalled(self, path: str) -> bytes | None:
        """Return an object as `object`; one that is old counts as stored now."""
        data, stored_at = self.dated(path)
        if data is not None and stored_at < _aged():
            self.write(path, data)
        return data

    def listed(self, prefix: str) -> Iterator[tuple[str, float]]:
        """Yield the paths of objects below a prefix, each with when it was stored."""
        with _reaching() as obstore:
            for chunk in obstore.list(self._objects, prefix=prefix):
                for facts in chunk:
                    yield facts["path"], facts["last_modified"].timestamp()

    def delete(self, path: str, before: float) -> int:
        """Delete an object unless it was stored since; return its bytes, or 0."""
        with _reaching() as obstore:
            try:
                facts = obstore.head(self._objects, path)
            except FileNotFoundError:
                return 0
            if facts["last_modified"].timestamp() >= before:
                return 0
            obstore.delete(self._objects, path)
            return int(facts["size"])

    def stored_before(self, before: float) -> Iterator[str]:
        """Yield the names of blobs that nobody has stored since then (seconds since 1970)."""
        for path, stored_at in self.listed("blobs/"):
            name = path.rpartition("/")[2]
            if is_digest(name) and stored_at < before:
                yield name

    def remove(self, name: str, before: float) -> int:
        """Remove a blob, unless somebody has stored it again since; return its bytes, or 0."""
        return self.delete(_place(name), before)

    def tidy(self, keep: Collection[str] = ()) -> None:
        """Remove files of this machine that nobody needed for a day; they are fetched again.

        Those called `keep` stay: somebody has their paths.
        """
        self._near.tidy()
        before = time.time() - _NEAR_S
        for name in self._near.stored_before(before):
            if name not in keep:
                self._near.remove(name, before)

    def write(self, path: str, data: bytes) -> None:
        """Store an object, whole or not at all."""
        with _reaching() as obstore:
            obstore.put(self._objects, path, data)

    def set_aside(self, data: bytes) -> AbstractContextManager[Path]:
        """Give a file with these bytes that is gone when the context ends."""
        return self._near.set_aside(data)


@contextmanager
def _reaching() -> Iterator[Any]:
    """Give the package that talks to object stores; say in our words that one is out of reach."""
    import obstore
    from obstore.exceptions import BaseError

    try:
        yield obstore
    except BaseError as exc:
        raise LetterplyError(
            "The object store does not answer as it should.",
            code="store-unreachable",
            expected="the same request again, once it does",
        ) from exc


def _place(name: str) -> str:
    if not is_digest(name):
        raise ValueError(f"{name!r} is no digest")
    return f"blobs/{name[:2]}/{name}"
