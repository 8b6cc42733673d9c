"""How the proof compiles its inner loops.

One place for the settings: cached on disk, so that only the first run pays for compiling (where
no folder can be written to, each process pays once); the interpreter lock released, so that bands
of rows run in threads; never numba's own parallel mode, whose thread layer aborts the process
when two threads enter it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["Grid", "kernel", "root_of"]

_F = TypeVar("_F", bound=Callable[..., Any])


class Grid(NamedTuple):
    """Where cells lie, as compiled code takes it: a named tuple of floats.

    Attributes:
        left, low: corner of the first cell, mm.
        cell: width of a cell, mm.

    """

    left: float
    low: float
    cell: float


def kernel(function: _F) -> _F:
    """Compile a function of arrays and numbers; its type for the reader stays the same."""
    try:
        return cast(_F, numba.njit(cache=True, nogil=True)(function))
    except RuntimeError:  # no folder for the cache
        return cast(_F, numba.njit(nogil=True)(function))


@kernel
def root_of(parent: NDArray[np.int32], member: int) -> int:
    """Return what stands for the group of a member, and shorten the way to it (union-find)."""
    while parent[member] != member:
        parent[member] = parent[parent[member]]
        member = parent[member]
    return member
