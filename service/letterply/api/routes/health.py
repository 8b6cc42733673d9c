"""health and metrics: what operators ask."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Response

from letterply import ENGINE_VERSION, __version__
from letterply.api.dependencies import AppStateOf
from letterply.api.responses.results import json_response
from letterply.errors import LetterplyError
from letterply.workers import is_there

__all__ = ["router"]

router = APIRouter(tags=["operation"])

_PATIENCE_S = 5.0


@router.get("/health/live")
async def is_alive() -> Response:
    """Say that the service runs."""
    versions = {"version": __version__, "engine_version": ENGINE_VERSION}
    return json_response({"status": "live", **versions}, headers={"Cache-Control": "no-store"})


@router.get("/health/ready", responses={503: {"description": "Not ready for work."}})
async def is_ready(app_state: AppStateOf) -> Response:
    """Say whether the store answers and a worker takes tasks."""
    checks = {"store": False, "workers": False}
    job_service = app_state.job_service
    await asyncio.to_thread(job_service.store.unfinished)
    checks["store"] = True
    try:
        async with asyncio.timeout(_PATIENCE_S):
            busy = job_service.under_way >= job_service.pool.workers
            for lane in app_state.lanes:
                await lane.warmed()
            checks["workers"] = busy or await job_service.pool.run(is_there)
    except (LetterplyError, TimeoutError):
        checks["workers"] = False
    ready = all(checks.values())
    document = {"status": "ready" if ready else "not ready", "checks": checks}
    return json_response(document, 200 if ready else 503, headers={"Cache-Control": "no-store"})


@router.get("/metrics")
def metrics(app_state: AppStateOf) -> Response:
    """Return counters and times in Prometheus text format."""
    return Response(app_state.metrics.text(), media_type="text/plain; version=0.0.4; charset=utf-8")
