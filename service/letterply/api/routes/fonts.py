"""fonts: the shipped ones and own ones."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Request, Response

from letterply.api.dependencies import JobServiceOf, PageOf
from letterply.api.http.bodies import FontBody, upload_body
from letterply.api.responses.describing import file_of, problems
from letterply.api.responses.results import json_response
from letterply.api.responses.uploads import (
    answer_font_file,
    answer_picture,
    one_font,
    page_of_fonts,
    take,
)
from letterply.api.schemas import FontDocument, FontPage
from letterply.storage import UploadKind

__all__ = ["router"]

router = APIRouter(prefix="/v1/fonts", tags=["fonts"])


@router.get("", response_model=FontPage, responses=problems(404, 422))
async def list_fonts(job_service: JobServiceOf, page: PageOf) -> Response:
    """List the fonts: own ones first, then those that come with the service."""
    return json_response(await page_of_fonts(job_service.store, page))


@router.post(
    "",
    status_code=201,
    responses={
        200: {"model": FontDocument, "description": "It was there already."},
        201: {"model": FontDocument, "description": "It can be used in recipes now."},
        **problems(400, 413, 415, 422, 500),
    },
    openapi_extra=upload_body("font/ttf", "font/otf", "font/collection", "font/woff", "font/woff2"),
)
async def add_font(job_service: JobServiceOf, data: FontBody) -> Response:
    """Take a font of your own: TTF, OTF, TTC, WOFF or WOFF2."""
    return await take(job_service, UploadKind.FONT, data)


@router.get(
    "/{key}.{suffix}",
    responses={
        200: {
            "content": {"image/svg+xml": {}, "image/png": {}},
            "description": "Its name and letters, from its own outlines.",
        },
        **problems(404, 422),
    },
    response_class=Response,
)
async def get_font_picture(job_service: JobServiceOf, key: str, suffix: str) -> Response:
    """Return a picture of a font by suffix: `.png` or `.svg`."""
    return await answer_picture(job_service, UploadKind.FONT, key, suffix)


@router.get(
    "/{key}/file",
    responses={
        **file_of("font/ttf", "font/otf", "font/collection", "font/woff", "font/woff2"),
        **problems(404),
    },
    response_class=Response,
)
async def get_font_file(request: Request, job_service: JobServiceOf, key: str) -> Response:
    """Return the file of a font, so that a page can show words in it."""
    return await answer_font_file(request, job_service, key)


@router.get("/{key}", responses={200: {"model": FontDocument}, **problems(404)})
async def get_font(job_service: JobServiceOf, key: str) -> Response:
    """Return what a font says of itself."""
    return json_response(await one_font(job_service.store, job_service.short_lane, key))


@router.delete("/{key}", status_code=204, responses=problems(404))
async def delete_font(job_service: JobServiceOf, key: str) -> Response:
    """Delete a font of your own; what was made with it stays, open orders keep what they need."""
    await asyncio.to_thread(job_service.store.let_go, UploadKind.FONT, key)
    return Response(status_code=204)
