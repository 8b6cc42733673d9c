"""Blobs in an object store: the same as a folder of blobs (`blobs`), on S3 and its like.

Objects appear whole or not at all. Bytes are checked against their digest when they are read.
What needs a file of this machine gets one from a folder beside, checked as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

from letterply.errors import LetterplyError
from letterply.storage.blobs import BlobFolder, damaged
from letterply.storage.identity import digest, is_digest

__all__ = ["BlobBucket", "open_bucket"]


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
            if not self.holds(digests[name]):
                self.write(_place(digests[name]), data)
        return digests

    def read(self, name: str) -> bytes:
        """Return the bytes of a blob, checked; raises `artifact-damaged`."""
        data = self.object(_place(name))
        if data is None or digest(data) != name:
            raise damaged(name)
        return data

    def object(self, path: str) -> bytes | None:
        """Return the bytes of an object, or None when there is none."""
        with _reaching() as obstore:
            try:
                return bytes(obstore.get(self._objects, path).bytes())
            except FileNotFoundError:
                return None

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
