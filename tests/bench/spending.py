"""Processor time of the processes that a bench has started: the service and its workers."""

from __future__ import annotations

import os
from pathlib import Path


def service_s() -> float:
    """Return the processor time of all processes below this one but the browser's, s.

    That of processes that have ended is left out.
    """
    parents, names, used = {}, {}, {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            name, rest = (folder / "stat").read_text().split("(", 1)[1].rsplit(")", 1)
        except (OSError, IndexError):  # it has ended meanwhile
            continue
        facts, number = rest.split(), int(folder.name)
        parents[number], names[number] = int(facts[1]), name
        used[number] = (int(facts[11]) + int(facts[12])) / os.sysconf("SC_CLK_TCK")

    def ours(number: int) -> bool:
        while number in parents and "python" in names[number]:
            number = parents[number]
            if number == os.getpid():
                return True
        return False

    return sum(seconds for number, seconds in used.items() if ours(number))
