"""stacks: layers of parts, built from a recipe."""

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
from letterply.api.schemas import ResultPage, StackDocument, StackRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/stacks", tags=["stacks"])


@router.post(
    "",
    status_code=201,
    responses=made(StackDocument),
    openapi_extra=body_of(StackRequest, sign={"recipe": EXAMPLE_RECIPE}),
)
async def make_stack(
    desk: DeskOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Build a stack from a recipe."""
    ticket = await desk.place("stack", body, key=key)
    return await answers.answer_ticket(ticket, desk, prefer, settings.wait_s)


@router.get("", response_model=ResultPage)
async def list_stacks(desk: DeskOf, page: PageOf) -> Response:
    """List stacks, newest first."""
    return answers.json_response(await page_of_results(desk, "stack", page))


@router.get("/{id}.{suffix}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409, 422)})
async def get_stack_as(
    request: Request,
    desk: DeskOf,
    id: str,
    suffix: str,
    name: Annotated[
        str | None, Query(description="Which one, where there are several files of the type.")
    ] = None,
) -> Response:
    """Return a stack by suffix: `.png`, `.svg`, `.dxf`, `.zip`, `.json`."""
    return await answers.answer_suffix(request, desk, "stack", id, f".{suffix}", name=name)


@router.get(
    "/{id}", responses={200: {"model": StackDocument}, **NOT_MODIFIED, **problems(404, 406)}
)
async def get_stack(request: Request, desk: DeskOf, id: str) -> Response:
    """Return a stack in the type that you accept: JSON, PNG or ZIP."""
    return await answers.answer_document(request, desk, "stack", id)


@router.get("/{id}/files/{path:path}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409)})
async def get_stack_file(
    request: Request,
    desk: DeskOf,
    id: str,
    path: str,
) -> Response:
    """Return one file of a stack."""
    return await answers.answer_file(request, desk, "stack", id, path)
