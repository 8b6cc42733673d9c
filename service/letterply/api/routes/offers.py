"""offers: what a customer is shown, the link to it, what the customer replied. For the maker."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from letterply.api.dependencies import LanguageOf, OfferServiceOf, PageOf, SettingsOf
from letterply.api.http.bodies import JsonBody
from letterply.api.responses.customer_words import words_for
from letterply.api.responses.describing import body_of, problems
from letterply.api.responses.lists import next_link
from letterply.api.responses.offers import link_of, offer_document, reach_of
from letterply.api.responses.results import MEDIA_TYPES, json_response, name_download
from letterply.api.schemas import MadeOfferDocument, OfferDocument, OfferPage
from letterply.names import file_name
from letterply.requests import OfferRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/offers", tags=["offers"])

_NO_STORE = {"Cache-Control": "no-store"}
_Id = Annotated[str | None, Query(max_length=40)]


@router.post(
    "",
    status_code=201,
    response_model=MadeOfferDocument,
    responses=problems(400, 404, 409, 413, 415, 422),
    openapi_extra=body_of(
        OfferRequest, plan={"plan": "0" * 32, "price": 120.0, "currency": "EUR", "days": 14}
    ),
)
async def make_offer(
    request: Request,
    offer_service: OfferServiceOf,
    settings: SettingsOf,
    body: JsonBody,
    dry_run: Annotated[bool, Query(description="Only say what would be offered.")] = False,
) -> Response:
    """Offer a customer what was checked, planned or ordered.

    The answer has the link for the customer, this once: nothing is kept of it that opens the page.
    """
    offer, token = await offer_service.make(body, dry_run=dry_run)
    document = offer_document(offer, offer_service.now)
    if dry_run:
        return json_response(document, headers=_NO_STORE)
    link = link_of(token, settings, str(request.base_url))
    document |= {"link": link, "link_reaches": reach_of(settings)}
    headers = {**_NO_STORE, "Location": f"/v1/offers/{offer.id}"}
    return json_response(document, 201, headers)


@router.get("", response_model=OfferPage, responses=problems(404))
async def list_offers(
    offer_service: OfferServiceOf, page: PageOf, of: _Id = None, version: _Id = None
) -> Response:
    """List offers, newest first.

    With `of`, those made from this check, plan or order; with `version`, those of this recipe.
    """
    found, more = await offer_service.offers(
        limit=page.limit, after=page.after, job=of, version=version
    )
    now = offer_service.now
    wishes = {name: value for name, value in (("of", of), ("version", version)) if value}
    following = next_link("/v1/offers", page, found[-1].id, wishes) if more else None
    items = [offer_document(offer, now) for offer in found]
    return json_response({"items": items, "next": following}, headers=_NO_STORE)


@router.get(
    "/{id}.pdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}}, **problems(404)},
)
async def get_offer_pdf(
    offer_service: OfferServiceOf, id: str, lang: LanguageOf = None
) -> Response:
    """Return an offer as the customer sees it, on paper."""
    offer = await offer_service.offer(id)
    response = Response(
        await offer_service.pdf(offer, words_for(lang, None)), 200, _NO_STORE, MEDIA_TYPES[".pdf"]
    )
    name_download(response, file_name(f"{offer.title}.pdf", fallback="offer.pdf"))
    return response


@router.get("/{id}", response_model=OfferDocument, responses=problems(404))
async def get_offer(offer_service: OfferServiceOf, id: str) -> Response:
    """Return an offer: where it stands and what was replied."""
    offer = await offer_service.offer(id)
    return json_response(offer_document(offer, offer_service.now), headers=_NO_STORE)


@router.post("/{id}/withdraw", response_model=OfferDocument, responses=problems(404, 409))
async def withdraw_offer(offer_service: OfferServiceOf, id: str) -> Response:
    """Take an offer back: its link shows it no more. One with a yes cannot be taken back."""
    offer = await offer_service.withdraw(id)
    return json_response(offer_document(offer, offer_service.now), headers=_NO_STORE)
