"""Many files as one: a ZIP whose bytes depend on nothing but its content."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterable, Iterator

from letterply.names import file_name

__all__ = ["stream_zip"]

_EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The earliest date that the format can hold; none is meant."""

_REGULAR_FILE = 0o100644 << 16
_POSIX = 3
"""The system that an archive says it was made on, wherever it is made."""

_PACKED = (".png", ".pdf")
"""Files that are as small as they get."""

_CHUNK = 256 * 1024


def stream_zip(names: Iterable[str], read: Callable[[str], bytes]) -> Iterator[bytes]:
    """Yield files as a ZIP, in the order given: never more than one is in memory.

    Args:
        names: of the files, each once, with folders set off by `/`.
        read: returns the content of the file with this name.

    Raises:
        ValueError: before anything is read, for a name that could leave the folder it is unpacked
            in, that is not plain, or that differs from another only by the case of its letters.

    """
    chosen = tuple(names)
    _refuse_unsafe(chosen)
    sink = _Sink()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name in chosen:
            entry = zipfile.ZipInfo(name, _EARLIEST)
            packed = name.endswith(_PACKED)
            entry.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
            entry.create_system = _POSIX
            entry.external_attr = _REGULAR_FILE
            archive.writestr(entry, read(name))
            yield from _pieces(sink.taken())
    yield from _pieces(sink.taken())


def _refuse_unsafe(names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if any(not step or step != file_name(step, fallback="") for step in name.split("/")):
            raise ValueError(f"{name!r} is no safe name in an archive")
        if name.lower() in seen:
            raise ValueError(f"{name!r} occurs twice, letters' case apart")
        seen.add(name.lower())


class _Sink:
    """A file that can only be written: what the archive writes is taken away piece by piece."""

    def __init__(self) -> None:
        self._pieces: list[bytes] = []

    def write(self, data: bytes) -> int:
        """Take bytes."""
        self._pieces.append(bytes(data))
        return len(data)

    def flush(self) -> None:
        """Do nothing: all is there already."""

    def close(self) -> None:
        """Do nothing: there is nothing to close."""

    def taken(self) -> bytes:
        """Return what was written since the last time."""
        data = b"".join(self._pieces)
        self._pieces.clear()
        return data


def _pieces(data: bytes) -> Iterator[bytes]:
    for start in range(0, len(data), _CHUNK):
        yield data[start : start + _CHUNK]
