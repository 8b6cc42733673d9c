"""artworks: drawings that were uploaded."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, PageOf
from letterply.api.http.bodies import ArtworkBody
from letterply.api.responses import artworks as artlists
from letterply.api.responses.describing import problems
from letterply.api.responses.results import HARMLESS, MEDIA_TYPES, json_response
from letterply.api.schemas import ArtworkDocument, ArtworkPage
from letterply.jobs import take_artwork

__all__ = ["router"]

router = APIRouter(prefix="/v1/artworks", tags=["artworks"])

_UPLOAD = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {"file": {"type": "string", "format": "binary"}},
                }
            },
            "image/svg+xml": {"schema": {"type": "string"}},
        },
    }
}


@router.get("", response_model=ArtworkPage)
async def list_artworks(job_service: JobServiceOf, page: PageOf) -> Response:
    """List the drawings, by name."""
    return json_response(await artlists.page_of_artworks(job_service.store, page))


@router.post(
    "",
    status_code=201,
    responses={
        200: {"model": ArtworkDocument, "description": "It was there already."},
        201: {"model": ArtworkDocument, "description": "It can be used in recipes now."},
        **problems(413, 415, 422),
    },
    openapi_extra=_UPLOAD,
)
async def add_artwork(job_service: JobServiceOf, data: ArtworkBody) -> Response:
    """Take a drawing: SVG, read as shapes to be cut; what cannot be taken is listed."""
    artwork, new = await take_artwork(job_service.store, job_service.pool, data)
    document = artlists.artwork_document(artwork)
    return json_response(document, 201 if new else 200, {"Location": document["links"]["self"]})


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
async def get_artwork_picture(job_service: JobServiceOf, key: str, suffix: str) -> Response:
    """Return a picture of what would be cut of a drawing, by suffix: `.png` or `.svg`."""
    picture = await artlists.artwork_picture(job_service.store, job_service.pool, key, suffix)
    return Response(
        picture,
        media_type=MEDIA_TYPES[f".{suffix}"],
        headers={"Content-Security-Policy": HARMLESS, "Cache-Control": "private, max-age=3600"},
    )


@router.get("/{key}", responses={200: {"model": ArtworkDocument}, **problems(404)})
async def get_artwork(job_service: JobServiceOf, key: str) -> Response:
    """Return what there is to know of a drawing."""
    return json_response(
        artlists.artwork_document(await asyncio.to_thread(job_service.store.artwork, key))
    )
