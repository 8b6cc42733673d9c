"""plans: sheets, operations and programs, with the proof of the programs."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.responses import results as answers
from letterply.api.responses.describing import EXAMPLE_RECIPE, body_of, made, problems
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import CommitDocument, PlanDocument
from letterply.jobs import Committing
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


@router.post("/{id}/commit", responses={200: {"model": CommitDocument}, **problems(404, 409, 500)})
async def commit_plan(job_service: JobServiceOf, id: str) -> Response:
    """Take the sheets of a plan out of its shop's stock; what is left of them comes back.

    Twice is the same as once. Where sheets are gone meanwhile nothing is taken, and `missing` says
    which.
    """
    await job_service.look_up(id)
    committing = Committing(job_service.store, job_service.shops)
    return answers.json_response(await asyncio.to_thread(committing.commit_plan, id))


@router.delete("/{id}/commit", responses={200: {"model": CommitDocument}, **problems(404, 409)})
async def undo_plan_commit(job_service: JobServiceOf, id: str) -> Response:
    """Undo the commit of a plan, until what it left over was used."""
    committing = Committing(job_service.store, job_service.shops)
    return answers.json_response(await asyncio.to_thread(committing.undo, "plan", id))


add_reading_routes(router, "plan", PlanDocument, "`.png`, `.svg`, `.dxf`, `.zip`, `.json`")
