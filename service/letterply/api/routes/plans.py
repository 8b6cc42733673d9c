"""plans: sheets, operations and programs, with the proof of the programs."""

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
from letterply.api.schemas import PlanDocument, PlanRequest, ResultPage

__all__ = ["router"]

Override = Annotated[
    str | None,
    Query(
        description="`accept-unproved` to be given programs that have not passed their proof, at"
        " your own risk."
    ),
]

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
    desk: DeskOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Build, check, nest, plan and prove: programs come with the verdict of their proof."""
    ticket = await desk.place("plan", body, key=key)
    return await answers.answer_ticket(ticket, desk, prefer, settings.wait_s)


@router.get("", response_model=ResultPage)
async def list_plans(desk: DeskOf, page: PageOf) -> Response:
    """List plans, newest first."""
    return answers.json_response(await page_of_results(desk, "plan", page))


@router.get("/{id}.{suffix}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409, 422)})
async def get_plan_as(
    request: Request,
    desk: DeskOf,
    id: str,
    suffix: str,
    name: Annotated[
        str | None, Query(description="Which one, where there are several files of the type.")
    ] = None,
    override: Override = None,
) -> Response:
    """Return a plan by suffix: `.png`, `.svg`, `.dxf`, `.zip`, `.json`."""
    return await answers.answer_suffix(
        request, desk, "plan", id, f".{suffix}", name=name, override=override
    )


@router.get("/{id}", responses={200: {"model": PlanDocument}, **NOT_MODIFIED, **problems(404, 406)})
async def get_plan(request: Request, desk: DeskOf, id: str) -> Response:
    """Return a plan in the type that you accept: JSON, PNG or ZIP."""
    return await answers.answer_document(request, desk, "plan", id)


@router.get("/{id}/files/{path:path}", responses={**FILES, **NOT_MODIFIED, **problems(404, 409)})
async def get_plan_file(
    request: Request,
    desk: DeskOf,
    id: str,
    path: str,
    override: Override = None,
) -> Response:
    """Return one file of a plan."""
    return await answers.answer_file(request, desk, "plan", id, path, override=override)
