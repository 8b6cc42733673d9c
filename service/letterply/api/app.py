"""The service as an ASGI app: settings in, app out. Nothing runs until the app is started."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from functools import partial

from fastapi import FastAPI

from letterply import __version__
from letterply.api.dependencies import AppState
from letterply.api.http.metrics import Metrics
from letterply.api.http.middleware import BodyLimit, HeadAsGet, RequestLog
from letterply.api.http.problems import install_handlers
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
    stacks,
    stock,
    surveys,
    templates,
)
from letterply.api.security.guard import Guard
from letterply.api.security.pace import Paces
from letterply.api.settings import Settings
from letterply.catalogue import Catalogue, load_catalogue
from letterply.jobs import JobService, Previews
from letterply.offers import OfferService
from letterply.orders import OrderService
from letterply.storage import Store
from letterply.workers import ComputePool

__all__ = ["create_app"]

_log = logging.getLogger(__name__)

_ROUTERS = (
    stacks,
    checks,
    plans,
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

    app = FastAPI(
        title="letterply",
        version=__version__,
        description=ABOUT,
        lifespan=_lifespan(settings, catalogue, metrics),
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
    app.add_middleware(Guard, keys=settings.api_keys)
    app.add_middleware(RequestLog, metrics=metrics)
    install_description(app, keys=bool(settings.api_keys))
    return app


def _lifespan(
    settings: Settings, catalogue: Catalogue, metrics: Metrics
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
        )
        # Jobs wait as long as they must: their clients may ask again by id.
        pool = lane(settings.workers, warm_up=f"{_WARMING}:warm_worker")
        hasty = partial(lane, niceness=0, patience_s=settings.short_wait_s)
        short_lane = hasty(settings.short_workers)
        previews = settings.preview_workers
        preview_lane = (
            hasty(previews, warm_up=f"{_WARMING}:warm_previews") if previews else short_lane
        )
        lanes = (pool, short_lane, preview_lane)[: 3 if previews else 2]
        try:
            for started in lanes:  # on this thread: it lives as long as the workers should
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
                max_waiting=settings.max_waiting,
                file_wait_s=settings.wait_s,
                on_end=_noting(metrics),
            )
            metrics.watch(
                "letterply_jobs_under_way", "Jobs queued or running.", lambda: job_service.under_way
            )
            metrics.watch(
                "letterply_pool_restarts_total",
                "Worker pools replaced.",
                lambda: sum(lane.restarts for lane in lanes),
            )
            worker = OwnWorker(settings)
            app.state.app_state = AppState(
                settings,
                catalogue,
                job_service,
                metrics,
                order_service,
                OfferService(job_service, order_service, catalogue, short_lane),
                Previews(job_service, preview_lane),
                lanes,
                worker.start,
                Paces(),
            )
            resumed = await job_service.resume()
            if await asyncio.to_thread(order_service.book.any_open):
                worker.start()
            _log.info("service started", extra={"resumed_jobs": resumed})
            try:
                yield
            finally:
                await asyncio.to_thread(worker.stop)
                await job_service.close()
                await order_service.estimates.close()
                await asyncio.to_thread(order_service.close)
        finally:
            for stopped in lanes:
                await asyncio.to_thread(stopped.stop)
            store.close()

    return lifespan


def _noting(metrics: Metrics) -> Callable[[str, str, float], None]:
    def note(kind: str, outcome: str, seconds: float) -> None:
        metrics.count("letterply_jobs_total", "Jobs computed.", kind=kind, outcome=outcome)
        metrics.observe("letterply_job_seconds", "Time to compute a job.", seconds, kind=kind)

    return note
