"""What every request passes through, outermost first: log, guard, head, body limit.

Plain ASGI, one concern each. The guard is in `letterply.api.security.guard`.
"""

from __future__ import annotations

import asyncio
import logging
import time
import uuid
from collections.abc import Mapping
from dataclasses import dataclass

from starlette.datastructures import MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from letterply.api.http.metrics import Metrics
from letterply.api.http.problems import HttpProblem, problem_response
from letterply.units import read_whole

__all__ = ["BodyLimit", "HeadAsGet", "RequestLog"]

_DRAINED_BYTES = 100_000_000
"""How much of a body that is too large is read and forgotten before the line is cut."""

_HUNG_UP = 499
"""Status in log and metrics of a request whose client went away before all of it was here. No
standard has one; it is neither an answer nor a failure of ours."""

_log = logging.getLogger("letterply.requests")


@dataclass(frozen=True, slots=True)
class RequestLog:
    """Gives each request an id, a line in the log and a place in the metrics.

    The last to see an unforeseen error: it goes to the log with its trace, and the client gets a
    problem that says nothing of it.
    """

    app: ASGIApp
    metrics: Metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request_id = str(uuid.uuid4())
        scope.setdefault("state", {})["request_id"] = request_id
        began = time.perf_counter()
        status = 0

        async def watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                headers = MutableHeaders(scope=message)
                headers["X-Request-Id"] = request_id
                headers["X-Content-Type-Options"] = "nosniff"
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except ClientDisconnect:
            status = _HUNG_UP  # nobody is there to be answered
        except asyncio.CancelledError:
            # The service stops and has waited for long enough: an answer, and no trace.
            if not status:
                stops = HttpProblem("The service stops.", code="service-stopping")
                await problem_response(stops, f"urn:uuid:{request_id}")(scope, receive, watched)
        except Exception:
            _log.exception("unforeseen error", extra={"request_id": request_id})
            if status:
                raise  # the answer has begun: the connection must break
            problem = HttpProblem("The service failed on this request.", code="internal-error")
            response = problem_response(problem, f"urn:uuid:{request_id}")
            await response(scope, receive, watched)
        finally:
            self._note(scope, request_id, status, time.perf_counter() - began)

    def _note(self, scope: Scope, request_id: str, status: int, seconds: float) -> None:
        route = getattr(scope.get("route"), "path", "none")
        labels = {"method": scope["method"], "route": route}
        self.metrics.count(
            "letterply_requests_total", "Requests answered.", **labels, status=str(status)
        )
        self.metrics.observe(
            "letterply_request_seconds", "Time to answer a request.", seconds, **labels
        )
        _log.info(
            "request",
            extra={
                "request_id": request_id,
                "method": scope["method"],
                "path": _told(scope["path"]),
                "status": status,
                "duration_s": round(seconds, 4),
                "key": scope["state"].get("key_name"),
            },
        )


def _told(path: str) -> str:
    """Return a path as the log may have it: a customer's link is a secret."""
    return "/offer/…" if path.startswith("/offer/") else path


@dataclass(frozen=True, slots=True)
class HeadAsGet:
    """Answers HEAD as GET without the body."""

    app: ASGIApp

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def bodiless(message: Message) -> None:
            if message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        await self.app({**scope, "method": "GET"}, receive, bodiless)


@dataclass(frozen=True, slots=True)
class BodyLimit:
    """Stops reading a body once it is larger than its path may take.

    Args:
        app: what comes next.
        limit_bytes: for every path, but
        limits: path -> limit for these.

    """

    app: ASGIApp
    limit_bytes: int
    limits: Mapping[str, int]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        limit = self.limits.get(scope["path"].rstrip("/"), self.limit_bytes)
        header = dict(scope["headers"]).get(b"content-length", b"")
        stated = read_whole(header.decode("latin-1")) or 0
        too_large = HttpProblem(
            f"The body is larger than {limit} bytes.",
            code="body-too-large",
            expected=f"at most {limit} bytes",
            data={"limit_bytes": limit},
        )
        if stated > limit:
            if stated <= _DRAINED_BYTES:
                await _drain(receive)
            request_id = scope["state"]["request_id"]
            await problem_response(too_large, f"urn:uuid:{request_id}")(scope, receive, send)
            return
        seen = 0

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            if message["type"] == "http.request":
                seen += len(message.get("body", b""))
                if seen > limit:
                    if message.get("more_body", False):
                        await _drain(receive)
                    raise too_large
            return message

        await self.app(scope, counted, send)


async def _drain(receive: Receive) -> None:
    """Read on and forget: who is still sending would not see the answer."""
    drained = 0
    while drained <= _DRAINED_BYTES:
        message = await receive()
        drained += len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body", False):
            return
