"""The service as an ASGI app: settings in, app out. Nothing runs until the app is started."""

from __future__ import annotations

from fastapi import FastAPI

from letterply import __version__
from letterply.api.http.metrics import Metrics
from letterply.api.http.middleware import BodyLimit, HeadAsGet, RequestLog
from letterply.api.http.problems import install_handlers
from letterply.api.http.traces import RequestTrace, open_tracer
from letterply.api.http.watching import Watching
from letterply.api.lifespan import lifespan_of
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
from letterply.api.security.limits import RequestRate
from letterply.api.settings import Settings
from letterply.catalogue import load_catalogue

__all__ = ["create_app"]

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
    tracer = open_tracer(settings.traces_url)
    rate = RequestRate()

    app = FastAPI(
        title="letterply",
        version=__version__,
        description=ABOUT,
        lifespan=lifespan_of(settings, catalogue, Watching(metrics, tracer), rate),
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
