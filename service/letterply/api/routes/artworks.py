"""artworks: drawings that were uploaded."""

from __future__ import annotations

import asyncio
from typing import Annotated

from fastapi import APIRouter, Query, Response

from letterply.api.dependencies import JobServiceOf, PageOf, UnitsOf
from letterply.api.http.bodies import ArtworkBody, upload_body
from letterply.api.responses.describing import problems
from letterply.api.responses.results import json_response
from letterply.api.responses.uploads import answer_picture, artwork_document, page_of_artworks, take
from letterply.api.schemas import ArtworkDocument, ArtworkPage
from letterply.requests import TraceWish
from letterply.storage import UploadKind

__all__ = ["router"]

router = APIRouter(prefix="/v1/artworks", tags=["artworks"])


@router.get("", response_model=ArtworkPage, responses=problems(404, 422))
async def list_artworks(job_service: JobServiceOf, page: PageOf, units: UnitsOf) -> Response:
    """List the drawings, by name."""
    return json_response(await page_of_artworks(job_service.store, page, units))


@router.post(
    "",
    status_code=201,
    responses={
        200: {"model": ArtworkDocument, "description": "It was there already."},
        201: {"model": ArtworkDocument, "description": "It can be used in recipes now."},
        **problems(400, 413, 415, 422, 500),
    },
    openapi_extra=upload_body("image/svg+xml", "image/png", "image/jpeg"),
)
async def add_artwork(
    job_service: JobServiceOf,
    data: ArtworkBody,
    wish: Annotated[TraceWish, Query()],
    units: UnitsOf,
) -> Response:
    """Take a drawing: SVG, read as shapes to be cut, or a PNG or JPEG, traced into such shapes.

    What cannot be taken of an SVG is listed in `left_out`; how true a traced outline is, in
    `traced`. The query says how a picture is traced.
    """
    return await take(job_service, UploadKind.ARTWORK, data, wish, units)


@router.get(
    "/{key}.{suffix}",
    responses={
        200: {
            "content": {"image/svg+xml": {}, "image/png": {}},
            "description": "What would be cut of it; the room for words dashed.",
        },
        **problems(404, 422),
    },
    response_class=Response,
)
async def get_artwork_picture(
    job_service: JobServiceOf, key: str, suffix: str, units: UnitsOf
) -> Response:
    """Return a picture of what would be cut of a drawing, by suffix: `.png` or `.svg`."""
    return await answer_picture(job_service, UploadKind.ARTWORK, key, suffix, units)


@router.get("/{key}", responses={200: {"model": ArtworkDocument}, **problems(404)})
async def get_artwork(job_service: JobServiceOf, key: str, units: UnitsOf) -> Response:
    """Return what there is to know of a drawing."""
    artwork = await asyncio.to_thread(job_service.store.upload, UploadKind.ARTWORK, key)
    return json_response(artwork_document(artwork, units))


@router.delete("/{key}", status_code=204, responses=problems(404))
async def delete_artwork(job_service: JobServiceOf, key: str) -> Response:
    """Delete a drawing; what was made with it stays, and open orders keep what they need."""
    await asyncio.to_thread(job_service.store.let_go, UploadKind.ARTWORK, key)
    return Response(status_code=204)
