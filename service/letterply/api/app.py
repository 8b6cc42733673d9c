"""The service as an ASGI app: settings in, app out. Nothing runs until the app is started."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import asdict
from functools import partial

from fastapi import FastAPI

from letterply import __version__
from letterply.api.dependencies import AppState
from letterply.api.hooks.sending import Sender
from letterply.api.http.metrics import Metrics
from letterply.api.http.middleware import BodyLimit, HeadAsGet, RequestLog
from letterply.api.http.problems import install_handlers
from letterply.api.http.traces import RequestTrace, open_tracer
from letterply.api.http.watching import Watching
from letterply.api.operate import rules_of
from letterply.api.own_worker import OwnWorker
from letterply.api.responses.describing import ABOUT, install_description
from letterply.api.routes import (
    artworks,
    checks,
    customer,
    cutters,
    fonts,
    health,
    jobs,
    keys,
    machines,
    materials,
    offers,
    orders,
    page,
    plans,
    previews,
    proofs,
    reading,
    shops,
    sizes,
    stacks,
    stock,
    surveys,
    templates,
    test_pieces,
    usage,
    webhooks,
)
from letterply.api.security.guard import Guard
from letterply.api.security.limits import RateExchange, RequestRate
from letterply.api.security.pace import Paces
from letterply.api.settings import Settings
from letterply.catalogue import Catalogue, load_catalogue
from letterply.errors import LetterplyError
from letterply.jobs import JobService, Previews, RunningPlan
from letterply.offers import OfferService
from letterply.orders import OrderService
from letterply.storage import HOUSE, Store, Webhooks, digest, sweep
from letterply.workers import ComputePool

__all__ = ["create_app"]

_log = logging.getLogger(__name__)

_ROUTERS = (
    stacks,
    checks,
    plans,
    sizes,
    test_pieces,
    surveys,
    previews,
    proofs,
    orders,
    offers,
    jobs,
    fonts,
    artworks,
    materials,
    cutters,
    machines,
    stock,
    shops,
    templates,
    keys,
    webhooks,
    usage,
    health,
    reading,
    page,
    customer,
)
_WORKER_MODULES = (
    "letterply.jobs.previews",
    "letterply.jobs.proving",
    "letterply.jobs.run",
    "letterply.jobs.uploads",
    "letterply.offers.service",
    "letterply.orders.intake.measuring",
)
_WARMING = "letterply.jobs.warm"
_FORM_OVERHEAD_BYTES = 10_000
_ORDERS_EVERY_S = 5.0


def create_app(settings: Settings | None = None) -> FastAPI:
    """Return the service.

    Args:
        settings: what the operator decided; read from the environment when left out.

    Raises:
        InputError: `bad-catalogue`, when a catalogue file of the shop is wrong.

    """
    settings = settings or Settings()
    catalogue = load_catalogue(*settings.catalogue_files)
    metrics = Metrics()
    tracer = open_tracer(settings.traces_url)
    rate = RequestRate()

    app = FastAPI(
        title="letterply",
        version=__version__,
        description=ABOUT,
        lifespan=_lifespan(settings, catalogue, Watching(metrics, tracer), rate),
        docs_url=None,
        redoc_url=None,
    )
    install_handlers(app)
    for module in _ROUTERS:
        app.include_router(module.router)
    # The last one added is the outermost.
    app.add_middleware(
        BodyLimit,
        limit_bytes=settings.max_json_bytes,
        limits={
            "/v1/fonts": settings.max_font_bytes + _FORM_OVERHEAD_BYTES,
            "/v1/artworks": settings.max_artwork_bytes + _FORM_OVERHEAD_BYTES,
        },
    )
    app.add_middleware(HeadAsGet)
    app.add_middleware(
        Guard,
        keys=settings.api_keys,
        access=lambda: getattr(app.state, "access", None),
        allowance=settings.allowance,
        always=settings.open_to_all,
        rate=rate,
    )
    app.add_middleware(RequestLog, metrics=metrics)
    if tracer is not None:
        app.add_middleware(RequestTrace, tracer=tracer)
    install_description(app)
    return app


def _lifespan(
    settings: Settings, catalogue: Catalogue, watching: Watching, rate: RequestRate
) -> Callable[[FastAPI], AbstractAsyncContextManager[None]]:
    """Return what keeps store, workers and services while the app runs."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        store = await asyncio.to_thread(
            Store, settings.data_folder, settings.database_url, settings.bucket_url
        )
        lane = partial(
            ComputePool,
            time_limit_s=settings.time_limit_s,
            memory_limit_bytes=settings.memory_limit_mb * 1_000_000,
            cache_folder=settings.data_folder / "compiled",
            preload=_WORKER_MODULES,
            on_phase=watching.phase_over,
        )
        # Jobs wait as long as they must: their clients may ask again by id.
        pool = lane(settings.workers, warm_up=f"{_WARMING}:warm_worker")
        hasty = partial(lane, niceness=0, patience_s=settings.short_wait_s)
        short_lane = hasty(settings.short_workers)
        previews = settings.preview_workers
        preview_lane = (
            hasty(previews, warm_up=f"{_WARMING}:warm_previews") if previews else short_lane
        )
        lanes = {"jobs": pool, "short": short_lane}
        lanes |= {"previews": preview_lane} if previews else {}
        try:
            # On this thread: it lives as long as the workers should.
            for started in lanes.values():
                started.start()
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
            watching.watch(lanes, job_service, order_service)
            worker = OwnWorker(settings)
            app.state.access = store.access
            app.state.app_state = AppState(
                settings,
                catalogue,
                job_service,
                watching.metrics,
                order_service,
                OfferService(job_service, order_service, catalogue, short_lane),
                Previews(job_service, preview_lane),
                lanes,
                worker.start,
                Paces(),
            )
            resumed = await job_service.resume()
            beside = [
                asyncio.create_task(work)
                for work in (
                    _sweep_now_and_then(settings, store, order_service),
                    _sender(settings, store).run(),
                    RateExchange(rate, store.database).run(),
                    _work_when_needed(worker, order_service),
                )
            ]
            _log.info("service started", extra={"resumed_jobs": resumed})
            try:
                yield
            finally:
                for task in beside:
                    task.cancel()
                await asyncio.gather(*beside, return_exceptions=True)
                await asyncio.to_thread(worker.stop)
                await job_service.close()
                await order_service.estimates.close()
                await asyncio.to_thread(order_service.close)
        finally:
            watching.close()
            for stopped in lanes.values():
                await asyncio.to_thread(stopped.stop)
            store.close()

    return lifespan


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
