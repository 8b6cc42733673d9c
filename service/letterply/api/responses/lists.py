"""Lists: records in, one page of JSON out, with where it goes on."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from letterply.api.dependencies import Page
from letterply.api.responses.results import job_document, plural
from letterply.jobs import JobService

__all__ = ["next_link", "page_of_results"]


async def page_of_results(job_service: JobService, kind: str, page: Page) -> dict[str, Any]:
    """Return one page of the results of a kind, newest first."""
    found, more = await asyncio.to_thread(
        job_service.store.jobs, kind, limit=page.limit, after=page.after
    )
    items = [job_document(record) | dict(record.headline or {}) for record in found]
    path = f"/v1/{plural(kind)}"
    return {"items": items, "next": next_link(path, page, found[-1].id) if more else None}


def next_link(path: str, page: Page, last: str, wishes: Mapping[str, str] | None = None) -> str:
    """Return where the list goes on after the item called `last`, with the same wishes."""
    return f"{path}?{urlencode({**(wishes or {}), 'limit': page.limit, 'after': last})}"
