"""Traces: requests and jobs as spans (OpenTelemetry), sent by OTLP; off unless a URL is set.

A span says what was asked for by its route, never by its content: no recipe, name or key is in it.
A request goes on with the trace of who sent it (W3C Trace Context, `traceparent`). The packages are
the extra `traces`.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from letterply import __version__
from letterply.errors import LetterplyError

__all__ = ["RequestTrace", "Tracer", "open_tracer"]

_Facts = Mapping[str, str | int]


class Tracer:
    """Makes spans and hands them to an exporter, in batches and off the event loop.

    Args:
        exporter: of the OpenTelemetry packages.

    """

    def __init__(self, exporter: Any) -> None:
        from opentelemetry.sdk.resources import Resource
        from opentelemetry.sdk.trace import TracerProvider
        from opentelemetry.sdk.trace.export import BatchSpanProcessor
        from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator

        about = {"service.name": "letterply", "service.version": __version__}
        # A provider of its own: nothing of the process is changed.
        self._provider = TracerProvider(resource=Resource.create(about), shutdown_on_exit=False)
        self._provider.add_span_processor(BatchSpanProcessor(exporter))
        self._tracer = self._provider.get_tracer("letterply", __version__)
        self._parents = TraceContextTextMapPropagator()

    def request(self, method: str, headers: Mapping[str, str]) -> Any:
        """Return the span of a request as a context; it is ended when the context is left."""
        from opentelemetry.trace import SpanKind

        return self._tracer.start_as_current_span(
            method,
            context=self._parents.extract({"traceparent": headers.get("traceparent", "")}),
            kind=SpanKind.SERVER,
            record_exception=False,
        )

    def tell(self, name: str, seconds: float, facts: _Facts) -> None:
        """Tell of something that is over now; it belongs to the request that began it."""
        ended = time.time_ns()
        span = self._tracer.start_span(
            name, start_time=ended - int(seconds * 1e9), attributes=dict(facts)
        )
        span.end(ended)

    def close(self) -> None:
        """Send what was not sent yet."""
        self._provider.shutdown()


def open_tracer(url: str | None) -> Tracer | None:
    """Return what sends spans to a collector; None without its URL.

    Raises:
        LetterplyError: `bad-settings`, without the extra `traces`.

    """
    if url is None:
        return None
    try:
        from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    except ImportError as exc:
        raise LetterplyError(
            "LETTERPLY_TRACES_URL: needs the extra `traces` of letterply", code="bad-settings"
        ) from exc
    return Tracer(OTLPSpanExporter(endpoint=url))


@dataclass(frozen=True, slots=True)
class RequestTrace:
    """Makes a span of each request, named after its method and route."""

    app: ASGIApp
    tracer: Tracer

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        with self.tracer.request(scope["method"], Headers(scope=scope)) as span:

            async def noted(message: Message) -> None:
                if message["type"] == "http.response.start":
                    span.set_attribute("http.response.status_code", message["status"])
                await send(message)

            try:
                await self.app(scope, receive, noted)
            finally:
                route = getattr(scope.get("route"), "path", "")
                span.update_name(f"{scope['method']} {route}".strip())
                span.set_attribute("http.request.method", scope["method"])
                span.set_attribute("http.route", route)
                span.set_attribute("letterply.request_id", scope["state"].get("request_id", ""))
