"""What routes are handed: the desk, the settings, the catalogue, paging."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, cast

from fastapi import Depends, Query, Request

from letterply.api.metrics import Metrics
from letterply.api.settings import Settings
from letterply.catalogue.model import Catalogue
from letterply.orders.desk import Desk
from letterply.orders.front import OrderCounter

__all__ = ["CatalogueOf", "CounterOf", "DeskOf", "Page", "PageOf", "Rooms", "RoomsOf", "SettingsOf"]


@dataclass(frozen=True, slots=True)
class Rooms:
    """What a running service has; made when it starts.

    Attributes:
        settings: what the operator decided.
        catalogue: shipped data with the shop's own laid over.
        desk: takes jobs.
        metrics: what operators watch.
        counter: takes orders.
        start_worker: sees to it that a worker of the service's own is there, if it has one.

    """

    settings: Settings
    catalogue: Catalogue
    desk: Desk
    metrics: Metrics
    counter: OrderCounter
    start_worker: Callable[[], None]


def _rooms(request: Request) -> Rooms:
    return cast(Rooms, request.app.state.rooms)


RoomsOf = Annotated[Rooms, Depends(_rooms)]


def _desk(rooms: RoomsOf) -> Desk:
    return rooms.desk


def _settings(rooms: RoomsOf) -> Settings:
    return rooms.settings


def _catalogue(rooms: RoomsOf) -> Catalogue:
    return rooms.catalogue


def _counter(rooms: RoomsOf) -> OrderCounter:
    return rooms.counter


CounterOf = Annotated[OrderCounter, Depends(_counter)]
DeskOf = Annotated[Desk, Depends(_desk)]
SettingsOf = Annotated[Settings, Depends(_settings)]
CatalogueOf = Annotated[Catalogue, Depends(_catalogue)]


@dataclass(frozen=True, slots=True)
class Page:
    """Which part of a list.

    Attributes:
        limit: how many at most.
        after: id of the last one of the page before, or None for the first page.

    """

    limit: int
    after: str | None


def _page(
    limit: Annotated[int, Query(ge=1, le=200, description="How many at most.")] = 50,
    after: Annotated[
        str | None,
        Query(max_length=100, description="Id of the last item of the page before."),
    ] = None,
) -> Page:
    return Page(limit, after)


PageOf = Annotated[Page, Depends(_page)]
