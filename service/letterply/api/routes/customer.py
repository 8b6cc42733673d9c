"""customer: the page behind an offer's link. The link is all that its holder has, and all it opens.

It gives no session and no key; every path below it asks for the same token. Nothing is kept by
browsers or found by search engines, no script runs, and the address is passed on to nobody.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.resources import files
from urllib.parse import parse_qs

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from letterply.api.dependencies import AppStateOf, CustomerOffersOf
from letterply.api.http.headers import read_media_type
from letterply.api.http.problems import HttpProblem, status_of
from letterply.api.responses.customer_page import closed_page, offer_page
from letterply.api.responses.customer_words import words_for
from letterply.api.responses.results import MEDIA_TYPES, name_download
from letterply.errors import InputError, LetterplyError, NotFound
from letterply.names import file_name
from letterply.offers import Offer, OfferService, Words
from letterply.units import read_whole

__all__ = ["router"]

router = APIRouter(prefix="/offer", include_in_schema=False)

_TOKEN = re.compile(r"[A-Za-z0-9_-]{32}")
_POLICY = (
    "default-src 'none'; img-src 'self'; style-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
_SEALED = {
    "Content-Security-Policy": _POLICY,
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex, nofollow",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_MOST_BYTES = 40_000
"""Of a reply: what a name and a wish take at most, every sign of them written as twelve."""


_PARTS = {"style.css": ("customer.css", "text/css"), "icon.svg": ("page/icon.svg", "image/svg+xml")}


@lru_cache
def _static(name: str) -> bytes:
    return files("letterply.api").joinpath("static", *name.split("/")).read_bytes()


@router.get("/style.css")
@router.get("/icon.svg")
def part_of_page(request: Request) -> Response:
    """Return the style or the icon of every such page."""
    name, kind = _PARTS[request.url.path.rpartition("/")[2]]
    return Response(_static(name), headers=_SEALED, media_type=kind)


@router.get("/{token}")
def without_slash(request: Request, token: str) -> Response:
    """Go on to the page: what is beside it is named without knowing where it stands."""
    if not _TOKEN.fullmatch(token):
        return _closed(_nowhere(), None, _words(request))
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"{token}/{query}", 308, _SEALED)


@router.get("/{token}/")
async def show(
    request: Request, app_state: AppStateOf, offers: CustomerOffersOf, token: str
) -> Response:
    """Return the page of an offer."""
    words = _words(request)
    try:
        offer = await _behind(request, app_state, offers, token)
    except LetterplyError as error:
        return _closed(error, await _closed_offer(offers, token, error), words)
    return _html(offer_page(offer, words), words)


@router.get("/{token}/picture-{number}.png")
async def picture(
    request: Request, app_state: AppStateOf, offers: CustomerOffersOf, token: str, number: str
) -> Response:
    """Return the picture of a piece, counted from 1."""
    try:
        offer = await _behind(request, app_state, offers, token)
        at = read_whole(number) or 0
        if not 1 <= at <= len(offer.pieces):
            raise _nowhere()
        data = await offers.picture(offer.pieces[at - 1])
    except LetterplyError as error:
        return _closed(error, None, _words(request))
    return Response(data, headers=_SEALED, media_type="image/png")


@router.get("/{token}/offer.pdf")
async def paper(
    request: Request, app_state: AppStateOf, offers: CustomerOffersOf, token: str
) -> Response:
    """Return the offer on paper."""
    try:
        offer = await _behind(request, app_state, offers, token)
        app_state.paces.papers.require(offer.id)
        data = await offers.pdf(offer, _words(request))
    except LetterplyError as error:
        return _closed(error, None, _words(request))
    response = Response(data, headers=_SEALED, media_type=MEDIA_TYPES[".pdf"])
    name_download(response, file_name(f"{offer.title}.pdf", fallback="offer.pdf"))
    return response


@router.post("/{token}/")
async def reply(
    request: Request, app_state: AppStateOf, offers: CustomerOffersOf, token: str
) -> Response:
    """Take a reply and show the page again, or say on it what is wrong with the reply."""
    words = _words(request)
    try:
        offer = await _behind(request, app_state, offers, token)
        app_state.paces.replies.require(offer.id)
        given = await _form(request)
        try:
            await offers.reply(token, given["kind"], given["name"], given["text"])
        except InputError as error:
            return _html(offer_page(offer, words, given, error), words, 422)
    except LetterplyError as error:
        return _closed(error, await _closed_offer(offers, token, error), words)
    # Asked for anew, so that going back or loading again sends nothing twice.
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"./{query}", 303, _SEALED)


@router.api_route("/{rest:path}", methods=["GET", "POST"])
def nothing_else(request: Request, rest: str) -> Response:
    """Say that there is nothing."""
    return _closed(_nowhere(), None, _words(request))


async def _behind(
    request: Request, app_state: AppStateOf, offers: OfferService, token: str
) -> Offer:
    """Return the offer behind a token; who only guesses is slowed down."""
    try:
        _known_form(token)
        offer = await offers.behind(token)
    except NotFound:
        app_state.paces.misses.require(request.client.host if request.client else "")
        raise
    app_state.paces.pages.require(offer.id)
    return offer


async def _closed_offer(offers: OfferService, token: str, error: LetterplyError) -> Offer | None:
    """Return an offer that is over for what its page may still say: that there was a yes."""
    if error.code not in ("offer-ended", "offer-agreed"):
        return None
    return await offers.once_behind(token)


def _known_form(token: str) -> None:
    if not _TOKEN.fullmatch(token):
        raise _nowhere()


def _nowhere() -> NotFound:
    return NotFound("offer", "at this address")


async def _form(request: Request) -> dict[str, str]:
    """Return kind, name and text of a form; what is not there is empty.

    Raises:
        HttpProblem: `unsupported-media-type`, `body-too-large`.

    """
    kind, _ = read_media_type(request.headers.get("content-type", ""))
    if kind != "application/x-www-form-urlencoded":
        raise HttpProblem(
            "This is not what the form of the page sends.", code="unsupported-media-type"
        )
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > _MOST_BYTES:
            raise HttpProblem("The reply is too long.", code="body-too-large")
    try:
        found = parse_qs(body.decode("ascii", "replace"), max_num_fields=20)
    except ValueError:
        found = {}
    return {name: found.get(name, [""])[0] for name in ("kind", "name", "text")}


def _words(request: Request) -> Words:
    """Return what the page says in the language of who asks: `?lang=` goes before their browser."""
    return words_for(request.query_params.get("lang"), request.headers.get("accept-language"))


def _html(page: str, words: Words, status: int = 200) -> Response:
    headers = _SEALED | {"Content-Language": words.language, "Vary": "Accept-Language"}
    return Response(page, status, headers, "text/html; charset=utf-8")


def _closed(error: LetterplyError, offer: Offer | None, words: Words) -> Response:
    status = status_of(error)
    code = "service-busy" if status >= 500 else error.code
    response = _html(closed_page(code, offer, words), words, status)
    if status == 429:
        response.headers["Retry-After"] = "60"
    return response
