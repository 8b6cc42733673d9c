"""surveys: what the glyphs of a font can bear, ranked, and fonts compared for a text."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.responses import results as answers
from letterply.api.responses.describing import EXAMPLE_COMPARISON, EXAMPLE_SURVEY, body_of, made
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import SurveyDocument
from letterply.requests import SurveyRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/surveys", tags=["surveys"])


@router.post(
    "",
    status_code=201,
    responses=made(SurveyDocument),
    openapi_extra=body_of(SurveyRequest, letters=EXAMPLE_SURVEY, words=EXAMPLE_COMPARISON),
)
async def make_survey(
    job_service: JobServiceOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Look at the glyphs of a font: the smallest size of each, its weakest spot, what closes."""
    handle = await job_service.place("survey", body, key=key)
    return await answers.answer_handle(handle, job_service, prefer, settings.wait_s)


add_reading_routes(router, "survey", SurveyDocument, "`.png`, `.svg`, `.csv`, `.zip`, `.json`")
