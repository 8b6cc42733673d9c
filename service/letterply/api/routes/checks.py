"""checks: a stack, and what stands in the way of cutting it."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.responses import results as answers
from letterply.api.responses.describing import EXAMPLE_RECIPE, body_of, made
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import CheckDocument
from letterply.requests import CheckRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/checks", tags=["checks"])


@router.post(
    "",
    status_code=201,
    responses=made(CheckDocument),
    openapi_extra=body_of(
        CheckRequest,
        sign={"recipe": EXAMPLE_RECIPE},
        repaired={"recipe": EXAMPLE_RECIPE, "repair": True},
    ),
)
async def make_check(
    job_service: JobServiceOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Build a stack and check it: what stands in the way, where, and what to do.

    With `repair`, the remedies of blockers are applied and the result is checked again.
    """
    handle = await job_service.place("check", body, key=key)
    return await answers.answer_handle(handle, job_service, prefer, settings.wait_s)


add_reading_routes(router, "check", CheckDocument, "`.png`, `.svg`, `.dxf`, `.zip`, `.json`")
