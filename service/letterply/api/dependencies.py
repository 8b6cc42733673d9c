"""What routes are handed: the job service, the settings, the catalogue, paging.

What asks no store is a coroutine although it waits for nothing: else each would be a turn on a
thread, which costs more than the small questions themselves.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, cast

from fastapi import Depends, Query, Request

from letterply.api.http.metrics import Metrics
from letterply.api.security.pace import Paces
from letterply.api.settings import Settings
from letterply.catalogue import Catalogue, Shop, Stock, in_language
from letterply.jobs import JobService, Previews
from letterply.memo import FoundAgain
from letterply.offers import OfferService
from letterply.orders import OrderService
from letterply.storage import Allowance, Webhooks
from letterply.workers import ComputePool

__all__ = [
    "AllowanceOf",
    "AppState",
    "AppStateOf",
    "CustomerOffersOf",
    "JobServiceOf",
    "LanguageOf",
    "OfferServiceOf",
    "OrderServiceOf",
    "OwnerOf",
    "Page",
    "PageOf",
    "PreviewsOf",
    "SettingsOf",
    "ShopInView",
    "ShopOf",
    "UnitsOf",
    "WebhooksOf",
]


@dataclass(frozen=True, slots=True)
class AppState:
    """What a running service has; made when it starts.

    Attributes:
        settings: what the operator decided.
        catalogue: shipped data with the operator's own laid over.
        job_service: takes jobs.
        metrics: what operators watch.
        order_service: takes orders.
        offer_service: makes offers to customers.
        previews: draws recipes while they are typed.
        lanes: pools of workers, by name: jobs, short, previews.
        start_worker: sees to it that a worker of the service's own is there, if it has one.
        stopping: set when the service is told to stop: what would go on for long ends then.
        paces: how often customers may knock.

    """

    settings: Settings
    catalogue: Catalogue
    job_service: JobService
    metrics: Metrics
    order_service: OrderService
    offer_service: OfferService
    previews: Previews
    lanes: Mapping[str, ComputePool]
    start_worker: Callable[[], None]
    paces: Paces
    stopping: asyncio.Event = field(default_factory=asyncio.Event)


async def _app_state(request: Request) -> AppState:
    return cast(AppState, request.app.state.app_state)


AppStateOf = Annotated[AppState, Depends(_app_state)]


async def _owner(request: Request) -> str:
    return cast(str, request.state.owner)


OwnerOf = Annotated[str, Depends(_owner)]
"""Whose things a request asks for; what routes are handed below shows and makes only those."""


async def _allowance(request: Request) -> Allowance:
    return cast(Allowance, request.state.allowance)


AllowanceOf = Annotated[Allowance, Depends(_allowance)]


async def _job_service(app_state: AppStateOf, owner: OwnerOf, allowance: AllowanceOf) -> JobService:
    return app_state.job_service.of(owner, allowance)


JobServiceOf = Annotated[JobService, Depends(_job_service)]


async def _previews(app_state: AppStateOf, owner: OwnerOf) -> Previews:
    return app_state.previews.of(owner)


async def _settings(app_state: AppStateOf) -> Settings:
    return app_state.settings


@dataclass(frozen=True, slots=True)
class ShopInView:
    """The shop that is looked at.

    Attributes:
        catalogue: what it may choose from.
        stock: key -> sheet on its rack; of one that is not stored, all of the catalogue.
        units: that it speaks in.

    """

    catalogue: Catalogue
    stock: Mapping[str, Stock]
    units: str


LanguageOf = Annotated[
    str | None,
    Query(max_length=20, description="Language of the names of what is shipped, as `de`."),
]
"""What is not known is English."""


def _shop(
    job_service: JobServiceOf,
    shop: Annotated[
        str | None, Query(max_length=80, description="Name of a shop, in place of the default.")
    ] = None,
    lang: LanguageOf = None,
) -> ShopInView:
    catalogue, found, _ = job_service.shops.resolved(shop)
    catalogue = in_language(catalogue, lang)
    return _views.get((catalogue, found), "", lambda: _view(catalogue, found))


def _view(catalogue: Catalogue, shop: Shop) -> ShopInView:
    stock = {s.key: s for s in shop.stock} if shop.version else catalogue.stock
    return ShopInView(catalogue, stock, shop.units)


_views: FoundAgain[ShopInView] = FoundAgain(64)


def _units(
    job_service: JobServiceOf,
    shop: Annotated[
        str | None,
        Query(
            max_length=80, description="Name of a shop whose units are spoken, not the default's."
        ),
    ] = None,
) -> str:
    return job_service.shops.units_of({} if shop is None else {"shop": shop})


UnitsOf = Annotated[str, Depends(_units)]
"""In what a maker who names a shop, or has a default one, is spoken to."""


async def _order_service(app_state: AppStateOf, owner: OwnerOf) -> OrderService:
    return app_state.order_service.of(owner)


PreviewsOf = Annotated[Previews, Depends(_previews)]


async def _offer_service(app_state: AppStateOf, owner: OwnerOf) -> OfferService:
    return app_state.offer_service.of(owner)


async def _customer_offers(app_state: AppStateOf) -> OfferService:
    return app_state.offer_service


CustomerOffersOf = Annotated[OfferService, Depends(_customer_offers)]
"""Offers by the link that a customer has, whoever made them."""


OfferServiceOf = Annotated[OfferService, Depends(_offer_service)]
OrderServiceOf = Annotated[OrderService, Depends(_order_service)]


async def _webhooks(app_state: AppStateOf, owner: OwnerOf) -> Webhooks:
    store = app_state.job_service.store
    return Webhooks(store.database, owner, app_state.settings.signing_key)


WebhooksOf = Annotated[Webhooks, Depends(_webhooks)]
SettingsOf = Annotated[Settings, Depends(_settings)]
ShopOf = Annotated[ShopInView, Depends(_shop)]


@dataclass(frozen=True, slots=True)
class Page:
    """Which part of a list.

    Attributes:
        limit: how many at most.
        after: id of the last one of the page before, or None for the first page.

    """

    limit: int
    after: str | None


async def _page(
    limit: Annotated[int, Query(ge=1, le=200, description="How many at most.")] = 50,
    after: Annotated[
        str | None,
        Query(max_length=100, description="Id of the last item of the page before."),
    ] = None,
) -> Page:
    return Page(limit, after)


PageOf = Annotated[Page, Depends(_page)]
