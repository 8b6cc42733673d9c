"""Orders as answers: where one stands, what happens to it as it happens."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator
from typing import Any

from letterply.api.http.problems import problem_document
from letterply.orders import (
    EventKind,
    LineState,
    OrderEvent,
    OrderPhase,
    OrderService,
    OrderState,
)
from letterply.storage import JobRecord, JobState, error_from_facts

__all__ = ["event_stream", "order_document"]

_LOOK_EVERY_S = 0.25
_SIGN_OF_LIFE_S = 10.0
_STATES = {
    OrderPhase.WAITING: JobState.QUEUED,
    OrderPhase.DONE: JobState.DONE,
    OrderPhase.FAILED: JobState.FAILED,
    # A job has no such state: an order that was cancelled is told by its phase.
    OrderPhase.CANCELLED: OrderPhase.CANCELLED,
}


def order_document(
    state: OrderState, record: JobRecord, events: tuple[OrderEvent, ...] = ()
) -> dict[str, Any]:
    """Return where an order stands, as JSON: state first, then its lines, then where to go on."""
    where = f"/v1/orders/{state.id}"
    remaining = state.remaining_s(time.time())
    document: dict[str, Any] = {
        "id": state.id,
        "kind": "order",
        "title": record.request.get("title", ""),
        "state": _STATES.get(state.phase, JobState.RUNNING),
        "phase": state.phase,
        "attempt": state.attempt,
        "created_at": record.created_at,
        "progress": {
            "share": round(state.share, 4),
            "tasks_done": state.tasks_done,
            "tasks_total": state.tasks_total,
            "remaining_s": None if remaining is None else round(remaining, 1),
        },
        "line_count": state.lines,
        "design_count": state.designs,
        "last_event": state.last_event,
        "links": {
            "self": where,
            "events": f"{where}/events",
            "cancel": f"{where}/cancel",
            "again": f"{where}/again",
            "offers": f"{where}/offers",
            "zip": f"{where}.zip",
        },
    }
    if events:
        document["line_states"] = _line_states(state, events)
    if record.failure is not None:
        document["problem"] = problem_document(error_from_facts(record.failure))
    return document


def _line_states(state: OrderState, events: tuple[OrderEvent, ...]) -> list[LineState]:
    """Return the state of each line, in order."""
    found = [LineState.WAITING] * state.lines
    for event in events:
        if event.kind is EventKind.ACCEPTED:
            found = [LineState.WAITING] * state.lines
        for number, line_state in event.line_states.items():
            found[number - 1] = line_state
    return found


async def event_stream(
    order_service: OrderService, order_id: str, after: int, stopping: asyncio.Event
) -> AsyncIterator[bytes]:
    """Yield the events of an order as they happen (server-sent events), from one number on.

    Ends after the last event, or when the service stops. A line that says nothing shows now and
    then that it goes on.
    """
    quiet_since = time.monotonic()
    while not stopping.is_set():
        events = await order_service.events(order_id, after)
        for event in events:
            after = event.number
            yield _framed(event)
        if events:
            quiet_since = time.monotonic()
        state, _ = await order_service.state(order_id)
        if state.final and after >= state.last_event:
            return
        if time.monotonic() - quiet_since > _SIGN_OF_LIFE_S:
            quiet_since = time.monotonic()
            yield b": still at work\n\n"
        await asyncio.sleep(_LOOK_EVERY_S)


def _framed(event: OrderEvent) -> bytes:
    """Return an event as text/event-stream has it (HTML standard, server-sent events)."""
    data = json.dumps(dict(event.data), ensure_ascii=False)
    return f"id: {event.number}\nevent: {event.kind}\ndata: {data}\n\n".encode()
