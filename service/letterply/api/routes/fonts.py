"""fonts: the shelf, shipped and own."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, PageOf
from letterply.api.http.bodies import FontBody
from letterply.api.responses import fonts as fontlists
from letterply.api.responses.describing import problems
from letterply.api.responses.results import HARMLESS, MEDIA_TYPES, json_response
from letterply.api.schemas import FontDocument, FontPage
from letterply.jobs import take_font

__all__ = ["router"]

router = APIRouter(prefix="/v1/fonts", tags=["fonts"])

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
            "font/ttf": {"schema": {"type": "string", "format": "binary"}},
            "font/otf": {"schema": {"type": "string", "format": "binary"}},
            "font/collection": {"schema": {"type": "string", "format": "binary"}},
            "font/woff": {"schema": {"type": "string", "format": "binary"}},
            "font/woff2": {"schema": {"type": "string", "format": "binary"}},
        },
    }
}


@router.get("", response_model=FontPage)
async def list_fonts(job_service: JobServiceOf, page: PageOf) -> Response:
    """List the fonts: own ones first, then those that come with the service."""
    return json_response(await fontlists.page_of_fonts(job_service.store, page))


@router.post(
    "",
    status_code=201,
    responses={
        200: {"model": FontDocument, "description": "It was there already."},
        201: {"model": FontDocument, "description": "It is on the shelf now."},
        **problems(413, 415, 422),
    },
    openapi_extra=_UPLOAD,
)
async def add_font(job_service: JobServiceOf, data: FontBody) -> Response:
    """Put a font of your own on the shelf: TTF, OTF, TTC, WOFF or WOFF2."""
    font, new = await take_font(job_service.store, job_service.pool, data)
    document = fontlists.own_font(font)
    return json_response(document, 201 if new else 200, {"Location": f"/v1/fonts/{font.id}"})


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
    picture = await fontlists.font_picture(job_service.store, job_service.pool, key, suffix)
    return Response(
        picture,
        media_type=MEDIA_TYPES[f".{suffix}"],
        headers={"Content-Security-Policy": HARMLESS, "Cache-Control": "private, max-age=3600"},
    )


@router.get("/{key}", responses={200: {"model": FontDocument}, **problems(404)})
async def get_font(job_service: JobServiceOf, key: str) -> Response:
    """Return what a font says of itself."""
    return json_response(await fontlists.one_font(job_service.store, job_service.pool, key))
