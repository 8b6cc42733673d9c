"""jobs: where a job stands that was not finished when its request was answered."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.negotiation import PreferenceOf
from letterply.api.responses.describing import problems
from letterply.api.responses.results import job_document, json_response
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
