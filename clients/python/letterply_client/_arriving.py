"""Answers on their way: into a file piece by piece, and how far they are; when to ask again."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import BinaryIO

from letterply_client._results import File, Progress

__all__ = ["Arriving", "Fetched", "pause_s"]

_LONGEST_PAUSE_S = 60.0
_USUAL_PAUSE_S = 1.0


class Arriving:
    """A file that arrives: beside its place until it is whole, so that no half one is ever there.

    Args:
        path: where it belongs.
        told: is told how many bytes there are so far.

    """

    def __init__(self, path: Path, told: Callable[[int], None] = lambda size: None) -> None:
        self._path = path
        self._part = path.with_name(f"{path.name}.part")
        self._told = told
        self._out: BinaryIO | None = None
        self.digest = ""

    def begin(self) -> None:
        """Take an answer from its first byte, whatever an earlier try left."""
        self.drop()
        self._part.parent.mkdir(parents=True, exist_ok=True)
        self._out = self._part.open("wb")
        self._hash = hashlib.blake2b(digest_size=16)
        self._size = 0

    def take(self, piece: bytes) -> None:
        """Write the next piece."""
        assert self._out is not None
        self._out.write(piece)
        self._hash.update(piece)
        self._size += len(piece)
        self._told(self._size)

    def end(self) -> None:
        """Close it: `digest` is that of all that came."""
        if self._out is not None:
            self._out.close()
            self._out = None
            self.digest = self._hash.hexdigest()

    def keep(self) -> None:
        """Put it in its place."""
        self._part.replace(self._path)

    def drop(self) -> None:
        """Take away what is not in its place."""
        if self._out is not None:
            self._out.close()
            self._out = None
        self._part.unlink(missing_ok=True)


class Fetched:
    """Tells how far the files of a result are, each as much as another.

    Args:
        files: that are fetched, in their order.
        progress: is told; None where nobody asks.

    """

    def __init__(self, files: Sequence[File], progress: Callable[[Progress], None] | None) -> None:
        self._count = len(files)
        self._progress = progress
        self._done = 0
        self._began = time.monotonic()

    def tell(self, file: File, size: int) -> None:
        """Tell that there are so many bytes of a file."""
        if self._progress is None:
            return
        part = min(1.0, size / file.size_bytes) if file.size_bytes else 0.0
        share = (self._done + part) / self._count
        elapsed_s = time.monotonic() - self._began
        self._progress(
            Progress("files", elapsed_s, share, None, file.path, self._done + 1, self._count)
        )

    def over(self) -> None:
        """Count a file as fetched."""
        self._done += 1


def pause_s(after: str) -> float | None:
    """Return how long `Retry-After` (RFC 9110, 10.2.3) has one wait; None for too long.

    >>> pause_s("7"), pause_s(""), pause_s("soon"), pause_s("3600")
    (7.0, 1.0, 1.0, None)

    """
    if after.isascii() and after.isdigit():
        seconds = float(after)
    else:
        try:
            then = parsedate_to_datetime(after)
        except ValueError:
            return _USUAL_PAUSE_S
        then = then if then.tzinfo else then.replace(tzinfo=UTC)
        seconds = max(0.0, (then - datetime.now(UTC)).total_seconds())
    return seconds if seconds <= _LONGEST_PAUSE_S else None
