"""Work on many things at once, where the machine has a core that nobody uses.

Geometry lets go of the interpreter while it works, so that threads of one process share it. The
others are here to use what would lie idle: a helper takes something up only while no more runs on
the machine than it has cores for. The answers, and the error that is raised, are those of doing
one thing after another.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from contextvars import copy_context
from pathlib import Path
from typing import TypeVar, cast

__all__ = ["both", "side_by_side"]

_T = TypeVar("_T")
_R = TypeVar("_R")
_S = TypeVar("_S")

_MOST_HELPERS = 3
_LOOK_S = 0.02
"""How often a helper looks whether a core is free."""

_LOAD = Path("/proc/loadavg")


def side_by_side(work: Callable[[_T], _R], things: Sequence[_T]) -> list[_R]:
    """Return what `work` returns for each thing, in order.

    `work` is called by several threads and must change nothing that it shares. What it raises for
    the first thing that fails is raised, after what others have begun has ended.
    """
    answers: dict[int, _R] = {}
    failed: dict[int, BaseException] = {}
    waiting = iter(range(len(things)))
    lock, over = threading.Lock(), threading.Event()

    def take_one() -> bool:
        with lock:
            number = None if failed else next(waiting, None)
        if number is None:
            over.set()
            return False
        try:
            answers[number] = work(things[number])
        except BaseException as error:
            failed[number] = error
        return True

    def help_out() -> None:
        while not over.is_set():
            if not _has_free_core():
                over.wait(_LOOK_S)
            elif not take_one():
                return

    count = min(_MOST_HELPERS, _cores() - 1, len(things) - 1)
    # What is said in the units of the shop is said so by helpers, too.
    helpers = [
        threading.Thread(target=copy_context().run, args=(help_out,), daemon=True)
        for _ in range(count)
    ]
    for helper in helpers:
        helper.start()
    try:
        while take_one():
            pass
    finally:
        over.set()
        for helper in helpers:
            helper.join()
    if failed:
        raise failed[min(failed)]
    return [answers[number] for number in range(len(things))]


def both(one: Callable[[], _R], other: Callable[[], _S]) -> tuple[_R, _S]:
    """Return what two functions return, called side by side as in `side_by_side`.

    >>> both(lambda: 1, lambda: "a")
    (1, 'a')

    """
    works: list[Callable[[], object]] = [one, other]
    first, second = side_by_side(lambda work: work(), works)
    return cast(_R, first), cast(_S, second)


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1


def _has_free_core() -> bool:
    """Tell whether no more runs than there are cores for, the one who asks included."""
    try:
        running = int(_LOAD.read_text().split()[3].partition("/")[0])
    except (OSError, IndexError, ValueError):  # where the system does not tell, none is taken
        return False
    return running <= _cores()
