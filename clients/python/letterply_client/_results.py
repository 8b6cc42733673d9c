"""What comes back, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

__all__ = ["Entry", "File", "Progress", "Result"]


@dataclass(frozen=True, slots=True)
class File:
    """One file of a result.

    Attributes:
        path: name with `/`, relative to the result.
        url: where it is, relative to the service.
        media_type: what it is.
        size_bytes: how long it is; None for a file that is made when it is asked for.
        digest: BLAKE2b of 16 bytes, hex; None likewise.
        held_back: True for a program that has not passed its proof.

    """

    path: str
    url: str
    media_type: str
    size_bytes: int | None
    digest: str | None
    held_back: bool


@dataclass(frozen=True, slots=True)
class Result:
    """A stack, a check, a plan, a survey or an order.

    Attributes:
        kind: `stack`, `check`, `plan`, `survey` or `order`.
        id: the same for the same request.
        title: what the maker calls it.
        summary: the answer in plain words.
        ready: whether it can be cut: no blocker, and proved where there is something to prove.
        files: what was made.
        document: all that the service says, as JSON values.

    """

    kind: str
    id: str
    title: str
    summary: str
    ready: bool
    files: tuple[File, ...]
    document: Mapping[str, Any] = field(repr=False)

    @property
    def findings(self) -> tuple[Mapping[str, Any], ...]:
        """Doubts about the work, worst first."""
        return tuple(self.document.get("findings", ()))

    @property
    def blockers(self) -> tuple[Mapping[str, Any], ...]:
        """What stands in the way of cutting it."""
        return tuple(f for f in self.findings if f.get("severity") == "blocker")

    @property
    def proved(self) -> bool | None:
        """Whether every program passed its proof; None when there are none to prove."""
        found = self.document.get("proved")
        return None if found is None else bool(found)

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> Result:
        """Return the result that a document describes; raises `KeyError` or `TypeError`."""
        files = tuple(
            File(
                path=f["path"],
                url=f["url"],
                media_type=f["media_type"],
                size_bytes=f["size_bytes"],
                digest=f["digest"],
                held_back=f["held_back"],
            )
            for f in document["files"]
        )
        return cls(
            kind=document["kind"],
            id=document["id"],
            title=str(document.get("title", "")),
            summary=str(document.get("summary", "")),
            ready=bool(document["ready"]),
            files=files,
            document=document,
        )


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a request is.

    Attributes:
        state: `sent`, `queued`, `running` or `done`; for an order its phase: `waiting`, `lines`,
            `pools`, `sheets`, `papers`, `done`.
        elapsed_s: time since it was sent.
        share: how much is done, 0 to 1, by estimate; None until that is known.
        remaining_s: of an order, how long it still takes, by estimate; None until that is known.
        phase: what a running request is at, as `layers`, `checks`, `cutting`, `proof`; else empty.
        step: which sheet it is at, from 1; 0 where nothing is counted.
        steps: how many sheets there are.

    """

    state: str
    elapsed_s: float
    share: float | None = None
    remaining_s: float | None = None
    phase: str = ""
    step: int = 0
    steps: int = 0


@dataclass(frozen=True, slots=True)
class Entry:
    """A font, drawing, material, cutter, machine or stock sheet.

    Attributes:
        key: name to use in requests.
        name: name for people.
        facts: all that the service says of it.

    """

    key: str
    name: str
    facts: Mapping[str, Any] = field(repr=False)
