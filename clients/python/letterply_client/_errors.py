"""What can go wrong, as a tree.

    ClientError               base of all
    ├── Problem               the service answered that it cannot (RFC 9457)
    │   ├── InputProblem      the request cannot be met as written; names the field
    │   ├── NotFoundProblem   there is no such thing
    │   ├── AccessProblem     the API key is missing or does not reach
    │   ├── ConflictProblem   it does not go with the present state
    │   └── ServiceProblem    a fault, or a limit, of the service
    ├── NotReachable          no service answered
    ├── TimedOut              no answer in time
    ├── BadAnswer             the answer is not one of a letterply service
    └── ServiceFailed         a private service could not be started

Errors of httpx are translated here, once. Mistakes of the programmer stay what they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import httpx

__all__ = [
    "AccessProblem",
    "BadAnswer",
    "ClientError",
    "ConflictProblem",
    "InputProblem",
    "NotFoundProblem",
    "NotReachable",
    "Problem",
    "ServiceFailed",
    "ServiceProblem",
    "TimedOut",
    "problem_from",
    "translated",
]


class ClientError(Exception):
    """Base of all errors of this package."""


class Problem(ClientError):
    """The service answered that it cannot.

    Attributes:
        status: HTTP status.
        code: stable name of the problem; branch on this.
        title: what kind of problem it is.
        detail: what is wrong this time.
        field: dotted path of the field that is wrong, or None.
        expected: what would be right, in words, or None.
        data: the whole problem document.

    """

    def __init__(self, document: Mapping[str, Any], status: int) -> None:
        self.status = status
        self.code = str(document.get("code", "unknown"))
        self.title = str(document.get("title", ""))
        self.detail = str(document.get("detail", self.title))
        self.field: str | None = document.get("field")
        self.expected: str | None = document.get("expected")
        self.data = dict(document)
        super().__init__(self.detail)

    def __str__(self) -> str:
        where = f" ({self.field})" if self.field else ""
        wanted = f" Expected: {self.expected}." if self.expected else ""
        return f"{self.detail}{where}{wanted}"


class InputProblem(Problem):
    """The request cannot be met as written."""


class NotFoundProblem(Problem):
    """There is no such thing."""


class AccessProblem(Problem):
    """The API key is missing or does not reach that far."""


class ConflictProblem(Problem):
    """It does not go with the present state."""


class ServiceProblem(Problem):
    """A fault, or a limit, of the service."""


class NotReachable(ClientError):
    """No service answered."""


class TimedOut(ClientError):
    """No answer in time."""


class BadAnswer(ClientError):
    """The answer is not one of a letterply service."""


class ServiceFailed(ClientError):
    """A private service could not be started."""


_BY_STATUS: dict[int, type[Problem]] = {
    401: AccessProblem,
    403: AccessProblem,
    404: NotFoundProblem,
    409: ConflictProblem,
}


def problem_from(document: Mapping[str, Any], status: int) -> Problem:
    """Return a problem document as the error that fits its status."""
    usual = InputProblem if status < 500 else ServiceProblem
    return _BY_STATUS.get(status, usual)(document, status)


def translated(exc: httpx.HTTPError | httpx.InvalidURL, url: str) -> ClientError:
    """Return an error of httpx as one of ours, the most specific one."""
    if isinstance(exc, httpx.TimeoutException):
        return TimedOut(f"The service at {url} did not answer in time.")
    if isinstance(exc, httpx.DecodingError | httpx.TooManyRedirects):
        return BadAnswer(f"What answered at {url} does not make sense: {exc}")
    if isinstance(exc, httpx.TransportError | httpx.InvalidURL):
        return NotReachable(f"No service answers at {url}: {exc}")
    return BadAnswer(f"What answered at {url} does not make sense: {exc}")
