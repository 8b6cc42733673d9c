"""stacks: layers of parts, built from a recipe."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api import answers
from letterply.api.bodies import JsonBody
from letterply.api.dependencies import DeskOf, SettingsOf
from letterply.api.describing import (
    EXAMPLE_RECIPE,
    body_of,
    made,
)
from letterply.api.negotiation import Key, PreferenceOf
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import StackDocument, StackRequest

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


add_reading_routes(router, "stack", StackDocument, "`.png`, `.svg`, `.dxf`, `.zip`, `.json`")
