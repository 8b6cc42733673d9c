"""What a job found out on its way, kept for the next: a change costs what it changes.

Layers of a recipe, checks of a layer, plan and proof of a sheet are each asked for by a *question*:
all that they depend on. Another machine finds the layers again, another thickness the checks and
sheets of the other layers. Answers are kept as messages (`letterply.jobs.packing`) in a folder that
all workers share and that never grows beyond its limit; it may be emptied at any time. The same
question has the same answer, so nobody can tell whether it was remembered.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from letterply.errors import LetterplyError
from letterply.jobs.packing import Runs, pack, unpack
from letterply.storage import digest, shrink_folder

__all__ = ["SharedAnswers"]

T = TypeVar("T")

_LIMIT_BYTES = 256_000_000
_LOOK_EVERY = 16
"""Answers written before the size of the folder is looked at again."""


class SharedAnswers:
    """Remembers answers.

    Args:
        folder: where answers are kept; None to remember nothing.
        context: what every question of a job depends on beside itself.
        limit_bytes: of the folder, about.

    Attributes:
        runs: large arrays of answers that were written.

    """

    def __init__(
        self, folder: str | None, context: tuple[str, ...] = (), limit_bytes: int = _LIMIT_BYTES
    ) -> None:
        self._folder = Path(folder) if folder is not None else None
        self._context = context
        self._limit_bytes = limit_bytes
        self.runs: Runs = {}

    def once(self, question: object, find_out: Callable[[], T]) -> T:
        """Return the answer to a question, as it was found out before or as it is now.

        Args:
            question: what the answer depends on, as values that a message can hold.
            find_out: called with nothing where the answer is not remembered; returns such values.

        """
        if self._folder is None:
            return find_out()
        path = self._folder / digest(pack((self._context, question)))
        try:
            # A program among them may come to be cut: what is damaged on the disk is not taken.
            told, _, message = path.read_bytes().partition(b"\n")
            known: T = unpack(message if told == digest(message).encode() else b"")
        except (OSError, LetterplyError):
            found = find_out()
            message = pack(found, self.runs)
            self._keep(path, digest(message).encode() + b"\n" + message)
            return found
        with contextlib.suppress(OSError):
            os.utime(path)  # it is used: others go first
        return known

    def _keep(self, path: Path, data: bytes) -> None:
        # A full disk, or a folder that another worker empties: then it is not remembered.
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as draft:
                draft.write(data)
            Path(draft.name).replace(path)
            if int(path.name[:4], 16) % _LOOK_EVERY == 0:
                shrink_folder(path.parent, self._limit_bytes)
