"""Many files as one: a ZIP whose bytes depend on nothing but its content."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping

from letterply.names import file_name

__all__ = ["zip_bytes"]

_EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The earliest date that the format can hold; none is meant."""

_REGULAR_FILE = 0o100644 << 16


def zip_bytes(files: Mapping[str, bytes]) -> bytes:
    """Return files as a ZIP, sorted by name, with a fixed date.

    Args:
        files: name, with folders set off by `/` -> content.

    Raises:
        ValueError: for a name that could leave the folder it is unpacked in, that is not plain,
            or that differs from another only by the case of its letters.

    """
    seen: set[str] = set()
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name in sorted(files):
            steps = name.split("/")
            if any(step != file_name(step, fallback="") or not step for step in steps):
                raise ValueError(f"{name!r} is no safe name in an archive")
            if name.lower() in seen:
                raise ValueError(f"{name!r} occurs twice, letters' case apart")
            seen.add(name.lower())
            entry = zipfile.ZipInfo(name, _EARLIEST)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3  # as on POSIX, wherever it is made
            entry.external_attr = _REGULAR_FILE
            archive.writestr(entry, files[name])
    return stream.getvalue()
