"""What the store keeps, as frozen values.

Terms: a *job* is one request and what became of it; an *artifact* is one file that a job made,
named by a path with `/`; its *document* is the artifact that answers the request, as
`stack.json`. A *key* is an idempotency key: a name that a client gives to one of its requests.

A job that is kept is in one of four states: `queued`, `running`, `done`, `failed`. Done and
failed are final for readers; a failed job may be asked for again and is then computed anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from letterply import errors
from letterply.errors import LetterplyError

__all__ = [
    "FAULTS",
    "Artifact",
    "Finished",
    "JobRecord",
    "JobState",
    "KeyRecord",
    "Upload",
    "UploadKind",
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
        digest: digest of its bytes; None as long as it was not made.
        size: number of bytes; None as long as it was not made.
        later: whether it is made when somebody asks for it.

    """

    path: str
    digest: str | None
    size: int | None
    later: bool = False


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
        answer: digest of what the files are made from that are made later; None where all are.
        progress: how far it is while it runs (`letterply.workers.Progress`); None where nothing is
            known of it.

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
    answer: str | None = None
    progress: Mapping[str, Any] | None = None

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
        later: paths of the files that are made when somebody asks for them.
        answer: what they are made from.

    """

    document: str
    artifacts: Mapping[str, bytes]
    headline: Mapping[str, Any]
    later: tuple[str, ...] = ()
    answer: bytes | None = None

    def __post_init__(self) -> None:
        if self.document not in self.artifacts:
            raise ValueError(f"the document {self.document!r} is not among the artifacts")


class UploadKind(StrEnum):
    """What an uploaded file is."""

    FONT = "font"
    ARTWORK = "artwork"


@dataclass(frozen=True, slots=True)
class Upload:
    """A font or a drawing that was uploaded.

    Attributes:
        id: its name in recipes (`letterply.lettering.font_digest`, `artwork_digest`).
        digest: digest of its file.
        name: name for people; a drawing's is its title.
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


FAULTS = frozenset(
    (
        "job-timeout",
        "job-memory",
        "job-crashed",
        "artifact-damaged",
        "store-busy",
        "store-unreachable",
    )
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
