"""What is said to the service and how answers are read: everything but the talking itself.

Each call is a generator. It yields what is to be done (`Ask` the service, `Pause`, `Work` with
files) and is sent what came of it; what it returns is the result. The two clients drive the same
generators, one on threads, one on an event loop.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Generator, Iterable, Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatch
from functools import partial
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import quote, urlencode

from letterply_client._arriving import Arriving, Fetched, pause_s
from letterply_client._errors import BadAnswer, NotReachable, TimedOut, problem_from
from letterply_client._folders import Replacement, local_paths
from letterply_client._results import Entry, File, Progress, Result

__all__ = ["Answer", "Ask", "Call", "Pause", "Work", "ask", "result_of"]

T = TypeVar("T")

_NOT_KNOWN: Mapping[str, Any] = {}
_OCTETS = {"Content-Type": "application/octet-stream"}
_LOOK_EVERY_S = 1
_WAIT_S = 20
_BUSY_PAUSES = 5
_NOT_NOW = (429, 503)


@dataclass(frozen=True, slots=True)
class Ask:
    """Send a request.

    Attributes:
        method, path, headers, params, content: of it.
        into: where a good answer's body goes, piece by piece; None to have it in memory.
        once: whether sending it a second time would make a second thing.
        patient: whether it is sent again where nothing answers: another service may in a moment.

    """

    method: str
    path: str
    headers: Mapping[str, str] = field(default_factory=dict)
    params: Mapping[str, str] = field(default_factory=dict)
    content: bytes | None = None
    into: Arriving | None = None
    once: bool = False
    patient: bool = False


@dataclass(frozen=True, slots=True)
class Pause:
    """Wait."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Work:
    """Do something that takes a while: with the files of this machine."""

    do: Callable[[], None]


@dataclass(frozen=True, slots=True)
class Answer:
    """What the service answered."""

    status: int
    headers: Mapping[str, str]
    content: bytes

    def json(self) -> Any:
        """Return the body as JSON; raises `BadAnswer`."""
        try:
            return json.loads(self.content)
        except ValueError as exc:
            raise BadAnswer(f"Status {self.status} came without JSON.") from exc


Call = Generator[Ask | Pause | Work, Any, T]


def ask(request: Ask) -> Call[Answer]:
    """Ask, and raise what is answered as a problem.

    Where the answer is that it is not the time, ask again after what `Retry-After` says, a few
    times; not where a second asking would make a second thing, nor where the pause is too long.
    Where nothing answers a patient request, it is sent again, too.
    """
    for pauses in range(_BUSY_PAUSES + 1):
        answer: Answer | NotReachable = yield request
        if isinstance(answer, NotReachable):
            if pauses == _BUSY_PAUSES:
                raise answer
            yield Pause(_LOOK_EVERY_S * 2.0**pauses)
            continue
        if answer.status not in _NOT_NOW or request.once or pauses == _BUSY_PAUSES:
            break
        pause = pause_s(answer.headers.get("retry-after", ""))
        if pause is None:
            break
        yield Pause(pause)
    assert isinstance(answer, Answer)
    if answer.status >= 400:
        kind = answer.headers.get("content-type", "").partition(";")[0]
        if kind != "application/problem+json":
            raise BadAnswer(f"Status {answer.status} came without a problem document.")
        raise problem_from(answer.json(), answer.status)
    return answer


def make(
    kind: str,
    request: Mapping[str, Any],
    *,
    progress: Callable[[Progress], None] | None,
    limit_s: float,
    key: str | None,
) -> Call[Result]:
    """Have something made and wait for it."""
    began = time.monotonic()

    def tell(state: str, far: Mapping[str, Any] = _NOT_KNOWN) -> None:
        if progress is None:
            return
        phase, step, steps = far.get("phase", ""), far.get("step", 0), far.get("steps", 0)
        elapsed_s = time.monotonic() - began
        progress(Progress(state, elapsed_s, far.get("share"), None, phase, step, steps))

    wait_s = _LOOK_EVERY_S if progress is not None else _WAIT_S
    headers = {"Content-Type": "application/json", "Prefer": f"respond-async, wait={wait_s}"}
    if key is not None:
        headers["Idempotency-Key"] = f'"{key}"'
    body = json.dumps(request, allow_nan=False).encode()
    tell("sent")
    answer = yield from ask(Ask("POST", f"/v1/{kind}s", headers, content=body))
    if answer.status == 202:
        job = answer.json()
        while job["state"] in ("queued", "running"):
            tell(job["state"], job.get("progress") or _NOT_KNOWN)
            if time.monotonic() - began > limit_s:
                raise TimedOut(f"The {kind} was not finished within {limit_s:g} s.")
            wish = {"Prefer": f"wait={wait_s}"}
            look = Ask("GET", job["links"]["self"], wish, patient=True)
            job = (yield from ask(look)).json()
        if job["state"] == "failed":
            raise problem_from(job["problem"], job["problem"]["status"])
        answer = yield from ask(Ask("GET", job["links"]["result"], {"Accept": "application/json"}))
    tell("done")
    return result_of(answer)


def preview(
    recipe: Mapping[str, Any], client: str | None, shop: Mapping[str, Any] | str | None
) -> Call[Mapping[str, Any]]:
    """Return the layers of a recipe, not checked and not kept."""
    wishes = {k: v for k, v in (("client", client), ("shop", shop)) if v}
    body = json.dumps({"recipe": dict(recipe), **wishes})
    headers = {"Content-Type": "application/json"}
    answer = yield from ask(Ask("POST", "/v1/previews", headers, content=body.encode()))
    found: Mapping[str, Any] = answer.json()
    return found


def prove(
    plan: str, programs: Mapping[str, str], shop: Mapping[str, Any] | str | None
) -> Call[Mapping[str, Any]]:
    """Return the proof of a plan's programs as they are now."""
    wishes = {"shop": shop} if shop else {}
    body = json.dumps({"plan": plan, "programs": dict(programs), **wishes})
    headers = {"Content-Type": "application/json"}
    answer = yield from ask(Ask("POST", "/v1/proofs", headers, content=body.encode()))
    found: Mapping[str, Any] = answer.json()
    return found


def get(kind: str, id_: str) -> Call[Result]:
    """Return a result that was made before."""
    path = f"/v1/{kind}s/{id_}"
    return result_of((yield from ask(Ask("GET", path, {"Accept": "application/json"}))))


def result_of(answer: Answer) -> Result:
    """Return the result that an answer describes; raises `BadAnswer`."""
    try:
        return Result.from_document(answer.json())
    except (KeyError, TypeError, AttributeError) as exc:
        raise BadAnswer(f"The result lacks {exc}.") from exc


def fetch(file: File, *, accept_unproved: bool) -> Call[bytes]:
    """Return the bytes of a file, checked against their digest."""
    params = {"override": "accept-unproved"} if accept_unproved and file.held_back else {}
    answer = yield from ask(Ask("GET", file.url, params=params))
    told = file.digest or answer.headers.get("etag", "").strip('"')
    if hashlib.blake2b(answer.content, digest_size=16).hexdigest() != told:
        raise BadAnswer(f"{file.path} did not arrive as it was sent.")
    return answer.content


def save(
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
    params = {"override": "accept-unproved"} if accept_unproved and file.held_back else {}
    into = Arriving(path, told)
    try:
        answer = yield from ask(Ask("GET", file.url, params=params, into=into))
        expected = file.digest or answer.headers.get("etag", "").strip('"')
        if into.digest != expected:
            raise BadAnswer(f"{file.path} did not arrive as it was sent.")
        yield Work(into.keep)
    finally:
        into.drop()
    return into.digest


def download(
    result: Result,
    folder: Path,
    *,
    only: Iterable[str] | None,
    accept_unproved: bool,
    progress: Callable[[Progress], None] | None = None,
) -> Call[tuple[Path, ...]]:
    """Write the files of a result below a folder, in the place of those of an earlier one.

    Films, which are there for a page to play, only where they are named.
    """
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
        digest = yield from save(
            file,
            replacement.place_of(path),
            accept_unproved=accept_unproved,
            told=partial(fetched.tell, file),
        )
        replacement.added(path, digest)
        fetched.over()
    yield Work(replacement.end)
    return tuple(folder / path for path in replacement.paths)


def entries(collection: str, shop: str | None = None) -> Call[tuple[Entry, ...]]:
    """Return all of a list, page by page."""
    found: list[Entry] = []
    first = f"/v1/{collection}"
    path: str | None = f"{first}?{urlencode({'shop': shop})}" if shop else first
    while path is not None:
        page = (yield from ask(Ask("GET", path))).json()
        found += [_entry(item) for item in page["items"]]
        path = page.get("next")
    return tuple(found)


def entry(collection: str, key: str) -> Call[Entry]:
    """Return one of a list."""
    return _entry((yield from ask(Ask("GET", f"/v1/{collection}/{key}"))).json())


def template(key: str, wishes: Mapping[str, str | None]) -> Call[Entry]:
    """Return a template with words of one's own in it."""
    return _entry((yield from ask(Ask("GET", _template(key, "", wishes)))).json())


def template_file(key: str, wishes: Mapping[str, str | None]) -> Call[str]:
    """Return a template as TOML with comments."""
    answer = yield from ask(Ask("GET", _template(key, ".toml", wishes)))
    return answer.content.decode()


def _template(key: str, suffix: str, wishes: Mapping[str, str | None]) -> str:
    given = {name: value for name, value in wishes.items() if value is not None}
    return f"/v1/templates/{quote(key, safe='')}{suffix}?{urlencode(given)}"


def _entry(item: Mapping[str, Any]) -> Entry:
    return Entry(item["key"], str(item.get("name") or item.get("family") or item["key"]), item)


def upload_font(data: bytes) -> Call[Entry]:
    """Add a font to the library."""
    return _entry((yield from ask(Ask("POST", "/v1/fonts", _OCTETS, content=data))).json())


def upload_artwork(data: bytes, wishes: Mapping[str, str | float | None]) -> Call[Entry]:
    """Take a drawing, or a picture and how it is to be traced."""
    given = urlencode({name: value for name, value in wishes.items() if value is not None})
    ask_for = Ask("POST", f"/v1/artworks?{given}", _OCTETS, content=data)
    return _entry((yield from ask(ask_for)).json())


def version() -> Call[str]:
    """Return the version of the service."""
    return str((yield from ask(Ask("GET", "/health/live"))).json()["version"])
