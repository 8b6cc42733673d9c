"""jobs: where a job stands that was not finished when its request was answered."""

from __future__ import annotations

from fastapi import APIRouter, Response
from fastapi.responses import StreamingResponse

from letterply.api.dependencies import AppStateOf, JobServiceOf, OrderServiceOf, SettingsOf
from letterply.api.http.negotiation import PreferenceOf
from letterply.api.responses.describing import problems
from letterply.api.responses.results import follow_job, job_document, json_response
from letterply.api.schemas import JobDocument

__all__ = ["router"]

router = APIRouter(prefix="/v1/jobs", tags=["jobs"])


@router.get("/{id}", responses={200: {"model": JobDocument}, **problems(404)})
async def get_job(
    job_service: JobServiceOf, settings: SettingsOf, id: str, prefer: PreferenceOf
) -> Response:
    """Return where a job stands; with `Prefer: wait=10`, once it is finished or after 10 s."""
    record = await job_service.wait_for(id, min(prefer.wait_s or 0.0, settings.wait_s))
    return json_response(job_document(record), headers={"Cache-Control": "no-store"})


@router.delete("/{id}", status_code=204, responses=problems(404, 409))
async def delete_job(job_service: JobServiceOf, order_service: OrderServiceOf, id: str) -> Response:
    """Delete a job and what it made; one that waits or runs is stopped."""
    record = await job_service.look_up(id)
    if record.kind == "order":
        await order_service.let_go(id)
    else:
        await job_service.let_go(record.kind, id)
    return Response(status_code=204)


@router.get(
    "/{id}/events",
    responses={
        200: {"content": {"text/event-stream": {}}},
        **problems(404),
    },
    response_class=Response,
)
async def get_job_events(app_state: AppStateOf, job_service: JobServiceOf, id: str) -> Response:
    """Tell where a job stands, as it goes on (server-sent events, named after its state)."""
    await job_service.look_up(id)
    return StreamingResponse(
        follow_job(job_service, id, app_state.stopping),
        media_type="text/event-stream",
        headers={"Cache-Control": "no-store"},
    )
