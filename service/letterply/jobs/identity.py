"""Identity of jobs: a request in, the id of its answer out.

The *id* of a job is the digest of everything that decides its bytes: kind, normalised request,
engine version, and the digests of the fonts and catalogue files of the shop that it draws on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from letterply import ENGINE_VERSION
from letterply.storage import canonical_json, digest

__all__ = ["job_id", "texts_in"]


def job_id(kind: str, request: Mapping[str, Any], sources: Iterable[str] = ()) -> str:
    """Return the id of a job.

    Args:
        kind: kind of job.
        request: normalised request.
        sources: digests of own fonts and catalogue files, in any order.

    """
    facts = {
        "kind": kind,
        "request": request,
        "engine": ENGINE_VERSION,
        "sources": sorted(set(sources)),
    }
    return digest(canonical_json(facts))


def texts_in(value: Any) -> Iterator[str]:
    """Yield every text value in a JSON value; the names of members are left out."""
    waiting = [value]
    while waiting:
        item = waiting.pop()
        if isinstance(item, str):
            yield item
        elif isinstance(item, Mapping):
            waiting.extend(item.values())
        elif isinstance(item, list | tuple):
            waiting.extend(item)
