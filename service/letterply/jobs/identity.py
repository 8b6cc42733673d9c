"""Identity of jobs: a request in, the id of its answer out.

The *id* of a job is the digest of everything that decides its bytes: kind, normalised request,
engine version, and the digests of the fonts and catalogue files of the shop that it draws on.
The *version* of a recipe is the digest of the recipe alone: what a customer says yes to.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from letterply import ENGINE_VERSION
from letterply.requests import parse_recipe
from letterply.storage import canonical_json, digest

__all__ = ["job_id", "recipe_version", "texts_in"]


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


def recipe_version(recipe: Mapping[str, Any]) -> str:
    """Return the version of a recipe: the same for the same piece, however it was written.

    Raises:
        InputError: it is no recipe.

    """
    return digest(canonical_json(parse_recipe(recipe).model_dump(mode="json")))


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
