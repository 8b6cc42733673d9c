"""Answers that never change under their address: entity tags, conditions and ranges (RFC 9110).

Conditions are looked at in the order of section 13.2.2: `If-Match`, `If-None-Match`, then `Range`
with `If-Range`. One range of bytes is answered; several are not, which section 14.2 allows: then
the whole is sent.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator
from typing import IO

from fastapi import Request, Response
from fastapi.responses import StreamingResponse

from letterply.api.http.negotiation import tag_matches
from letterply.api.http.problems import HttpProblem

__all__ = ["FOR_EVER", "answer_bytes", "answer_stream", "require_match"]

FOR_EVER = "private, max-age=31536000, immutable"
_RANGE = re.compile(r"bytes\s*=\s*(?:(\d{1,18})-(\d{0,18})|-(\d{1,18}))\s*", re.ASCII)
_CHUNK = 256 * 1024


def require_match(request: Request, tag: str) -> None:
    """Raise `precondition-failed` where `If-Match` names another entity tag than this one."""
    wanted = request.headers.get("if-match")
    if wanted is None:
        return
    found = [item.strip() for item in wanted.split(",")]  # strongly: a weak tag matches nothing
    if tag not in found and found != ["*"]:
        raise HttpProblem(
            "It is not what `If-Match` takes it for.",
            code="precondition-failed",
            field="If-Match",
            expected=tag,
        )


async def answer_bytes(
    request: Request,
    tag: str,
    body: Callable[[], bytes],
    media_type: str,
    *,
    cache: str = FOR_EVER,
) -> Response:
    """Answer GET of bytes that are made by `body`, on a thread, if they are needed."""
    headers = {"ETag": tag, "Cache-Control": cache, "Accept-Ranges": "bytes"}
    require_match(request, tag)
    if tag_matches(request.headers.get("if-none-match"), tag):
        return Response(status_code=304, headers=headers)
    data = await asyncio.to_thread(body)
    span = _span(request, tag, len(data))
    if span is None:
        return Response(data, 200, headers, media_type)
    return Response(data[span.start : span.stop], 206, headers | _said(span, len(data)), media_type)


async def answer_stream(
    request: Request,
    tag: str,
    chunks: Callable[[], Iterable[bytes]],
    media_type: str,
    *,
    headers: dict[str, str],
) -> Response:
    """Answer GET of a long file that is made as it is sent.

    For a range of it, it is made whole, on the disk: only then its size is known.
    """
    headers = {"ETag": tag, "Cache-Control": FOR_EVER, "Accept-Ranges": "bytes", **headers}
    require_match(request, tag)
    if tag_matches(request.headers.get("if-none-match"), tag):
        return Response(status_code=304, headers=headers)
    if not _asks_for_part(request, tag):
        return StreamingResponse(chunks(), media_type=media_type, headers=headers)
    file, size = await asyncio.to_thread(_written, chunks())
    try:
        span = _span(request, tag, size)
    except BaseException:
        file.close()
        raise
    chosen = range(size) if span is None else span
    if span is not None:
        headers |= _said(span, size)
    headers["Content-Length"] = str(len(chosen))
    return StreamingResponse(
        _part_of(file, chosen), 206 if span is not None else 200, headers, media_type
    )


def _asks_for_part(request: Request, tag: str) -> bool:
    """Whether a range is asked for that counts: one, and of what this still is."""
    wanted = request.headers.get("range")
    condition = request.headers.get("if-range")
    return (
        request.method == "GET"
        and wanted is not None
        and _RANGE.fullmatch(wanted) is not None
        and condition in (None, tag)
    )


def _span(request: Request, tag: str, size: int) -> range | None:
    """Return the bytes that are asked for; None for all. Raises `range-not-satisfiable`."""
    if not _asks_for_part(request, tag):
        return None
    found = _RANGE.fullmatch(request.headers["range"])
    if found is None:
        return None
    first, last, suffix = found.groups()
    if suffix is not None:
        span = range(max(0, size - int(suffix)), size)
    else:
        if last and int(last) < int(first):
            return None  # no range at all (section 14.1.1): as if it were not there
        span = range(int(first), min(size, int(last) + 1) if last else size)
    if not len(span):
        raise HttpProblem(
            f"The file has {size} bytes; the range lies outside.",
            code="range-not-satisfiable",
            field="Range",
            data={"size_bytes": size},
        )
    return span


def _said(span: range, size: int) -> dict[str, str]:
    return {"Content-Range": f"bytes {span.start}-{span.stop - 1}/{size}"}


def _written(chunks: Iterable[bytes]) -> tuple[IO[bytes], int]:
    file = tempfile.TemporaryFile()  # noqa: SIM115 - closed by who sends it
    try:
        for chunk in chunks:
            file.write(chunk)
        return file, file.tell()
    except BaseException:
        file.close()
        raise


def _part_of(file: IO[bytes], span: range) -> Iterator[bytes]:
    with file:
        file.seek(span.start)
        left = len(span)
        while left:
            chunk = file.read(min(_CHUNK, left))
            left -= len(chunk)
            yield chunk
