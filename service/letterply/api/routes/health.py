"""health and metrics: what operators ask."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Response
from fastapi.responses import PlainTextResponse

from letterply import ENGINE_VERSION, __version__
from letterply.api.dependencies import AppState, AppStateOf
from letterply.api.responses.results import json_response
from letterply.api.schemas import LiveDocument, ReadyDocument
from letterply.errors import LetterplyError
from letterply.storage import Store
from letterply.workers import ComputePool, is_there

__all__ = ["router"]

router = APIRouter(tags=["operation"])

_PATIENCE_S = 5.0


@router.get("/health/live", response_model=LiveDocument)
async def is_alive() -> Response:
    """Say that the service runs."""
    versions = {"version": __version__, "engine_version": ENGINE_VERSION}
    return json_response({"status": "live", **versions}, headers={"Cache-Control": "no-store"})


@router.get(
    "/health/ready",
    response_model=ReadyDocument,
    responses={503: {"model": ReadyDocument, "description": "Not ready; `missing` says why."}},
)
async def is_ready(app_state: AppStateOf) -> Response:
    """Say whether the store answers and every lane has a worker, and what is missing if not."""
    lanes = app_state.lanes
    said = await asyncio.gather(_store_lacks(app_state), *map(_lane_lacks, lanes.values()))
    missing = dict(zip(["store", *(f"lane {name}" for name in lanes)], said, strict=True))
    checks = {what: lack is None for what, lack in missing.items()}
    # Of all lanes together, as it was told before there were several.
    checks["workers"] = all(ok for what, ok in checks.items() if what != "store")
    ready = all(checks.values())
    document = {
        "status": "ready" if ready else "not ready",
        "checks": checks,
        "missing": [f"{what}: {lack}" for what, lack in missing.items() if lack is not None],
    }
    headers = {"Cache-Control": "no-store"} | ({} if ready else {"Retry-After": "2"})
    return json_response(document, 200 if ready else 503, headers)


async def _store_lacks(app_state: AppState) -> str | None:
    store = app_state.job_service.store
    try:
        async with asyncio.timeout(_PATIENCE_S):
            await asyncio.to_thread(store.access.any)
            await asyncio.to_thread(_try_to_write, store)
    except LetterplyError as error:
        return error.message
    except TimeoutError:
        return f"the database does not answer within {_PATIENCE_S:g} s"
    except OSError as error:
        return f"files cannot be written: {error.strerror}"
    return None


def _try_to_write(store: Store) -> None:
    with store.set_aside(b"ready?"):
        pass


async def _lane_lacks(lane: ComputePool) -> str | None:
    try:
        async with asyncio.timeout(_PATIENCE_S):
            await lane.warmed()
            if lane.running < lane.workers:  # one that is at work is there
                await lane.run(is_there)
    except (LetterplyError, TimeoutError):
        return "no worker is up yet"
    return None


@router.get(
    "/metrics",
    response_class=PlainTextResponse,
    responses={200: {"content": {"text/plain": {"schema": {"type": "string"}}}}},
)
def metrics(app_state: AppStateOf) -> Response:
    """Return counters and times in Prometheus text format."""
    return Response(app_state.metrics.text(), media_type="text/plain; version=0.0.4; charset=utf-8")
