"""Many files as one: a ZIP whose bytes depend on nothing but its content."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping

__all__ = ["safe_name", "zip_bytes"]

_EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The earliest date that the format can hold; none is meant."""

_REGULAR_FILE = 0o100644 << 16
_UNSAFE = re.compile(r"[^A-Za-z0-9._-]+")
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)
"""Names that one common system takes for devices, whatever their extension."""

_MAX_NAME = 100


def safe_name(name: str, *, fallback: str = "file") -> str:
    """Return a file name that every common system takes: no folder, no blank, plain ASCII.

    >>> safe_name("../Avocet rack sign: n° 1.svg"), safe_name("Увага"), safe_name("nul.txt")
    ('Avocet-rack-sign-n-1.svg', 'file', '_nul.txt')

    """
    plain = _UNSAFE.sub("-", name)
    plain = re.sub(r"-?\.-?", ".", re.sub(r"\.{2,}", ".", plain)).strip(".-_ ")
    if not plain:
        return fallback
    if _RESERVED.match(plain):
        plain = f"_{plain}"
    if len(plain) <= _MAX_NAME:
        return plain
    stem, dot, extension = plain.rpartition(".")
    if not dot or len(extension) > 8:
        return plain[:_MAX_NAME]
    return stem[: _MAX_NAME - len(extension) - 1] + dot + extension


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
            if any(step != safe_name(step, fallback="") or not step for step in steps):
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
