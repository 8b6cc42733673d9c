"""What every kind of result can be asked for: the list, one of them in a type, one of its files.

Making one is each resource's own route; reading is the same for all.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from letterply.api.dependencies import JobServiceOf, PageOf
from letterply.api.responses import results as answers
from letterply.api.responses.caching import require_match
from letterply.api.responses.describing import FILES, file_of, problems
from letterply.api.responses.lists import page_of_results
from letterply.api.schemas import JobDocument, ResultDocument, ResultPage

__all__ = ["add_reading_routes"]

_AS_FILES: dict[str, Any] = {
    media: {"schema": {"type": "string", "format": "binary"}}
    for media in ("image/png", "application/zip")
}
_FileName = Annotated[
    str | None, Query(description="Which one, where there are several files of the type.")
]
_Override = Annotated[
    str | None,
    Query(
        description="`accept-unproved` to be given programs that have not passed their proof, at"
        " your own risk."
    ),
]


def add_reading_routes(
    router: APIRouter, kind: str, document: type[ResultDocument], suffixes: str
) -> None:
    """Add the routes that read results of a kind.

    Args:
        router: of the resource, with its prefix.
        kind: of the job, as `check`.
        document: what a result answers with.
        suffixes: that there are, for the description.

    """
    words, named = kind.replace("-", " "), kind.replace("-", "_")

    @router.get(
        "",
        response_model=ResultPage,
        responses=problems(404, 422),
        name=f"list_{named}s",
        summary=f"List {words}s",
    )
    async def list_results(job_service: JobServiceOf, page: PageOf) -> Response:
        return answers.json_response(await page_of_results(job_service, kind, page))

    @router.get(
        "/{id}.{suffix}",
        responses={**FILES, **problems(404, 409, 422, 500, 503)},
        name=f"get_{named}_as",
        summary=f"Return a {words} by suffix: {suffixes}",
    )
    async def get_result_as(
        request: Request,
        job_service: JobServiceOf,
        id: str,
        suffix: str,
        name: _FileName = None,
        override: _Override = None,
    ) -> Response:
        return await answers.answer_suffix(
            request, job_service, kind, id, f".{suffix}", name=name, override=override
        )

    @router.get(
        "/{id}",
        responses={
            **file_of("image/png", "application/zip"),
            200: {"model": document, "content": _AS_FILES},
            202: {"model": JobDocument, "description": "It is still being made."},
            **problems(404, 406, 409, 422, 500),
        },
        name=f"get_{named}",
        summary=f"Return a {words} in the type that you accept: JSON, PNG or ZIP",
    )
    async def get_result(request: Request, job_service: JobServiceOf, id: str) -> Response:
        return await answers.answer_document(request, job_service, kind, id)

    @router.delete(
        "/{id}",
        status_code=204,
        responses=problems(404, 409, 412),
        name=f"delete_{named}",
        summary=f"Delete a {words} and its files; one that is being made is stopped",
    )
    async def delete_result(request: Request, job_service: JobServiceOf, id: str) -> Response:
        if request.headers.get("if-match") is not None:
            record = await job_service.look_up(id)
            require_match(request, answers.tag_of(record, "document"))
        await job_service.let_go(kind, id)
        return Response(status_code=204)

    @router.get(
        "/{id}/files/{path:path}",
        responses={**FILES, **problems(404, 409, 422, 500, 503)},
        name=f"get_{named}_file",
        summary=f"Return one file of a {words}",
    )
    async def get_result_file(
        request: Request, job_service: JobServiceOf, id: str, path: str, override: _Override = None
    ) -> Response:
        return await answers.answer_file(request, job_service, kind, id, path, override=override)
