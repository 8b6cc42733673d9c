"""What a call is: everything but the talking itself.

Each call is a generator, under the name of the method that carries it out. It yields what is to be
done (`Ask` the service, `Pause`, `Work` with files) and is sent what came of it; what it returns is
the result. The two clients drive the same generators, one on threads, one on an event loop. The
calls themselves: `_making`, `_files`, `_library`, `_shops`, `_orders`, `_offers`, `_webhooks`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from letterply_client._arriving import Arriving, pause_s
from letterply_client._errors import BadAnswer, NotReachable, problem_from

__all__ = ["Answer", "Ask", "Call", "Pause", "Work", "ask"]

T = TypeVar("T")

_LOOK_EVERY_S = 1
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
