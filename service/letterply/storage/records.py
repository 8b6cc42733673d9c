"""What the store keeps, as frozen values, and the interface that every store offers.

Terms: a *job* is one request and what became of it; an *artifact* is one file that a job made,
named by a path with `/`; its *document* is the artifact that answers the request, as
`stack.json`. A *key* is an idempotency key: a name that a client gives to one of its requests.

A job that is kept is in one of four states: `queued`, `running`, `done`, `failed`. Done and
failed are final for readers; a failed job may be asked for again and is then computed anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Protocol

from letterply import errors
from letterply.errors import LetterplyError

__all__ = [
    "FAULTS",
    "Artifact",
    "ArtworkRecord",
    "Finished",
    "FontRecord",
    "JobRecord",
    "JobState",
    "KeyRecord",
    "Store",
    "error_from_facts",
    "facts_of_error",
]


class JobState(StrEnum):
    """Where a job is."""

    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Artifact:
    """One file of a job.

    Attributes:
        path: name with `/`, relative to the job.
        digest: digest of its bytes.
        size: number of bytes.

    """

    path: str
    digest: str
    size: int


@dataclass(frozen=True, slots=True)
class JobRecord:
    """A job as the store keeps it.

    Attributes:
        id: digest of the request (`letterply.storage.identity`).
        kind: `stack`, `check` or `plan`.
        state: where it is.
        request: normalised request.
        created_at: when it was first kept, ISO 8601, UTC.
        engine_version: version of the engine that ran it.
        document: path of the artifact that answers the request; None unless done.
        artifacts: its files, sorted by path.
        headline: what lists show of it, as its title and summary.
        failure: facts of the error; None unless failed.

    """

    id: str
    kind: str
    state: JobState
    request: Mapping[str, Any]
    created_at: str
    engine_version: str
    document: str | None = None
    artifacts: tuple[Artifact, ...] = ()
    headline: Mapping[str, Any] | None = None
    failure: Mapping[str, Any] | None = None

    def artifact(self, path: str) -> Artifact | None:
        """Return the artifact called `path`, or None."""
        return next((a for a in self.artifacts if a.path == path), None)


@dataclass(frozen=True, slots=True)
class Finished:
    """What a job made, ready to be stored.

    Attributes:
        document: path of the artifact that answers the request.
        artifacts: path -> bytes.
        headline: what lists show of it.

    """

    document: str
    artifacts: Mapping[str, bytes]
    headline: Mapping[str, Any]

    def __post_init__(self) -> None:
        if self.document not in self.artifacts:
            raise ValueError(f"the document {self.document!r} is not among the artifacts")


@dataclass(frozen=True, slots=True)
class FontRecord:
    """A font that was uploaded.

    Attributes:
        id: its name in recipes (`letterply.lettering.fonts.library.font_digest`).
        digest: digest of its file.
        name: name for people.
        description: what the engine says of it, JSON.
        size: number of bytes.
        created_at: ISO 8601, UTC.

    """

    id: str
    digest: str
    name: str
    description: Mapping[str, Any]
    size: int
    created_at: str


@dataclass(frozen=True, slots=True)
class ArtworkRecord(FontRecord):
    """A drawing that was uploaded, kept as a font is; `name` is its title."""


@dataclass(frozen=True, slots=True)
class KeyRecord:
    """An idempotency key in use.

    Attributes:
        key: owner and key, as one text.
        fingerprint: digest of the payload it was first used with.
        job: id of the job that answered.

    """

    key: str
    fingerprint: str
    job: str


class Store(Protocol):
    """What the desk and the routes need of a store. Every method may be called from any thread."""

    def job(self, job_id: str) -> JobRecord:
        """Return a job; raises `NotFound` (`job-not-found`)."""

    def jobs(
        self, kind: str, *, limit: int, after: str | None = None
    ) -> tuple[tuple[JobRecord, ...], bool]:
        """Return up to `limit` jobs of a kind, newest first, and whether there are more.

        `after` is the id of the last job of the page before. Artifacts are left out.
        """

    def unfinished(self) -> tuple[JobRecord, ...]:
        """Return all jobs that are queued or running, oldest first."""

    def is_whole(self, job: JobRecord) -> bool:
        """Tell whether every artifact of a job is in its place with its size."""

    def keep_waiting(
        self, job_id: str, kind: str, request: Mapping[str, Any], key: KeyRecord | None = None
    ) -> None:
        """Keep a job that is not finished; a job that is done stays as it is."""

    def save_done(
        self,
        job_id: str,
        kind: str,
        request: Mapping[str, Any],
        finished: Finished,
        keys: Iterable[KeyRecord] = (),
    ) -> JobRecord:
        """Store all artifacts, then the job and its keys in one transaction."""

    def save_failed(self, job_id: str, failure: Mapping[str, Any]) -> None:
        """Mark a kept job as failed; a job that is done, or not kept, stays as it is."""

    def read(self, artifact: Artifact) -> bytes:
        """Return the bytes of an artifact, checked against its digest.

        Raises:
            LetterplyError: `artifact-damaged` when they are not what was stored.

        """

    def key(self, key: str) -> KeyRecord | None:
        """Return what an idempotency key was used for, or None."""

    def save_key(self, key: KeyRecord) -> None:
        """Store a key for a job that is already kept."""

    def fonts(self, *, limit: int, after: str | None = None) -> tuple[tuple[FontRecord, ...], bool]:
        """Return up to `limit` fonts by name, and whether there are more."""

    def font(self, font_id: str) -> FontRecord:
        """Return a font; raises `NotFound` (`font-not-found`)."""

    def path_of(self, digest: str) -> Path:
        """Return where the file with this digest lies."""

    def set_aside(self, data: bytes) -> AbstractContextManager[Path]:
        """Give a file with these bytes that is gone when the context ends."""

    def add_font(
        self, font_id: str, data: bytes, name: str, description: Mapping[str, Any]
    ) -> FontRecord:
        """Store a font; storing the same one again changes nothing."""

    def artworks(
        self, *, limit: int, after: str | None = None
    ) -> tuple[tuple[ArtworkRecord, ...], bool]:
        """Return up to `limit` drawings by name, and whether there are more."""

    def artwork(self, artwork_id: str) -> ArtworkRecord:
        """Return a drawing; raises `NotFound` (`artwork-not-found`)."""

    def add_artwork(
        self, artwork_id: str, data: bytes, name: str, description: Mapping[str, Any]
    ) -> ArtworkRecord:
        """Store a drawing; storing the same one again changes nothing."""

    def keep_file(self, data: bytes) -> tuple[str, Path]:
        """Store bytes by their digest; return digest and place."""

    def close(self) -> None:
        """Let go of everything."""


FAULTS = frozenset(
    ("job-timeout", "job-memory", "job-crashed", "artifact-damaged", "store-unreachable")
)
"""Codes of what went wrong through no fault of the request: it may do better another time."""


def facts_of_error(error: LetterplyError) -> dict[str, Any]:
    """Return an error as plain JSON values.

    >>> facts_of_error(LetterplyError("No.", code="no"))["code"]
    'no'

    """
    return {
        "error": type(error).__name__,
        "message": error.message,
        "code": error.code,
        "field": error.field,
        "expected": error.expected,
        "data": error.data,
    }


def error_from_facts(facts: Mapping[str, Any]) -> LetterplyError:
    """Return the error that `facts_of_error` described, of the same class."""
    kind = getattr(errors, str(facts["error"]), LetterplyError)
    if not (isinstance(kind, type) and issubclass(kind, LetterplyError)):
        kind = LetterplyError
    error = kind.__new__(kind)
    LetterplyError.__init__(
        error,
        facts["message"],
        code=facts["code"],
        field=facts["field"],
        expected=facts["expected"],
        data=dict(facts["data"]),
    )
    return error
