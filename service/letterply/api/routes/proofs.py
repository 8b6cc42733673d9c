"""proofs: the programs of a plan as they are now, read back and judged again."""

from __future__ import annotations

from fastapi import APIRouter, Response

from letterply.api.dependencies import JobServiceOf
from letterply.api.http.bodies import JsonBody
from letterply.api.responses.describing import body_of, problems
from letterply.api.schemas import ProofDocument
from letterply.jobs import prove_again
from letterply.requests import ProofRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/proofs", tags=["proofs"])


@router.post(
    "",
    response_model=ProofDocument,
    responses={
        200: {"content": {"application/octet-stream": {}}},
        **problems(400, 404, 409, 413, 415, 422, 503),
    },
    openapi_extra=body_of(
        ProofRequest,
        changed={
            "plan": "0123456789abcdef0123456789abcdef",
            "programs": {"sheet-1-1-flat-3175.nc": "G17 G21 G40 G49 G54 G80 G90 G94\nM30\n"},
        },
    ),
)
async def prove(jobs: JobServiceOf, body: JsonBody) -> Response:
    """Prove the programs of a plan as they are now, changed by hand or not; nothing is kept."""
    document = await prove_again(jobs, body)
    kind = "application/json" if body.get("film") is None else "application/octet-stream"
    return Response(document, 200, {"Cache-Control": "no-store"}, kind)
