"""plans: sheets, operations and programs, with the proof of the programs."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.responses import results as answers
from letterply.api.responses.describing import EXAMPLE_RECIPE, body_of, made
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import PlanDocument
from letterply.requests import PlanRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/plans", tags=["plans"])


@router.post(
    "",
    status_code=201,
    responses=made(PlanDocument),
    openapi_extra=body_of(
        PlanRequest, sign={"recipe": EXAMPLE_RECIPE, "shop": {"hold_down": "tabs"}}
    ),
)
async def make_plan(
    job_service: JobServiceOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Build, check, nest, plan and prove: programs come with the verdict of their proof."""
    handle = await job_service.place("plan", body, key=key)
    return await answers.answer_handle(handle, job_service, prefer, settings.wait_s)


add_reading_routes(router, "plan", PlanDocument, "`.png`, `.svg`, `.dxf`, `.zip`, `.json`")
