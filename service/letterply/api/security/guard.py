"""The guard: who may come in, whose things are asked for, and how often.

A key opens what belongs to its owner, as far as its scopes reach: `read` to ask, `write` to have
something made or deleted, `metrics` to watch, `admin` for all of it, for the keys themselves, and
for whatever owner the request names (`Letterply-Owner`). Keys are in the store, where they are made
and revoked while the service runs, or in its settings.

As long as there are no keys, only this machine is served, and all belongs to one owner. That is
checked for each request, by the address that it reached, by the name that it was sent to (a page on
the web may point its own name at this machine) and by the origin of the page that sends it. From
the first key on, one is asked for.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from letterply.api.http.problems import HttpProblem, problem_response
from letterply.api.security.limits import RequestRate
from letterply.api.settings import ApiKey, is_loopback
from letterply.errors import LetterplyError, OverAllowance
from letterply.storage import HOUSE, AccessKey, AccessKeys, Allowance, is_owner

__all__ = ["OWNER_HEADER", "Guard", "needed_scope"]

OWNER_HEADER = "Letterply-Owner"

_OPEN = ("/health", "/problems", "/docs", "/openapi.json", "/page", "/offer")
_ADMIN = ("/v1/keys",)
_CUSTOMERS = "/offer/"
"""Below it an unguessable link is the key: it opens one offer and nothing else."""
_READING = ("GET", "HEAD", "OPTIONS")
_HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._~!$&'()*+,;=%-]*)(:[0-9]*)?")
"""RFC 9110, section 7.2: name or address and port, never user information before an `@`."""


@dataclass(frozen=True, slots=True)
class Guard:
    """Lets a request in or answers why not.

    Args:
        app: what comes next.
        keys: of the settings.
        access: gives the keys of the store, once it is open.
        allowance: what an owner may use, where keys are asked for.
        always: ask for a key even if there is none.
        rate: counts the requests of owners.

    """

    app: ASGIApp
    keys: tuple[ApiKey, ...]
    access: Callable[[], AccessKeys | None] = lambda: None
    allowance: Callable[[str], Allowance] = lambda owner: Allowance()
    always: bool = False
    rate: RequestRate = field(default_factory=RequestRate)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "http":
            try:
                await self._let_in(scope)
            except LetterplyError as refusal:
                instance = f"urn:uuid:{scope['state']['request_id']}"
                await problem_response(refusal, instance)(scope, receive, send)
                return
        await self.app(scope, receive, send)

    async def _let_in(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        if _HOST.fullmatch(headers.get("host", "")) is None:
            raise HttpProblem(
                "The Host header names no host.", code="bad-host", expected="name or name:port"
            )
        state = scope["state"]
        state |= {"owner": HOUSE, "allowance": Allowance()}
        needed = needed_scope(scope["path"], scope["method"])
        if needed is None and _on_this_machine(scope, headers):
            return  # without asking the store: that the service lives is told while it is away
        if self.keys or self.always or await self._any_stored():
            if needed is None:
                return
            key = await self._with_key(needed, headers)
            state["key_name"] = key.name
            state["owner"] = _owner(key, headers)
            state["allowance"] = self.allowance(state["owner"])
            self._count(state["owner"], state["allowance"])
        else:
            if not _on_this_machine(scope, headers):
                raise HttpProblem(
                    "Without API keys this service answers on its own machine only.",
                    code="loopback-only",
                    expected="a client on the same machine, or a key (`letterply keys make`)",
                )
            if headers.get(OWNER_HEADER) is not None:
                state["owner"] = _named_owner(headers)

    async def _with_key(self, needed: str, headers: Headers) -> AccessKey:
        """Return the key of a request, whose scopes reach as far as is needed."""
        scheme, _, secret = headers.get("authorization", "").partition(" ")
        key = await self._find(secret.strip()) if scheme.lower() == "bearer" else None
        if key is None or not key.valid:
            raise HttpProblem(
                "The request has no API key, or one that is not known or not valid any more.",
                code="missing-key",
                expected="Authorization: Bearer <secret>",
            )
        if not key.reaches(needed):
            raise HttpProblem(
                f"The API key {key.name!r} may not do this: it has no scope {needed!r}.",
                code="insufficient-scope",
                data={"needed": needed},
            )
        return key

    async def _any_stored(self) -> bool:
        access = self.access()
        if access is None:
            return False
        known = access.any_known
        return known if known is not None else await asyncio.to_thread(access.any)

    async def _find(self, secret: str) -> AccessKey | None:
        # Digests are compared, all of them: the time taken tells nothing of any secret.
        offered = hashlib.sha256(secret.encode("utf-8", "surrogatepass")).digest()
        found = None
        for key in self.keys:
            held = hashlib.sha256(key.secret.get_secret_value().encode()).digest()
            if hmac.compare_digest(held, offered):
                found = key.access
        access = self.access()
        if found is None and secret and access is not None:
            found = await asyncio.to_thread(access.find, secret)
        return found

    def _count(self, owner: str, allowance: Allowance) -> None:
        wait_s = self.rate.wait_s(owner, allowance.requests_per_minute)
        if wait_s > 0:
            raise OverAllowance(
                f"{owner!r} sends more than {allowance.requests_per_minute} requests a minute.",
                code="too-many-requests",
                expected="the same request after the time in Retry-After",
                data={"limit": allowance.requests_per_minute, "retry_after_s": math.ceil(wait_s)},
            )


def needed_scope(path: str, method: str) -> str | None:
    """Return the scope that a request needs; None where it needs no key.

    >>> [needed_scope(*r) for r in (("/docs", "GET"), ("/v1/keys/1", "GET"), ("/metrics", "GET"))]
    [None, 'admin', 'metrics']
    >>> needed_scope("/v1/plans", "GET"), needed_scope("/v1/plans", "POST")
    ('read', 'write')

    """
    # The page itself tells nothing; what it asks for needs a key.
    if path == "/" or _below(path, _OPEN):
        return None
    if _below(path, _ADMIN):
        return "admin"
    if _below(path, ("/metrics",)):
        return "metrics"
    return "read" if method in _READING else "write"


def _below(path: str, prefixes: Sequence[str]) -> bool:
    return any(path == p or path.startswith(f"{p}/") for p in prefixes)


def _owner(key: AccessKey, headers: Headers) -> str:
    if headers.get(OWNER_HEADER) is None:
        return key.owner
    if not key.reaches("admin"):
        raise HttpProblem(
            f"The API key {key.name!r} may not speak for another owner.",
            code="insufficient-scope",
            data={"needed": "admin"},
        )
    return _named_owner(headers)


def _named_owner(headers: Headers) -> str:
    owner = headers[OWNER_HEADER]
    if not is_owner(owner):
        raise HttpProblem(
            "The name of the owner cannot be used.",
            code="bad-owner",
            field=OWNER_HEADER,
            expected="small letters, digits, dots and dashes, 60 at most",
        )
    return owner


def _on_this_machine(scope: Scope, headers: Headers) -> bool:
    server = scope.get("server")
    host = headers.get("host", "")
    origin = headers.get("origin")
    reached = server is None or server[1] is None or is_loopback(server[0])
    named = is_loopback(_bare(host))
    # The customer's page has no referrer, so a browser names no origin for what it sends; nor would
    # another page gain by sending something there: it would have to know the link.
    for_customer = scope["path"].startswith(_CUSTOMERS)
    of_ours = origin is None or origin.partition("://")[2] == host or for_customer
    return reached and named and of_ours


def _bare(host: str) -> str:
    """Return a Host header without its port."""
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.partition(":")[0]
