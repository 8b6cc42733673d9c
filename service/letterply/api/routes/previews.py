"""previews: the layers of a recipe while it is typed."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import PreviewsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.responses.describing import EXAMPLE_RECIPE, body_of, problems
from letterply.api.schemas import PreviewDocument
from letterply.requests import PreviewRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/previews", tags=["previews"])


@router.post(
    "",
    response_model=PreviewDocument,
    responses=problems(400, 409, 413, 415, 422, 503),
    openapi_extra=body_of(PreviewRequest, sign={"recipe": EXAMPLE_RECIPE, "client": "tab 1"}),
)
async def preview(previews: PreviewsOf, body: JsonBody) -> Response:
    """Return the layers of a recipe, not checked and not kept, fast enough to follow typing."""
    document = await previews.preview(body)
    return Response(document, 200, {"Cache-Control": "no-store"}, "application/json")
