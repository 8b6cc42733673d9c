"""How the files of a result are fetched: in memory, one by one to disk, or all below a folder."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from fnmatch import fnmatch
from functools import partial
from pathlib import Path

from letterply_client._arriving import Arriving, Fetched
from letterply_client._calls import Ask, Call, Work, ask
from letterply_client._errors import BadAnswer
from letterply_client._folders import Replacement, local_paths
from letterply_client._results import File, Progress, Result

__all__ = ["download", "fetch", "save"]


def fetch(file: File, *, accept_unproved: bool = False) -> Call[bytes]:
    """Return the bytes of a file."""
    answer = yield from ask(Ask("GET", file.url, params=_params(file, accept_unproved)))
    told = file.digest or answer.headers.get("etag", "").strip('"')
    if hashlib.blake2b(answer.content, digest_size=16).hexdigest() != told:
        raise BadAnswer(f"{file.path} did not arrive as it was sent.")
    return answer.content


def save(file: File, path: Path | str, *, accept_unproved: bool = False) -> Call[None]:
    """Write one file of a result, piece by piece; it is there whole and checked or not."""
    yield from _save(file, Path(path), accept_unproved=accept_unproved)


def download(
    result: Result,
    folder: Path | str,
    *,
    only: Iterable[str] | None = None,
    accept_unproved: bool = False,
    progress: Callable[[Progress], None] | None = None,
) -> Call[tuple[Path, ...]]:
    """Write the files of a result below a folder; return where they are.

    Files of an earlier result in the folder are taken away first; files of others stay. Films,
    which are there for a page to play, come only where they are named.

    Args:
        result: what was made.
        folder: where to write.
        only: patterns of paths, as `layers/*.svg`; None for all files.
        accept_unproved: also take programs that have not passed their proof.
        progress: told how far it is, with each piece that arrives.

    Raises:
        FileExistsError: files of others, or changed ones, are in the way.

    """
    folder = Path(folder)
    patterns = None if only is None else tuple(only)

    def wanted(path: str) -> bool:
        if patterns is None:
            return not path.startswith("films/")
        return any(fnmatch(path, pattern) for pattern in patterns)

    chosen = [
        file
        for file in result.files
        if (accept_unproved or not file.held_back) and wanted(file.path)
    ]
    # Of all files: where one goes does not hang on which others are wanted.
    local = local_paths(file.path for file in result.files)
    replacement = Replacement(folder, result.id, tuple(local[f.path] for f in chosen))
    yield Work(replacement.begin)
    fetched = Fetched(chosen, progress)
    for file in chosen:
        path = local[file.path]
        digest = yield from _save(
            file,
            replacement.place_of(path),
            accept_unproved=accept_unproved,
            told=partial(fetched.tell, file),
        )
        replacement.added(path, digest)
        fetched.over()
    yield Work(replacement.end)
    return tuple(folder / path for path in replacement.paths)


def _save(
    file: File,
    path: Path,
    *,
    accept_unproved: bool,
    told: Callable[[int], None] = lambda size: None,
) -> Call[str]:
    """Write a file of a result, whole and checked or not at all; return its digest.

    Args:
        file: of the result.
        path: where to write it; what was there is replaced.
        accept_unproved: also a program that has not passed its proof.
        told: is told how many bytes there are of it so far.

    """
    into = Arriving(path, told)
    try:
        answer = yield from ask(
            Ask("GET", file.url, params=_params(file, accept_unproved), into=into)
        )
        expected = file.digest or answer.headers.get("etag", "").strip('"')
        if into.digest != expected:
            raise BadAnswer(f"{file.path} did not arrive as it was sent.")
        yield Work(into.keep)
    finally:
        into.drop()
    return into.digest


def _params(file: File, accept_unproved: bool) -> dict[str, str]:
    return {"override": "accept-unproved"} if accept_unproved and file.held_back else {}
