"""Connections: HTTP/1.1 as uvicorn speaks it, to clients that must come to the point.

Who opens a connection and then sends the head of its request a byte at a time, or nothing, holds a
place for nothing: after a while it gets a 408 (RFC 9110, section 15.5.9) and the line is closed.
Idle time between requests is uvicorn's own business.
"""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["patient_protocol"]

_BODY = (
    b'{"type":"/problems/request-timeout","title":"The request took too long to arrive",'
    b'"status":408,"detail":"The head of the request did not arrive in time.",'
    b'"code":"request-timeout"}'
)
_ANSWER = (
    b"HTTP/1.1 408 Request Timeout\r\nContent-Type: application/problem+json\r\n"
    b"Connection: close\r\nContent-Length: %d\r\n\r\n%b" % (len(_BODY), _BODY)
)


def patient_protocol(wait_s: float) -> type[asyncio.Protocol]:
    """Return the protocol that waits so long for the head of a request."""

    class Protocol(H11Protocol):
        _too_late: asyncio.TimerHandle | None = None

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            self._await_head()

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            # Bytes of a head that is not whole yet; those of a body or of the next request behind
            # one that is being answered are none.
            idle = self.conn.their_state is h11.IDLE
            if not (idle and self.conn.trailing_data[0]):
                self._stop_waiting()
            elif self._too_late is None:
                self._await_head()

        def connection_lost(self, exc: Exception | None) -> None:
            self._stop_waiting()
            super().connection_lost(exc)

        def _await_head(self) -> None:
            self._too_late = self.loop.call_later(wait_s, self._give_up)

        def _stop_waiting(self) -> None:
            if self._too_late is not None:
                self._too_late.cancel()
                self._too_late = None

        def _give_up(self) -> None:
            if not self.transport.is_closing():
                self.transport.write(_ANSWER)
                self.transport.close()

    return Protocol
