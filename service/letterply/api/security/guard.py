"""The guard: who may come in.

With API keys, every path but a few open ones needs a key whose scope reaches: `read` to ask,
`write` to have something made. Without keys, only this machine is served. That is checked for
each request, by the address that it reached, by the name that it was sent to (a page on the web
may point its own name at this machine) and by the origin of the page that sends it.
"""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from letterply.api.http.problems import HttpProblem, problem_response
from letterply.api.settings import ApiKey, is_loopback
from letterply.errors import LetterplyError

__all__ = ["Guard"]

_OPEN = ("/health", "/problems", "/docs", "/openapi.json", "/page", "/offer")
_CUSTOMERS = "/offer/"
"""Below it an unguessable link is the key: it opens one offer and nothing else."""
_READING = ("GET", "HEAD", "OPTIONS")


@dataclass(frozen=True, slots=True)
class Guard:
    """Lets a request in or answers why not."""

    app: ASGIApp
    keys: tuple[ApiKey, ...]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "http":
            refusal = self._with_keys(scope) if self.keys else _on_this_machine(scope)
            if refusal is not None:
                instance = f"urn:uuid:{scope['state']['request_id']}"
                await problem_response(refusal, instance)(scope, receive, send)
                return
        await self.app(scope, receive, send)

    def _with_keys(self, scope: Scope) -> LetterplyError | None:
        path = scope["path"]
        # The page itself tells nothing; what it asks for needs a key.
        if path == "/" or any(path == p or path.startswith(f"{p}/") for p in _OPEN):
            return None
        scheme, _, secret = Headers(scope=scope).get("authorization", "").partition(" ")
        key = self._find(secret.strip()) if scheme.lower() == "bearer" else None
        if key is None:
            return HttpProblem(
                "The request has no API key, or one that is not known.",
                code="missing-key",
                expected="Authorization: Bearer <secret>",
            )
        scope["state"]["key_name"] = key.name
        needed = "read" if scope["method"] in _READING else "write"
        if needed not in key.scopes:
            return HttpProblem(
                f"The API key {key.name!r} may not {needed}.",
                code="insufficient-scope",
                data={"needed": needed},
            )
        return None

    def _find(self, secret: str) -> ApiKey | None:
        # Digests are compared, all of them: the time taken tells nothing of any secret.
        offered = hashlib.sha256(secret.encode()).digest()
        found = None
        for key in self.keys:
            held = hashlib.sha256(key.secret.get_secret_value().encode()).digest()
            if hmac.compare_digest(held, offered):
                found = key
        return found


def _on_this_machine(scope: Scope) -> LetterplyError | None:
    headers = Headers(scope=scope)
    server = scope.get("server")
    host = headers.get("host", "")
    origin = headers.get("origin")
    reached = server is None or server[1] is None or is_loopback(server[0])
    named = is_loopback(_bare(host))
    # The customer's page has no referrer, so a browser names no origin for what it sends; nor would
    # another page gain by sending something there: it would have to know the link.
    for_customer = scope["path"].startswith(_CUSTOMERS)
    of_ours = origin is None or origin.partition("://")[2] == host or for_customer
    if reached and named and of_ours:
        return None
    return HttpProblem(
        "Without API keys this service answers on its own machine only.",
        code="loopback-only",
        expected="a client on the same machine, or API keys in the settings of the service",
    )


def _bare(host: str) -> str:
    """Return a Host header without its port."""
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.partition(":")[0]
