"""test pieces: cut, measured and typed in, they make the figures of a shop true."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.http.negotiation import Key, PreferenceOf
from letterply.api.responses import results as answers
from letterply.api.responses.describing import body_of, made
from letterply.api.routes.results import add_reading_routes
from letterply.api.schemas import PieceDocument
from letterply.requests import PieceRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/test-pieces", tags=["test pieces"])

_STUFF: dict[str, Any] = {"material": "birch-plywood", "thickness": "1/4 in"}
_EXAMPLES: dict[str, dict[str, Any]] = {
    "diameter": {"kind": "diameter", "cutter": "flat-3175", **_STUFF},
    "inlay": {"kind": "fit", **_STUFF, "thickness": 6.5, "of": "acrylic-cast", "of_thickness": 3},
    "dowel": {"kind": "fit", **_STUFF, "dowel": 6},
    "angle": {"kind": "angle", "cutter": "vbit-60", **_STUFF},
    "feed": {"kind": "feed", "cutter": "flat-3175", **_STUFF},
    "line": {"kind": "line", "cutter": "drag-120", "material": "acrylic-cast", "thickness": 3},
    "flatness": {"kind": "flatness", **_STUFF, "width": "12 in", "height": "8 in"},
}


@router.post(
    "",
    status_code=201,
    responses=made(PieceDocument),
    openapi_extra=body_of(PieceRequest, **_EXAMPLES),
)
async def make_test_piece(
    job_service: JobServiceOf, settings: SettingsOf, body: JsonBody, prefer: PreferenceOf, key: Key
) -> Response:
    """Make a test piece: drawing, programs with their proof, and a sheet to write on (`.pdf`)."""
    handle = await job_service.place("test-piece", body, key=key)
    return await answers.answer_handle(handle, job_service, prefer, settings.wait_s)


add_reading_routes(
    router, "test-piece", PieceDocument, "`.png`, `.svg`, `.pdf`, `.dxf`, `.zip`, `.json`"
)
