"""Blobs in an object store: the same as a folder of blobs (`blobs`), on S3 and its like.

Objects appear whole or not at all. Bytes are checked against their digest when they are read.
What needs a file of this machine gets one from a folder beside, checked as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from letterply.errors import LetterplyError
from letterply.orders.blobs import BlobFolder, damaged
from letterply.orders.identity import digest, is_digest

__all__ = ["BlobBucket", "open_bucket"]


def open_bucket(url: str) -> Any:
    """Return the object store at a URL (`s3://bucket/prefix`); keys come from the environment.

    Raises:
        LetterplyError: `store-unreachable` without the package that talks to it.

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
        self.objects = open_bucket(url)
        self._near = BlobFolder(root / "near")

    def path(self, name: str) -> Path:
        """Return a file of this machine with the bytes of a blob, if the blob is there."""
        near = self._near.path(name)
        if not near.exists():
            self._near.put({"it": self.read(name)})
        return near

    def holds(self, name: str, size: int) -> bool:
        """Tell whether the blob is there with this size."""
        import obstore

        try:
            return int(obstore.head(self.objects, _place(name))["size"]) == size
        except FileNotFoundError:
            return False

    def put(self, files: Mapping[str, bytes]) -> dict[str, str]:
        """Store several files; return name -> digest. What is there already is left alone."""
        import obstore

        digests = {name: digest(data) for name, data in files.items()}
        for name, data in files.items():
            if not self.holds(digests[name], len(data)):
                obstore.put(self.objects, _place(digests[name]), data)
        return digests

    def read(self, name: str) -> bytes:
        """Return the bytes of a blob, checked; raises `artifact-damaged`."""
        import obstore

        try:
            data = bytes(obstore.get(self.objects, _place(name)).bytes())
        except FileNotFoundError:
            data = None
        if data is None or digest(data) != name:
            raise damaged(name)
        return data

    def set_aside(self, data: bytes) -> AbstractContextManager[Path]:
        """Give a file with these bytes that is gone when the context ends."""
        return self._near.set_aside(data)


def _place(name: str) -> str:
    if not is_digest(name):
        raise ValueError(f"{name!r} is no digest")
    return f"blobs/{name[:2]}/{name}"
