"""What the client would like: `Accept`, `Prefer`, `If-None-Match`, `Idempotency-Key`.

Header text in, small values out. RFC 9110 for Accept and entity tags, RFC 7240 for Prefer; the
idempotency key follows draft-ietf-httpapi-idempotency-key-header-07, which is work in progress.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Header, Request

from letterply.api.http.headers import read_quality
from letterply.api.http.problems import HttpProblem
from letterply.units import read_whole

__all__ = ["Key", "Preference", "PreferenceOf", "choose", "choose_language", "tag_matches"]

_KEY = re.compile(r'"([\x20-\x21\x23-\x5b\x5d-\x7e]{1,255})"|([\x21\x23-\x5b\x5d-\x7e]{1,255})')


def choose(accept: str | None, offers: Sequence[str]) -> str | None:
    """Return the offer that the client likes best, the first one if it does not mind, or None.

    >>> choose("image/png, application/json;q=0.5", ["application/json", "image/png"])
    'image/png'
    >>> choose("text/html, */*;q=0.1", ["application/json"]), choose("text/html", ["image/png"])
    ('application/json', None)

    """
    if not accept:
        return offers[0]
    ranges = _ranges(accept)

    def liking(offer: str) -> float:
        kind = offer.partition("/")[0]
        for pattern in (offer, f"{kind}/*", "*/*"):  # the most specific range decides
            for name, quality in ranges:
                if name == pattern:
                    return quality
        return 0.0

    best = max(offers, key=liking)
    return best if liking(best) > 0 else None


def choose_language(accept: str | None, offers: Sequence[str]) -> str:
    """Return the language that somebody reads best, the first one if they name none of them.

    A range names what begins with it, as `de` does `de-AT`, and the other way round (RFC 4647).

    >>> choose_language("fr, de-AT;q=0.8, en;q=0.5", ["en", "de"])
    'de'
    >>> choose_language("fr", ["en", "de"]), choose_language("de;q=0", ["en", "de"])
    ('en', 'en')

    """
    liked = dict.fromkeys(offers, 0.0)
    for name, quality in _ranges(accept or ""):
        plain = name.partition("-")[0]
        if plain in liked:
            liked[plain] = max(liked[plain], quality)
    return max(offers, key=lambda offer: liked[offer])


def _ranges(header: str) -> list[tuple[str, float]]:
    """Return what a header names, in lower case, and how well it is liked."""
    found: list[tuple[str, float]] = []
    for item in header.split(","):
        name, *parameters = (part.strip().lower() for part in item.split(";"))
        quality = 1.0
        for parameter in parameters:
            if parameter.startswith("q="):
                quality = read_quality(parameter[2:].strip())
        found.append((name, quality))
    return found


def tag_matches(if_none_match: str | None, tag: str) -> bool:
    """Tell whether an If-None-Match header holds this entity tag.

    >>> tag_matches('W/"a", "b"', '"a"'), tag_matches("*", '"a"'), tag_matches(None, '"a"')
    (True, True, False)

    """
    if not if_none_match:
        return False
    found = (item.strip().removeprefix("W/") for item in if_none_match.split(","))
    return any(item in (tag, "*") for item in found)


@dataclass(frozen=True, slots=True)
class Preference:
    """How the client wants to wait.

    Attributes:
        respond_async: answer at once, the result can come later.
        wait_s: wait so long at most; None for the service's own choice.

    """

    respond_async: bool = False
    wait_s: float | None = None

    def patience_s(self, usual_s: float) -> float:
        """Return how long to wait for the result, never longer than usual.

        A client that asks for an answer at once may still name a time to wait first.
        """
        if self.wait_s is None:
            return 0.0 if self.respond_async else usual_s
        return min(self.wait_s, usual_s)


async def _preference(
    prefer: Annotated[
        str | None,
        Header(
            description="`respond-async` to be answered at once, `wait=10` to wait so many seconds"
            " at most (RFC 7240).",
            examples=["respond-async, wait=5"],
        ),
    ] = None,
) -> Preference:
    respond_async, wait_s = False, None
    for item in (prefer or "").split(","):
        name, _, value = item.partition(";")[0].strip().lower().partition("=")
        if name.strip() == "respond-async":
            respond_async = True
        elif name.strip() == "wait":
            wait_s = read_whole(value.strip().strip('"'))
    return Preference(respond_async, wait_s)


async def _key(
    request: Request,
    idempotency_key: Annotated[
        str | None,
        Header(
            description="A name of your own for this request, as a UUID in quotes: sending the"
            " request again gives the same answer.",
            examples=['"8e03978e-40d5-43dd-bc93-6894a57f9324"'],
        ),
    ] = None,
) -> str | None:
    if idempotency_key is None:
        return None
    found = _KEY.fullmatch(idempotency_key.strip())
    if found is None:
        raise HttpProblem(
            "The idempotency key cannot be used.",
            code="bad-idempotency-key",
            field="Idempotency-Key",
            expected="1 to 255 printable ASCII characters, best a UUID in quotes",
        )
    # Two owners may hit on the same name.
    owner = request.state.owner
    return f"{owner}\n{found[1] or found[2]}"


PreferenceOf = Annotated[Preference, Depends(_preference)]
Key = Annotated[str | None, Depends(_key)]
