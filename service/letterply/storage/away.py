"""What is away for a moment: a store that does not answer, or is full, will again.

Whoever has found something out and cannot store it, or needs what is stored to go on, waits for as
long as that takes, unless somebody waits for the answer.
"""

from __future__ import annotations

import errno
import logging
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from letterply.errors import LetterplyError

__all__ = [
    "LONGEST_PAUSE_S",
    "SHORTEST_PAUSE_S",
    "full_is_busy",
    "is_away",
    "reaching_folder",
    "while_away",
]

T = TypeVar("T")

_log = logging.getLogger(__name__)

SHORTEST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 5.0
_AWAY = frozenset(("store-busy", "store-unreachable"))
_FULL = frozenset((errno.ENOSPC, errno.EDQUOT))
_UNREACHED = frozenset(
    (errno.EIO, errno.ESTALE, errno.ENOTCONN, errno.ETIMEDOUT, errno.EHOSTDOWN, errno.EHOSTUNREACH,
     errno.EACCES, errno.EROFS)
)  # fmt: skip
"""What a disk says that is taken off, or lies on another machine that does not answer."""


def is_away(error: BaseException) -> bool:
    """Tell whether an error says that the store is away or full: it may be over in a moment."""
    if isinstance(error, LetterplyError):
        return error.code in _AWAY
    return isinstance(error, OSError) and error.errno in _FULL


def while_away(work: Callable[[], T], give_up: Callable[[], bool] = lambda: False) -> T:
    """Do something that needs the store, again and again as long as that is away or full.

    Args:
        work: may be done again when it was cut off.
        give_up: asked before each pause whether what was raised is to be raised.

    """
    pause = SHORTEST_PAUSE_S
    while True:
        try:
            return work()
        except (LetterplyError, OSError) as error:
            if not is_away(error) or give_up():
                raise
        _log.warning("the store is away or full; it is tried again")
        time.sleep(pause)
        pause = min(LONGEST_PAUSE_S, 2 * pause)


@contextmanager
def reaching_folder(folder: Path) -> Iterator[None]:
    """Say in our words that a folder is away: `LetterplyError`, `store-unreachable`.

    A file that is missing while the folder is there is none of that: `FileNotFoundError`, as ever.
    """
    try:
        yield
    except OSError as exc:
        missing = isinstance(exc, FileNotFoundError | NotADirectoryError)
        if exc.errno not in _UNREACHED and not (missing and not os.access(folder, os.F_OK)):
            raise
        raise LetterplyError(
            "The folder of the store cannot be reached.",
            code="store-unreachable",
            expected="the same request again, in a moment",
        ) from exc


@contextmanager
def full_is_busy() -> Iterator[None]:
    """Say in our words that a disk is full: `LetterplyError`, `store-busy`."""
    try:
        yield
    except OSError as exc:
        if not is_away(exc):
            raise
        raise LetterplyError(
            "The disk of the store is full.",
            code="store-busy",
            expected="the same request again, once there is room",
        ) from exc
