"""Inside a worker process: limits first, then one function after another, each with an outcome.

Terms: an *outcome* is what a worker sends back: a value, one of letterply's own errors, or a
word for what went wrong. Foreign errors stay in the worker, as they may not survive the way
back; their text goes along for the log.

This module is imported before the limits are set, so it imports nothing heavy itself.
"""

from __future__ import annotations

import ctypes
import gc
import importlib
import logging
import os
import signal
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from ctypes import Array, c_uint64
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from letterply.errors import LetterplyError
from letterply.workers.progress import Abandoned, begin_telling, end_telling, open_channel

__all__ = [
    "OUT_OF_TIME",
    "Ending",
    "Outcome",
    "WorkerSetup",
    "enter",
    "guarded",
    "imported_to_stay",
    "is_there",
]

_PR_SET_PDEATHSIG = 1
"""Linux, prctl(2): the signal that this process gets when its parent dies."""

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class WorkerSetup:
    """What a worker sets up before its first task.

    Attributes:
        parent: process id of the process that started it.
        memory_limit_bytes: address space that it may use.
        niceness: how far it steps back behind the rest of the machine.
        cache_folder: where compiled code is kept when the package's folder cannot be written.
        preload: modules to import at once.
        warm_up: name of a function, `module:function`, that is called once with nothing after that;
            empty for none.
        reports: where its tasks tell how far they are.
        board: where tickets stand that nobody wants any more.

    """

    parent: int
    memory_limit_bytes: int
    niceness: int
    cache_folder: str | None = None
    preload: tuple[str, ...] = ()
    warm_up: str = ""
    reports: Connection | None = None
    board: Array[c_uint64] | None = None


_YOUNGEST = 20_000
"""New objects before the collector looks for circles among them: shapes make thousands and have
none."""


class Ending(StrEnum):
    """How a function ended."""

    VALUE = "value"
    ERROR = "error"
    MEMORY = "memory"
    CRASH = "crash"
    ABANDONED = "abandoned"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a worker sends back.

    Attributes:
        ending: how the function ended.
        value: its value, or the error of letterply's own.
        trace: for the log, when it crashed.

    """

    ending: Ending
    value: Any = None
    trace: str = ""


def enter(setup: WorkerSetup) -> None:
    """Set the limits of this process; called once, before its first task."""
    # The default action ends the process at once, also in the middle of compiled code.
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    _die_with_parent(setup.parent)
    open_channel(setup.reports, setup.board)
    os.nice(setup.niceness)
    for name in _ONE_THREAD:  # the pool has one worker a core already
        os.environ[name] = "1"
    package = Path(__file__).parents[1]
    if setup.cache_folder and not os.access(package, os.W_OK):
        os.environ["NUMBA_CACHE_DIR"] = setup.cache_folder
    # It warns of every damaged record of a font: a hostile one would fill the log.
    logging.getLogger("fontTools").setLevel(logging.CRITICAL)
    _limit_memory(setup.memory_limit_bytes)
    with imported_to_stay():
        for name in setup.preload:
            importlib.import_module(name)
    if setup.warm_up:
        module, _, name = setup.warm_up.partition(":")
        getattr(importlib.import_module(module), name)()
    gc.collect()
    gc.freeze()
    gc.set_threshold(_YOUNGEST, 20, 20)


@contextmanager
def imported_to_stay() -> Iterator[None]:
    """Keep the collector from what is imported meanwhile: it stays, and there is a lot of it.

    A process that imports the whole service is ready a sixth sooner.
    """
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


OUT_OF_TIME = getattr(signal, "SIGPROF", None)
"""The signal that ends a worker whose task has used up its processor time; None on a system that
does not count it."""


def guarded(
    function: Callable[..., Any],
    args: tuple[Any, ...],
    processor_limit_s: float = 0.0,
    ticket: int = 0,
) -> Outcome:
    """Call `function` and say how it ended; never raises what it raised.

    What it tells of its progress is told of this ticket.

    A task that takes more processor time than the limit ends with its process (`OUT_OF_TIME`),
    also in the middle of compiled code; 0 is no limit.
    """
    try:
        return _ended(function, args, processor_limit_s, ticket)
    except Abandoned:
        end_telling()  # the sign may come twice, the second time on the way out
        return Outcome(Ending.ABANDONED)


def _ended(
    function: Callable[..., Any], args: tuple[Any, ...], processor_limit_s: float, ticket: int
) -> Outcome:
    _limit_processor(processor_limit_s)
    try:
        begin_telling(ticket)
        return Outcome(Ending.VALUE, function(*args))
    except LetterplyError as error:
        return Outcome(Ending.ERROR, error)
    except MemoryError:
        return Outcome(Ending.MEMORY)
    except Abandoned:
        raise
    except BaseException:  # a panic in compiled code is no `Exception`
        return Outcome(Ending.CRASH, trace=traceback.format_exc())
    finally:
        end_telling()
        _limit_processor(0.0)


def is_there() -> bool:
    """Return True: a worker that answers is ready."""
    return True


def _die_with_parent(parent: int) -> None:
    if sys.platform != "linux":
        return
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "prctl(PR_SET_PDEATHSIG)")
    if os.getppid() != parent:  # it died before we asked
        os._exit(1)


def _limit_processor(limit_s: float) -> None:
    """Let this process end once it has run for so long from now on; 0 for no limit."""
    if OUT_OF_TIME is not None:
        signal.setitimer(signal.ITIMER_PROF, limit_s)


def _limit_memory(limit_bytes: int) -> None:
    try:
        import resource
    except ImportError:  # no such limit on this system; the time limit remains
        return
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    limit = limit_bytes if hard == resource.RLIM_INFINITY else min(limit_bytes, hard)
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
