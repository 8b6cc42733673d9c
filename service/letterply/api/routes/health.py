"""health and metrics: what operators ask."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Response

from letterply import ENGINE_VERSION, __version__
from letterply.api.answers import json_response
from letterply.api.dependencies import RoomsOf
from letterply.errors import LetterplyError
from letterply.orders.worker import is_there

__all__ = ["router"]

router = APIRouter(tags=["operation"])

_PATIENCE_S = 5.0


@router.get("/health/live")
async def is_alive() -> Response:
    """Say that the service runs."""
    versions = {"version": __version__, "engine_version": ENGINE_VERSION}
    return json_response({"status": "live", **versions}, headers={"Cache-Control": "no-store"})


@router.get("/health/ready", responses={503: {"description": "Not ready for work."}})
async def is_ready(rooms: RoomsOf) -> Response:
    """Say whether the store answers and a worker takes tasks."""
    checks = {"store": False, "workers": False}
    desk = rooms.desk
    await asyncio.to_thread(desk.store.unfinished)
    checks["store"] = True
    try:
        busy = desk.under_way >= desk.pool.workers
        checks["workers"] = busy or await asyncio.wait_for(desk.pool.run(is_there), _PATIENCE_S)
    except (LetterplyError, TimeoutError):
        checks["workers"] = False
    ready = all(checks.values())
    document = {"status": "ready" if ready else "not ready", "checks": checks}
    return json_response(document, 200 if ready else 503, headers={"Cache-Control": "no-store"})


@router.get("/metrics")
def metrics(rooms: RoomsOf) -> Response:
    """Return counters and times in Prometheus text format."""
    return Response(rooms.metrics.text(), media_type="text/plain; version=0.0.4; charset=utf-8")
