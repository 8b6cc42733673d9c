"""What runs while the app does: store, lanes of workers, services, and the work beside requests.

Opened in this order when the app starts, closed the other way round when it ends, however far the
start had come.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Coroutine, Mapping
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import asdict
from functools import partial
from typing import Any

from fastapi import FastAPI

from letterply.api.dependencies import AppState
from letterply.api.hooks.sending import Sender
from letterply.api.http.watching import Watching
from letterply.api.operate import rules_of
from letterply.api.own_worker import OwnWorker
from letterply.api.security.limits import RateExchange, RequestRate
from letterply.api.security.pace import Paces
from letterply.api.settings import Settings
from letterply.catalogue import Catalogue
from letterply.errors import LetterplyError
from letterply.jobs import JobService, Previews, RunningPlan
from letterply.offers import OfferService
from letterply.orders import OrderService
from letterply.storage import HOUSE, Store, Webhooks, digest, sweep
from letterply.workers import ComputePool

__all__ = ["lifespan_of"]

_log = logging.getLogger(__name__)

_WORKER_MODULES = (
    "letterply.jobs.previews",
    "letterply.jobs.proving",
    "letterply.jobs.run",
    "letterply.jobs.uploads",
    "letterply.offers.service",
    "letterply.orders.intake.measuring",
)
_WARMING = "letterply.jobs.warm"
_ORDERS_EVERY_S = 5.0


def lifespan_of(
    settings: Settings, catalogue: Catalogue, watching: Watching, rate: RequestRate
) -> Callable[[FastAPI], AbstractAsyncContextManager[None]]:
    """Return what an app lives in.

    Args:
        settings: what the operator decided.
        catalogue: shipped data with the operator's own laid over.
        watching: told of what happens.
        rate: counts the requests of owners.

    """

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        worker = OwnWorker(settings)
        async with _open_store(settings) as store, _lanes(settings, watching) as lanes:
            state = _services(settings, catalogue, watching, store, lanes, worker)
            async with _closing(state, worker):
                watching.watch(lanes, state.job_service, state.order_service)
                app.state.access = store.access
                app.state.app_state = state
                resumed = await state.job_service.resume()
                async with _beside(
                    _sweep_now_and_then(settings, store, state.order_service),
                    _sender(settings, store).run(),
                    RateExchange(rate, store.database).run(),
                    _work_when_needed(worker, state.order_service),
                ):
                    _log.info("service started", extra={"resumed_jobs": resumed})
                    yield

    return lifespan


@asynccontextmanager
async def _open_store(settings: Settings) -> AsyncIterator[Store]:
    store = await asyncio.to_thread(
        Store, settings.data_folder, settings.database_url, settings.bucket_url
    )
    try:
        yield store
    finally:
        store.close()


@asynccontextmanager
async def _lanes(settings: Settings, watching: Watching) -> AsyncIterator[dict[str, ComputePool]]:
    """Give the pools of workers by name: jobs, short and, unless there are none, previews."""
    lane = partial(
        ComputePool,
        time_limit_s=settings.time_limit_s,
        memory_limit_bytes=settings.memory_limit_mb * 1_000_000,
        cache_folder=settings.data_folder / "compiled",
        preload=_WORKER_MODULES,
        on_phase=watching.phase_over,
    )
    hasty = partial(lane, patience_s=settings.short_wait_s)
    lanes = {
        # Jobs wait as long as they must: their clients may ask again by id.
        "jobs": lane(
            settings.workers, niceness=settings.niceness, warm_up=f"{_WARMING}:warm_worker"
        ),
        "short": hasty(settings.short_workers),
    }
    if settings.preview_workers:
        lanes["previews"] = hasty(settings.preview_workers, warm_up=f"{_WARMING}:warm_previews")
    try:
        # On this thread: it lives as long as the workers should.
        for started in lanes.values():
            started.start()
        yield lanes
    finally:
        watching.close()
        for stopped in lanes.values():
            await asyncio.to_thread(stopped.stop)


def _services(
    settings: Settings,
    catalogue: Catalogue,
    watching: Watching,
    store: Store,
    lanes: Mapping[str, ComputePool],
    worker: OwnWorker,
) -> AppState:
    pool, short_lane = lanes["jobs"], lanes["short"]
    order_service = OrderService(
        store, short_lane, catalogue, settings.catalogue_files, drawing=pool
    )
    job_service = JobService(
        store,
        pool,
        short_lane,
        catalogue_files=settings.catalogue_files,
        shared_folder=settings.data_folder / "shared",
        draw={"order": order_service.draw},
        plan=RunningPlan(dead_after_s=settings.dead_after_s, on_end=watching.job_over),
        max_waiting=settings.max_waiting,
        file_wait_s=settings.wait_s,
    )
    return AppState(
        settings,
        catalogue,
        job_service,
        watching.metrics,
        order_service,
        OfferService(job_service, order_service, catalogue, short_lane),
        Previews(job_service, lanes.get("previews", short_lane)),
        lanes,
        worker.start,
        Paces(),
    )


@asynccontextmanager
async def _closing(state: AppState, worker: OwnWorker) -> AsyncIterator[None]:
    """Close the services and stop the worker of their own in the end."""
    try:
        yield
    finally:
        await asyncio.to_thread(worker.stop)
        await state.job_service.close()
        await state.order_service.estimates.close()
        await asyncio.to_thread(state.order_service.close)


@asynccontextmanager
async def _beside(*works: Coroutine[Any, Any, None]) -> AsyncIterator[None]:
    """Do work beside requests, until the end."""
    tasks = [asyncio.create_task(work) for work in works]
    try:
        yield
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


def _sender(settings: Settings, store: Store) -> Sender:
    return Sender(
        Webhooks(store.database, HOUSE, settings.signing_key),
        settings.webhook_networks,
        settings.public_url or "",
        settings.webhook_retry_s,
    )


async def _work_when_needed(worker: OwnWorker, order_service: OrderService) -> None:
    """Start the service's own worker once an order is open, wherever that was placed."""
    while worker.wanted:
        try:
            if await asyncio.to_thread(order_service.book.any_open):
                worker.start()
                return  # from now on it is kept alive
        except LetterplyError:
            _log.warning("it is not known whether orders are open")
        await asyncio.sleep(_ORDERS_EVERY_S)


async def _sweep_now_and_then(
    settings: Settings, store: Store, order_service: OrderService
) -> None:
    """Remove what nobody holds any more, for as long as the service runs."""
    # The copies that workers read are not named by any row.
    keep = [digest(path.read_bytes()) for path in settings.catalogue_files]
    while True:
        await asyncio.sleep(settings.sweep_every_s)
        try:
            swept = await asyncio.to_thread(sweep, store, rules_of(settings), keep)
            await order_service.forget(swept.orders)
        except Exception:  # the store is away, say: what is left goes next time
            _log.exception("a sweep was cut off")
        else:
            _log.info("swept", extra=asdict(swept))
