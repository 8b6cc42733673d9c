"""orders: many lines at once, made durably; progress, cancelling, everything as one bundle."""

from __future__ import annotations

import asyncio
from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Request, Response
from fastapi.responses import StreamingResponse

from letterply.api.dependencies import (
    AppStateOf,
    JobServiceOf,
    OfferServiceOf,
    OrderServiceOf,
    PageOf,
)
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.http.order_bodies import OrderBody
from letterply.api.http.problems import HttpProblem
from letterply.api.responses import results as answers
from letterply.api.responses.caching import answer_stream
from letterply.api.responses.describing import FILES, body_of, problems
from letterply.api.responses.lists import page_of_results
from letterply.api.responses.offers import order_offer_document
from letterply.api.responses.orders import event_stream, order_document
from letterply.api.schemas import (
    CommitDocument,
    EstimateDocument,
    OrderDocument,
    OrderOfferPage,
    ResultPage,
)
from letterply.jobs import JobService
from letterply.offers import OfferService
from letterply.orders import OrderPhase, OrderService, OrderState
from letterply.requests import OrderRequest
from letterply.storage import JobRecord, digest
from letterply.units import read_whole

__all__ = ["router"]

router = APIRouter(prefix="/v1/orders", tags=["orders"])

_NO_STORE = {"Cache-Control": "no-store"}
_AGAIN_EACH_TIME = {"Cache-Control": "private, no-cache"}
_JOB_SHEET = "job-sheet.pdf"
_BODY = body_of(
    OrderRequest,
    racks={
        "title": "Autumn racks",
        "recipe": "rack-sign",
        "lines": [{"text": "Avocet"}, {"text": "Curlew", "quantity": 2}],
    },
)
_BODY["requestBody"]["content"] |= {
    "text/csv": {
        "schema": {"type": "string"},
        "example": "text,quantity\nAvocet,1\nCurlew,2\n",
    },
    "multipart/form-data": {
        "schema": {
            "type": "object",
            "properties": {
                "order": {"type": "string", "description": "the order as JSON"},
                "lines": {"type": "string", "format": "binary"},
            },
        }
    },
}
_MADE: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "It was there already; or, with `dry_run`, what it would make.",
        "model": OrderDocument | EstimateDocument,
    },
    202: {"description": "Accepted: it will be made.", "model": OrderDocument},
    **problems(400, 409, 413, 415, 422, 503),
}
_AGAIN: dict[int | str, dict[str, Any]] = {
    200: {"description": "It is done already.", "model": OrderDocument},
    202: _MADE[202],
}

DryRun = Annotated[bool, Query(description="Only say what it would make, take and cost.")]


@router.post("", status_code=202, responses=_MADE, openapi_extra=_BODY)
async def place_order(
    app_state: AppStateOf,
    job_service: JobServiceOf,
    order_service: OrderServiceOf,
    body: OrderBody,
    key: Key,
    dry_run: DryRun = False,
) -> Response:
    """Vet a whole order and accept it, or say everything that is wrong with it at once."""
    order, measures = await order_service.vet(body.request, table=body.table, charset=body.charset)
    if dry_run:
        told = await order_service.estimate(order, measures, app_state.settings.wait_s)
        # Whoever asks what an order takes may place it next: its worker is up by then.
        app_state.start_worker()
        return answers.json_response(told, headers=_NO_STORE)
    job_service.check_turn(await order_service.open_count(), "orders")
    await asyncio.to_thread(job_service.check_room)
    state, _ = await order_service.place(order, key=key)
    app_state.start_worker()
    return await _placed(order_service, state)


@router.get("", response_model=ResultPage, responses=problems(404, 422))
async def list_orders(job_service: JobServiceOf, page: PageOf) -> Response:
    """List orders, newest first."""
    return answers.json_response(await page_of_results(job_service, "order", page))


@router.post("/{id}/cancel", responses={200: {"model": OrderDocument}, **problems(404)})
async def cancel_order(order_service: OrderServiceOf, id: str) -> Response:
    """Cancel an order: what is queued is dropped, what runs is stopped."""
    await order_service.cancel(id)
    state, record = await order_service.state(id)
    return answers.json_response(order_document(state, record), headers=_NO_STORE)


@router.post("/{id}/again", status_code=202, responses={**_AGAIN, **problems(404, 409)})
async def order_again(app_state: AppStateOf, order_service: OrderServiceOf, id: str) -> Response:
    """Have made what the service lost of a finished order: its lines, and the sheets they touch.

    The answer is a new order that revises this one; sheets that were made stay as they are. An
    order that failed as a whole or was cancelled is itself taken up again.
    """
    state = await order_service.again(id)
    app_state.start_worker()
    return await _placed(order_service, state)


@router.post("/{id}/commit", responses={200: {"model": CommitDocument}, **problems(404, 409, 500)})
async def commit_order(order_service: OrderServiceOf, id: str) -> Response:
    """Take the sheets of an order out of its shop's stock; what is left of them comes back.

    Twice is the same as once. Where sheets are gone meanwhile nothing is taken, and `missing` says
    which.
    """
    return answers.json_response(await order_service.commit(id), headers=_NO_STORE)


@router.delete("/{id}/commit", responses={200: {"model": CommitDocument}, **problems(404, 409)})
async def undo_order_commit(order_service: OrderServiceOf, id: str) -> Response:
    """Undo the commit of an order, until what it left over was used."""
    return answers.json_response(await order_service.undo_commit(id), headers=_NO_STORE)


@router.get(
    "/{id}/events",
    responses={
        200: {"content": {"text/event-stream": {}}},
        **problems(404),
    },
    response_class=Response,
)
async def follow_order(
    app_state: AppStateOf,
    order_service: OrderServiceOf,
    id: str,
    last_event_id: Annotated[str | None, Header(description="Go on after this event.")] = None,
    after: Annotated[int, Query(ge=0, le=10**15, description="The same, in the query.")] = 0,
) -> Response:
    """Tell what happens to an order, as it happens (server-sent events)."""
    await order_service.state(id)
    said = read_whole(last_event_id or "")
    begin = after if said is None else said
    return StreamingResponse(
        event_stream(order_service, id, begin, app_state.stopping),
        media_type="text/event-stream",
        headers=_NO_STORE,
    )


@router.get("/{id}.zip", responses={**FILES, **problems(404, 409, 422, 500, 503)})
async def get_bundle(
    request: Request,
    job_service: JobServiceOf,
    order_service: OrderServiceOf,
    offer_service: OfferServiceOf,
    id: str,
    override: Annotated[str | None, Query(description="`accept-unproved`, at your risk.")] = None,
) -> Response:
    """Return everything that an order made, as a ZIP; its job sheet has what customers replied."""
    state, record = await order_service.state(id)
    _require_done(state.phase)
    chosen = tuple(answers.shown(record, override))
    job_sheet = await _job_sheet(job_service, offer_service, record)
    said = [] if job_sheet is None else [digest(job_sheet)]
    tag = answers.tag_of(record, "zip", *(a.path for a in chosen), *said)
    record = await job_service.made(record, [a.path for a in chosen])
    chosen = tuple(answers.shown(record, override))
    instead = {} if job_sheet is None else {_JOB_SHEET: job_sheet}
    return await answer_stream(
        request,
        tag,
        lambda: answers.zip_of(job_service, chosen, instead),
        "application/zip",
        headers={
            "Content-Disposition": f'attachment; filename="order-{id}.zip"',
            **_AGAIN_EACH_TIME,
        },
    )


@router.get("/{id}", responses={200: {"model": OrderDocument}, **problems(404)})
async def get_order(
    job_service: JobServiceOf,
    order_service: OrderServiceOf,
    id: str,
    prefer: PreferenceOf,
) -> Response:
    """Return where an order stands and, once it is done, what it made.

    With `Prefer: wait=10`, once it is finished or after 10 s.
    """
    deadline = asyncio.get_running_loop().time() + min(prefer.wait_s or 0.0, 30.0)
    state, record = await order_service.state(id)
    while not state.final and asyncio.get_running_loop().time() < deadline:
        await asyncio.sleep(0.2)
        state, record = await order_service.state(id)
    events = await order_service.all_events(id)
    document = order_document(state, record, events)
    if state.phase is OrderPhase.DONE:
        made = await asyncio.to_thread(answers.made_document, job_service, record)
        document |= {k: v for k, v in made.items() if k not in ("links", "kind", "id")}
        document["files"] = [_as_it_comes(file) for file in document["files"]]
    return answers.json_response(document, headers=_NO_STORE)


@router.delete("/{id}", status_code=204, responses=problems(404, 409))
async def delete_order(order_service: OrderServiceOf, id: str) -> Response:
    """Delete an order that is over, and all that it made; one that is open is cancelled first."""
    await order_service.let_go(id)
    return Response(status_code=204)


@router.get("/{id}/offers", response_model=OrderOfferPage, responses=problems(404))
async def list_order_offers(
    order_service: OrderServiceOf, offer_service: OfferServiceOf, id: str
) -> Response:
    """List what customers were offered of an order, or of those that it revises, newest first."""
    await order_service.state(id)
    offers, now = await offer_service.of_order(id), offer_service.now
    items = [order_offer_document(offer, now) for offer in reversed(offers)]
    return answers.json_response({"items": items}, headers=_NO_STORE)


@router.get("/{id}/files/{path:path}", responses={**FILES, **problems(404, 409, 422, 500, 503)})
async def get_order_file(
    request: Request,
    job_service: JobServiceOf,
    order_service: OrderServiceOf,
    offer_service: OfferServiceOf,
    id: str,
    path: str,
    override: Annotated[str | None, Query(description="`accept-unproved`, at your risk.")] = None,
) -> Response:
    """Return one file of an order; its job sheet has what customers replied."""
    state, record = await order_service.state(id)
    _require_done(state.phase)
    job_sheet = await _job_sheet(job_service, offer_service, record) if path == _JOB_SHEET else None
    if job_sheet is not None:
        return answers.answer_made(request, job_sheet, _JOB_SHEET, _AGAIN_EACH_TIME)
    return await answers.answer_file(request, job_service, "order", id, path, override=override)


async def _job_sheet(
    job_service: JobService, offer_service: OfferService, record: JobRecord
) -> bytes | None:
    """Return the job sheet of an order as it stands with its customers; None where it has none."""
    kept = (await job_service.made(record, [_JOB_SHEET])).artifact(_JOB_SHEET)
    if kept is None:
        return None
    title = str((record.headline or {}).get("title", ""))
    plain = await asyncio.to_thread(job_service.store.read, kept)
    return await offer_service.job_sheet(title, plain, await offer_service.of_order(record.id))


def _as_it_comes(file: dict[str, Any]) -> dict[str, Any]:
    """Return the entry of a file: of the job sheet, length and digest change with the replies."""
    return file | {"size_bytes": None, "digest": None} if file["path"] == _JOB_SHEET else file


async def _placed(order_service: OrderService, state: OrderState) -> Response:
    """Return the answer to an order that was placed just now, or was there already."""
    _, record = await order_service.state(state.id)
    headers = {"Location": f"/v1/orders/{state.id}", **_NO_STORE}
    status = 200 if state.phase is OrderPhase.DONE else 202
    return answers.json_response(order_document(state, record), status, headers)


def _require_done(phase: OrderPhase) -> None:
    if phase is not OrderPhase.DONE:
        raise HttpProblem(
            "The order is not finished.", code="order-unfinished", data={"state": phase}
        )
