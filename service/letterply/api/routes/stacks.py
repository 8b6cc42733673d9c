"""stacks: layers of parts, built from a recipe."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.responses import results as answers
from letterply.api.responses.describing import EXAMPLE_RECIPE, body_of, made
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import StackDocument
from letterply.requests import StackRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/stacks", tags=["stacks"])


@router.post(
    "",
    status_code=201,
    responses=made(StackDocument),
    openapi_extra=body_of(StackRequest, sign={"recipe": EXAMPLE_RECIPE}),
)
async def make_stack(
    job_service: JobServiceOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Build a stack from a recipe."""
    handle = await job_service.place("stack", body, key=key)
    return await answers.answer_handle(handle, job_service, prefer, settings.wait_s)


add_reading_routes(router, "stack", StackDocument, "`.png`, `.svg`, `.dxf`, `.zip`, `.json`")
