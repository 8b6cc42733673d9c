"""Folders of what may be found out again: kept below a size, the least used goes first."""

from __future__ import annotations

import contextlib
from pathlib import Path

__all__ = ["shrink_folder"]

_LEFT = 0.75


def shrink_folder(folder: Path, limit_bytes: int) -> int:
    """Remove what was not used for longest, down to three quarters of the limit.

    A file that is gone meanwhile, or a folder that is not there, is fine. Returns the bytes freed.
    """
    entries = []
    for path in folder.rglob("*"):
        with contextlib.suppress(OSError):
            if path.is_file():
                entries.append((path.stat(), path))
    size = sum(facts.st_size for facts, _ in entries)
    if size <= limit_bytes:
        return 0
    freed = 0
    for facts, path in sorted(entries, key=lambda entry: entry[0].st_mtime_ns):
        path.unlink(missing_ok=True)
        freed += facts.st_size
        if size - freed <= _LEFT * limit_bytes:
            break
    return freed
