"""Processor time and memory of the processes that a bench has started: the service, its workers."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

_TICKS = os.sysconf("SC_CLK_TCK")
_PAGE_MB = os.sysconf("SC_PAGE_SIZE") / 1e6


def service_s() -> float:
    """Return the processor time of all processes below this one but the browser's, s.

    That of processes that have ended is left out.
    """
    return sum((int(facts[11]) + int(facts[12])) / _TICKS for facts in _below())


def service_mb() -> float:
    """Return the resident memory of all processes below this one but the browser's, MB.

    What they share is counted in each.
    """
    return sum(int(facts[21]) * _PAGE_MB for facts in _below())


def _below() -> Iterator[list[str]]:
    """Yield what is told of each Python process below this one, from its state on (proc(5))."""
    parents, names, told = {}, {}, {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            name, rest = (folder / "stat").read_text().split("(", 1)[1].rsplit(")", 1)
        except (OSError, IndexError):  # it has ended meanwhile
            continue
        facts, number = rest.split(), int(folder.name)
        parents[number], names[number], told[number] = int(facts[1]), name, facts
    for first in told:
        number = first
        while number in parents and "python" in names[number]:
            number = parents[number]
            if number == os.getpid():
                yield told[first]
                break
