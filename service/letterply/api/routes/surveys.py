"""surveys: what the glyphs of a font can bear, ranked, and fonts compared for a text."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from letterply.api import answers
from letterply.api.bodies import JsonBody
from letterply.api.dependencies import DeskOf, PageOf, SettingsOf
from letterply.api.describing import (
    EXAMPLE_COMPARISON,
    EXAMPLE_SURVEY,
    FILES,
    NOT_MODIFIED,
    body_of,
    made,
    problems,
)
from letterply.api.lists import page_of_results
from letterply.api.negotiation import Key, PreferenceOf
from letterply.api.schemas import ResultPage, SurveyDocument, SurveyRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/surveys", tags=["surveys"])


@router.post(
    "",
    status_code=201,
    responses=made(SurveyDocument),
    openapi_extra=body_of(SurveyRequest, letters=EXAMPLE_SURVEY, words=EXAMPLE_COMPARISON),
)
async def make_survey(
    desk: DeskOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Look at the glyphs of a font: the smallest size of each, its weakest spot, what closes."""
    ticket = await desk.place("survey", body, key=key)
    return await answers.answer_ticket(ticket, desk, prefer, settings.wait_s)


@router.get("", response_model=ResultPage)
async def list_surveys(desk: DeskOf, page: PageOf) -> Response:
    """List surveys, newest first."""
    return answers.json_response(await page_of_results(desk, "survey", page))


@router.get("/{id}.{suffix}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409, 422)})
async def get_survey_as(
    request: Request,
    desk: DeskOf,
    id: str,
    suffix: str,
    name: Annotated[
        str | None, Query(description="Which one, where there are several files of the type.")
    ] = None,
) -> Response:
    """Return a survey by suffix: `.png`, `.svg`, `.csv`, `.zip`, `.json`."""
    return await answers.answer_suffix(request, desk, "survey", id, f".{suffix}", name=name)


@router.get(
    "/{id}", responses={200: {"model": SurveyDocument}, **NOT_MODIFIED, **problems(404, 406)}
)
async def get_survey(request: Request, desk: DeskOf, id: str) -> Response:
    """Return a survey in the type that you accept: JSON, PNG or ZIP."""
    return await answers.answer_document(request, desk, "survey", id)


@router.get("/{id}/files/{path:path}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409)})
async def get_survey_file(
    request: Request,
    desk: DeskOf,
    id: str,
    path: str,
) -> Response:
    """Return one file of a survey."""
    return await answers.answer_file(request, desk, "survey", id, path)
