"""checks: a stack, and what stands in the way of cutting it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from letterply.api import answers
from letterply.api.bodies import JsonBody
from letterply.api.dependencies import DeskOf, PageOf, SettingsOf
from letterply.api.describing import (
    EXAMPLE_RECIPE,
    FILES,
    NOT_MODIFIED,
    body_of,
    made,
    problems,
)
from letterply.api.lists import page_of_results
from letterply.api.negotiation import Key, PreferenceOf
from letterply.api.schemas import CheckDocument, CheckRequest, ResultPage

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
    desk: DeskOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Build a stack and check it: what stands in the way, where, and what to do.

    With `repair`, the remedies of blockers are applied and the result is checked again.
    """
    ticket = await desk.place("check", body, key=key)
    return await answers.answer_ticket(ticket, desk, prefer, settings.wait_s)


@router.get("", response_model=ResultPage)
async def list_checks(desk: DeskOf, page: PageOf) -> Response:
    """List checks, newest first."""
    return answers.json_response(await page_of_results(desk, "check", page))


@router.get("/{id}.{suffix}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409, 422)})
async def get_check_as(
    request: Request,
    desk: DeskOf,
    id: str,
    suffix: str,
    name: Annotated[
        str | None, Query(description="Which one, where there are several files of the type.")
    ] = None,
) -> Response:
    """Return a check by suffix: `.png`, `.svg`, `.dxf`, `.zip`, `.json`."""
    return await answers.answer_suffix(request, desk, "check", id, f".{suffix}", name=name)


@router.get(
    "/{id}", responses={200: {"model": CheckDocument}, **NOT_MODIFIED, **problems(404, 406)}
)
async def get_check(request: Request, desk: DeskOf, id: str) -> Response:
    """Return a check in the type that you accept: JSON, PNG or ZIP."""
    return await answers.answer_document(request, desk, "check", id)


@router.get("/{id}/files/{path:path}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409)})
async def get_check_file(
    request: Request,
    desk: DeskOf,
    id: str,
    path: str,
) -> Response:
    """Return one file of a check."""
    return await answers.answer_file(request, desk, "check", id, path)
