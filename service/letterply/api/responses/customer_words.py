"""In which language a customer is told what there is to say."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from letterply.api.http.negotiation import choose_language
from letterply.offers import ENGLISH, LANGUAGES, Words

__all__ = ["words_for"]

_BARE = ("language", "own_name", "months", "groups", "point")
_BRACKETED: dict[str, Any] = {
    f.name: f"⟦{getattr(ENGLISH, f.name)}⟧" for f in fields(Words) if f.name not in _BARE
}
_TEST = replace(ENGLISH, **_BRACKETED)


def words_for(wanted: str | None, accept: str | None) -> Words:
    """Return what is said in the language that is asked for, else in the one that is read best.

    Args:
        wanted: as `de`; `test` brackets all of it, to find what is not in it.
        accept: the header Accept-Language.

    """
    if wanted == "test":
        return _TEST
    known = {words.language: words for words in LANGUAGES}
    return known.get(wanted or "") or known[choose_language(accept, tuple(known))]
