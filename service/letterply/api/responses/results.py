"""Answers: a finished job in, a response out: its document, one of its files, or all as a ZIP.

What a job made never changes under its id, so every answer carries a strong entity tag and may
be cached for good. Programs of a plan that has not passed its proof are held back, in every form,
unless the client takes the risk by name (`?override=accept-unproved`).
"""

from __future__ import annotations

import asyncio
import json
import re
import time
from collections.abc import AsyncIterator, Iterable, Iterator, Mapping
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import quote

from fastapi import Request, Response

from letterply import __version__
from letterply.api.http.negotiation import Preference, choose, tag_matches
from letterply.api.http.problems import HttpProblem, problem_document
from letterply.api.responses.caching import answer_bytes
from letterply.errors import InputError, LetterplyError, NotFound
from letterply.exports import stream_zip
from letterply.jobs import FILMS, JobHandle, JobService
from letterply.offers import version_of_result
from letterply.storage import (
    Artifact,
    JobRecord,
    JobState,
    canonical_json,
    digest,
    error_from_facts,
)

__all__ = [
    "HARMLESS",
    "MEDIA_TYPES",
    "OVERRIDE",
    "answer_document",
    "answer_file",
    "answer_handle",
    "answer_made",
    "answer_suffix",
    "follow_job",
    "job_document",
    "json_bytes",
    "json_response",
    "made_document",
    "name_download",
    "plural",
    "shown",
    "tag_of",
    "zip_of",
]

OVERRIDE = "accept-unproved"

MEDIA_TYPES: dict[str, str] = {
    ".json": "application/json",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".dxf": "image/vnd.dxf",
    ".csv": "text/csv; charset=utf-8",
    ".pdf": "application/pdf",
    ".zip": "application/zip",
    ".nc": "text/plain; charset=utf-8",
}
"""Suffix -> media type. Programs have no registered type; they are text."""

_USUAL = {
    "stack": "stack",
    "check": "findings",
    "plan": "proof",
    "survey": "survey",
    "size": "stack",
    "test-piece": "piece",
    "order": "job-sheet",
}
"""Kind of job -> the picture that is meant when none is named."""

_LOOK_EVERY_S = 0.25
_SIGN_OF_LIFE_S = 10.0

# A picture or drawing holds text of a request: opened by itself, it must not run anything.
HARMLESS = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"


def plural(kind: str) -> str:
    """Return the name of the collection that a kind of job is in."""
    return f"{kind}s"


def json_response(
    document: Any, status: int = 200, headers: Mapping[str, str] | None = None
) -> Response:
    """Return a JSON value as a response."""
    return Response(json_bytes(document), status, dict(headers or {}), "application/json")


def json_bytes(document: Any) -> bytes:
    """Return a JSON value as the body of a response."""
    # In the order in which it was built: the summary comes first for people who read it.
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode()


async def answer_handle(
    handle: JobHandle, job_service: JobService, preference: Preference, usual_wait_s: float
) -> Response:
    """Answer a POST: with the document, or, when that takes longer, with the job to ask for."""
    record = await handle.result(preference.patience_s(usual_wait_s))
    applied = {"Preference-Applied": "respond-async"} if preference.respond_async else {}
    if record is None:
        record = await handle.keep()
        if record.state is not JobState.DONE:
            where = f"/v1/jobs/{record.id}"
            headers = {"Location": where, "Retry-After": "1", "Cache-Control": "no-store"}
            document = job_document(record)
            return json_response(document, 202, headers | applied)
    document = await asyncio.to_thread(made_document, job_service, record)
    return json_response(
        document,
        200 if handle.repeated else 201,
        {"Location": _url(record), "ETag": tag_of(record, "document"), **applied},
    )


def job_document(record: JobRecord) -> dict[str, Any]:
    """Return where a job stands, as JSON."""
    document: dict[str, Any] = {
        "id": record.id,
        "kind": record.kind,
        "state": str(record.state),
        "created_at": record.created_at,
        "links": {"self": f"/v1/jobs/{record.id}", "result": _url(record)},
    }
    if record.progress is not None and record.state is JobState.RUNNING:
        document["progress"] = dict(record.progress)
    if record.failure is not None:
        document["problem"] = problem_document(error_from_facts(record.failure))
    return document


async def follow_job(
    job_service: JobService, id_: str, stopping: asyncio.Event
) -> AsyncIterator[bytes]:
    """Yield where a job stands whenever it has changed (server-sent events), until it is over.

    Ends, too, when the service stops.

    A stream that says nothing shows now and then that it goes on.
    """
    said, quiet_since = b"", time.monotonic()
    while not stopping.is_set():
        record = await job_service.look_up(id_)
        now = json_bytes(job_document(record))
        if now != said:
            said, quiet_since = now, time.monotonic()
            yield b"event: %b\ndata: %b\n\n" % (str(record.state).encode(), now)
        if record.state in (JobState.DONE, JobState.FAILED):
            return
        if time.monotonic() - quiet_since > _SIGN_OF_LIFE_S:
            quiet_since = time.monotonic()
            yield b": still at work\n\n"
        await job_service.wait_for(id_, _LOOK_EVERY_S)


async def answer_document(
    request: Request, job_service: JobService, kind: str, id_: str
) -> Response:
    """Answer GET of a result, in the type that the client accepts."""
    record = await _record(job_service, kind, id_)
    if record.state is not JobState.DONE:
        headers = {"Retry-After": "1", "Cache-Control": "no-store"}
        document = job_document(record)
        return json_response(document, 202, headers)
    offers = ["application/json", "image/png", "application/zip"]
    chosen = choose(request.headers.get("accept"), offers)
    if chosen is None:
        raise HttpProblem(
            "The result is not there in a type that the request accepts.",
            code="not-acceptable",
            data={"offered": offers},
        )
    if chosen != "application/json":
        suffix = next(s for s, media in MEDIA_TYPES.items() if media == chosen)
        response = await answer_suffix(request, job_service, kind, id_, suffix)
    else:

        def body() -> bytes:
            return json_bytes(made_document(job_service, record))

        response = await answer_bytes(request, tag_of(record, "document"), body, "application/json")
    response.headers["Vary"] = "Accept"
    return response


async def answer_suffix(
    request: Request,
    job_service: JobService,
    kind: str,
    id_: str,
    suffix: str,
    *,
    name: str | None = None,
    override: str | None = None,
) -> Response:
    """Answer GET of a result by suffix: one file of that type, or all of them as a ZIP.

    Raises:
        NotFound: no such result, or it has no such file.
        InputError: `name-needed` when several files fit.
        HttpProblem: `plan-not-proved`.

    """
    record = await _record(job_service, kind, id_)
    if suffix == ".zip":
        return await _answer_zip(request, job_service, record, override)
    if suffix == ".json":
        return await answer_file(request, job_service, kind, id_, record.document or "")
    found = [a for a in record.artifacts if PurePosixPath(a.path).suffix == suffix]
    usual = [a for a in found if a.path == f"{_USUAL[kind]}{suffix}"]
    wanted = [a for a in found if PurePosixPath(a.path).stem == name] if name else usual or found
    if len(wanted) == 1:
        return await answer_file(request, job_service, kind, id_, wanted[0].path, override=override)
    names = sorted({PurePosixPath(a.path).stem for a in found})
    if not wanted:
        raise _no_file(f"{name or id_}{suffix}", names)
    raise InputError(
        f"The result has several {suffix} files.",
        code="name-needed",
        field="name",
        expected=f"?name= with one of: {', '.join(names)}",
        data={"names": names},
    )


async def answer_file(
    request: Request,
    job_service: JobService,
    kind: str,
    id_: str,
    path: str,
    *,
    override: str | None = None,
) -> Response:
    """Answer GET of one file of a result."""
    record = await _record(job_service, kind, id_)
    artifact = record.artifact(path)
    if artifact is None:
        raise _no_file(path, [a.path for a in record.artifacts])
    if _held_back(record, artifact) and override != OVERRIDE:
        raise HttpProblem(
            "The programs of this plan did not pass their proof.",
            code="plan-not-proved",
            expected=f"a plan whose proof passes, or ?override={OVERRIDE}",
            data={"proof": f"{_url(record)}/files/proof.json"},
        )
    record = await job_service.made(record, [path])
    artifact = record.artifact(path) or artifact
    suffix = PurePosixPath(path).suffix
    media_type = MEDIA_TYPES.get(suffix, "application/octet-stream")
    if suffix not in MEDIA_TYPES and path.startswith("programs/"):
        media_type = MEDIA_TYPES[".nc"]
    response = await answer_bytes(
        request, f'"{artifact.digest}"', lambda: job_service.store.read(artifact), media_type
    )
    response.headers["Content-Security-Policy"] = HARMLESS
    if suffix not in (".json", ".png", ".svg"):
        name_download(response, PurePosixPath(path).name)
    return response


def shown(record: JobRecord, override: str | None) -> list[Artifact]:
    """Return the files of a job that a client may have: no program without a proof."""
    return [a for a in record.artifacts if not _held_back(record, a) or override == OVERRIDE]


async def _answer_zip(
    request: Request, job_service: JobService, record: JobRecord, override: str | None
) -> Response:
    chosen = _of_use(shown(record, override))
    tag = tag_of(record, "zip", *(a.path for a in chosen))
    if not tag_matches(request.headers.get("if-none-match"), tag):
        record = await job_service.made(record, [a.path for a in chosen])
        chosen = _of_use(shown(record, override))
    response = await answer_bytes(
        request, tag, lambda: b"".join(zip_of(job_service, chosen)), MEDIA_TYPES[".zip"]
    )
    name_download(response, f"{record.kind}-{record.id}.zip")
    return response


def _of_use(files: Iterable[Artifact]) -> list[Artifact]:
    """Return the files that somebody takes along; a page plays the others."""
    return [a for a in files if not a.path.startswith(f"{FILMS}/")]


def zip_of(
    job_service: JobService, files: Iterable[Artifact], instead: Mapping[str, bytes] | None = None
) -> Iterator[bytes]:
    """Yield files of a job as a ZIP, some of them as they are given `instead`."""
    by_path = {a.path: a for a in files}
    given = instead or {}

    def read(path: str) -> bytes:
        return given[path] if path in given else job_service.store.read(by_path[path])

    return stream_zip(by_path, read)


def answer_made(request: Request, data: bytes, path: str, headers: Mapping[str, str]) -> Response:
    """Answer GET of a file of a result that was put together just now."""
    tag = f'"{digest(data)}"'
    headers = {**headers, "ETag": tag, "Content-Security-Policy": HARMLESS}
    if tag_matches(request.headers.get("if-none-match"), tag):
        return Response(status_code=304, headers=headers)
    response = Response(data, 200, headers, MEDIA_TYPES[PurePosixPath(path).suffix])
    name_download(response, PurePosixPath(path).name)
    return response


async def _record(job_service: JobService, kind: str, id_: str) -> JobRecord:
    record = await job_service.look_up(id_)
    if record.kind != kind:
        raise NotFound("job", id_)
    if record.failure is not None:
        raise error_from_facts(record.failure)
    return record


def made_document(job_service: JobService, record: JobRecord) -> dict[str, Any]:
    """Return the document of a job: headline first, then all that it says, then its files."""
    known = {"id": record.id, "kind": record.kind, **(record.headline or {})}
    if record.kind in ("stack", "check", "plan"):
        known["recipe_version"] = version_of_result(record, job_service.store)
    found = _read(job_service, record, record.document or "")
    if record.artifact("findings.json") is not None:
        found["findings"] = _read(job_service, record, "findings.json")["findings"]
    links = {"self": _url(record), "zip": f"{_url(record)}.zip"}
    files = [_file(record, artifact) for artifact in record.artifacts]
    return known | found | known | {"links": links, "files": files}


def _read(job_service: JobService, record: JobRecord, path: str) -> dict[str, Any]:
    artifact = record.artifact(path)
    if artifact is None:
        raise LetterplyError(f"The result has no {path}.", code="artifact-damaged")
    value: dict[str, Any] = json.loads(job_service.store.read(artifact))
    return value


def _file(record: JobRecord, artifact: Artifact) -> dict[str, Any]:
    suffix = PurePosixPath(artifact.path).suffix
    return {
        "path": artifact.path,
        "url": f"{_url(record)}/files/{quote(artifact.path)}",
        "media_type": MEDIA_TYPES.get(suffix, "application/octet-stream"),
        # The document of a result never changes: what is made later stays without.
        "size_bytes": None if artifact.later else artifact.size,
        "digest": None if artifact.later else artifact.digest,
        "held_back": _held_back(record, artifact),
    }


def _held_back(record: JobRecord, artifact: Artifact) -> bool:
    """Whether the file is a program that has not passed its proof."""
    proved = bool((record.headline or {}).get("proved"))
    return artifact.path.startswith("programs/") and not proved


def _url(record: JobRecord) -> str:
    return f"/v1/{plural(record.kind)}/{record.id}"


def tag_of(record: JobRecord, *what: str) -> str:
    """Return the entity tag of what a job made, or of one form of it."""
    # The document also holds what this version of the service adds to it.
    made = [a.digest for a in record.artifacts if not a.later]
    facts = [__version__, record.id, made, record.answer, list(what)]
    return f'"{digest(canonical_json(facts))}"'


def _no_file(path: str, known: list[str]) -> LetterplyError:
    missing = NotFound("file", path)
    missing.data["known"] = known
    return missing


def name_download(response: Response, name: str) -> None:
    """Say that an answer is a file to be saved, and under which name."""
    if response.status_code in (200, 206):
        safe = re.sub(r"[^A-Za-z0-9._-]", "_", name)
        response.headers["Content-Disposition"] = f'attachment; filename="{safe}"'
