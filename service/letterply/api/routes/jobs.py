"""jobs: where a job stands that was not finished when its request was answered."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.answers import job_document, json_response
from letterply.api.dependencies import DeskOf, SettingsOf
from letterply.api.describing import problems
from letterply.api.negotiation import PreferenceOf
from letterply.api.schemas import JobDocument

__all__ = ["router"]

router = APIRouter(prefix="/v1/jobs", tags=["jobs"])


@router.get("/{id}", responses={200: {"model": JobDocument}, **problems(404)})
async def get_job(desk: DeskOf, settings: SettingsOf, id: str, prefer: PreferenceOf) -> Response:
    """Return where a job stands; with `Prefer: wait=10`, once it is finished or after 10 s."""
    record = await desk.wait_for(id, min(prefer.wait_s or 0.0, settings.wait_s))
    return json_response(job_document(record), headers={"Cache-Control": "no-store"})
