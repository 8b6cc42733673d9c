"""sizes: how large, how small, how wide lettering may be, answered by what would be cut."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.responses import results as answers
from letterply.api.responses.describing import EXAMPLE_RECIPE, body_of, made
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import SizeDocument
from letterply.requests import SizeRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/sizes", tags=["sizes"])


@router.post(
    "",
    status_code=201,
    responses=made(SizeDocument),
    openapi_extra=body_of(
        SizeRequest,
        letters={"recipe": EXAMPLE_RECIPE, "fit": "6 in", "each": True},
        sheet={"recipe": EXAMPLE_RECIPE, "sheets": 1},
        smallest={"recipe": EXAMPLE_RECIPE, "smallest": True},
        wide={"recipe": EXAMPLE_RECIPE, "width": "20 in"},
    ),
)
async def find_size(
    job_service: JobServiceOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Find a size: largest in a box or on sheets, smallest that holds, or whether a width holds."""
    handle = await job_service.place("size", body, key=key)
    return await answers.answer_handle(handle, job_service, prefer, settings.wait_s)


add_reading_routes(router, "size", SizeDocument, "`.png`, `.svg`, `.dxf`, `.zip`, `.json`")
