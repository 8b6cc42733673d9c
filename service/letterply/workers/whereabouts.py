"""Which process of which machine: a name, a mark that others can read, and whether it has ended.

A worker that was killed on this machine is known to be gone at once; of one elsewhere only its
silence tells. A mark names the boot of the machine, the space of its process numbers (a container
has one of its own), the number, and when the process began: a number is given out again.
"""

from __future__ import annotations

import os
import socket
import uuid
from functools import cache
from pathlib import Path

__all__ = ["has_ended", "process_mark", "worker_name"]

_PROC = Path("/proc")


def worker_name() -> str:
    """Return a name that no other process has: host, process id, chance."""
    return f"{socket.gethostname()}.{os.getpid()}.{uuid.uuid4().hex[:8]}"


def process_mark() -> str:
    """Return the mark of this process; empty where the system does not tell.

    >>> has_ended(process_mark()), has_ended("")
    (False, False)

    """
    here, began = _here(), _began(os.getpid())
    return f"{here}/{os.getpid()}/{began}" if here and began else ""


def has_ended(mark: str) -> bool:
    """Tell whether the process with this mark was one of this machine and is no more."""
    here, _, process = mark.rpartition("/")[0].rpartition("/")
    if not here or here != _here():
        return False
    return _began(int(process)) != mark.rpartition("/")[2]


@cache
def _here() -> str:
    try:
        boot = (_PROC / "sys/kernel/random/boot_id").read_text().strip()
        return f"{boot}/{(_PROC / 'self/ns/pid').readlink().name}"
    except OSError:
        return ""


def _began(process: int) -> str:
    """Return when a process began, in ticks since the boot (proc(5), field 22); empty when gone."""
    try:
        after = (_PROC / str(process) / "stat").read_text().rpartition(")")[2].split()
    except OSError:
        return ""
    return "" if after[0] in ("Z", "X") else after[19]
