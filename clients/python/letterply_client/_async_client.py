"""The client that is awaited: the same calls, driven on an event loop."""

from __future__ import annotations

import asyncio
from types import TracebackType
from typing import Any, Self, TypeVar

import httpx

from letterply_client import _files, _library, _making, _offers, _orders, _shops, _webhooks
from letterply_client._calls import Answer, Ask, Call, Pause
from letterply_client._errors import NotReachable, translated
from letterply_client._means import DEFAULT_URL, options
from letterply_client._methods import awaited

__all__ = ["AsyncClient"]

T = TypeVar("T")


class AsyncClient:
    """As `Client`, on an event loop: the same methods, awaited."""

    def __init__(
        self,
        url: str = DEFAULT_URL,
        *,
        api_key: str | None = None,
        timeout_s: float | None = None,
        transport: httpx.AsyncBaseTransport | None = None,
    ) -> None:
        self.url = url
        self._http = httpx.AsyncClient(**options(url, api_key, transport, timeout_s))

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close all connections."""
        await self._http.aclose()

    preview = awaited(_making.preview)
    prove = awaited(_making.prove)
    build_stack = awaited(_making.build_stack)
    check = awaited(_making.check)
    make_plan = awaited(_making.make_plan)
    find_size = awaited(_making.find_size)
    test_piece = awaited(_making.test_piece)
    survey = awaited(_making.survey)
    get = awaited(_making.get)

    fetch = awaited(_files.fetch)
    save = awaited(_files.save)
    download = awaited(_files.download)

    fonts = awaited(_library.fonts)
    font = awaited(_library.font)
    upload_font = awaited(_library.upload_font)
    artworks = awaited(_library.artworks)
    artwork = awaited(_library.artwork)
    upload_artwork = awaited(_library.upload_artwork)
    templates = awaited(_library.templates)
    template = awaited(_library.template)
    template_file = awaited(_library.template_file)
    materials = awaited(_library.materials)
    cutters = awaited(_library.cutters)
    machines = awaited(_library.machines)
    stock = awaited(_library.stock)
    shops = awaited(_library.shops)
    version = awaited(_library.version)

    take_measured = awaited(_shops.take_measured)
    shop = awaited(_shops.shop)
    shop_file = awaited(_shops.shop_file)
    put_shop = awaited(_shops.put_shop)
    commit_order = awaited(_shops.commit_order)
    commit_plan = awaited(_shops.commit_plan)
    commits = awaited(_shops.commits)
    delete_shop = awaited(_shops.delete_shop)
    use_shop = awaited(_shops.use_shop)

    order = awaited(_orders.order)
    order_again = awaited(_orders.order_again)
    estimate_order = awaited(_orders.estimate_order)
    cancel_order = awaited(_orders.cancel_order)

    make_offer = awaited(_offers.make_offer)
    offers = awaited(_offers.offers)
    offer = awaited(_offers.offer)
    withdraw_offer = awaited(_offers.withdraw_offer)
    offer_pdf = awaited(_offers.offer_pdf)

    webhooks = awaited(_webhooks.webhooks)
    add_webhook = awaited(_webhooks.add_webhook)
    remove_webhook = awaited(_webhooks.remove_webhook)
    try_webhook = awaited(_webhooks.try_webhook)
    webhook_calls = awaited(_webhooks.webhook_calls)

    async def _run(self, call: Call[T]) -> T:
        sent: Any = None
        try:
            while True:
                try:
                    wish = call.send(sent)
                except StopIteration as end:
                    return end.value  # type: ignore[no-any-return]
                if isinstance(wish, Ask):
                    try:
                        sent = await self._answer(wish)
                    except NotReachable as exc:
                        if not wish.patient:
                            raise
                        sent = exc
                    continue
                sent = None
                if isinstance(wish, Pause):
                    await asyncio.sleep(wish.seconds)
                else:
                    await asyncio.to_thread(wish.do)
        finally:
            call.close()  # what it began is undone, whatever went wrong here

    async def _answer(self, ask: Ask) -> Answer:
        try:
            async with self._http.stream(
                ask.method,
                ask.path,
                headers=dict(ask.headers),
                params=dict(ask.params) or None,
                content=ask.content,
            ) as found:
                if ask.into is None or found.status_code >= 400:
                    await found.aread()
                    return Answer(found.status_code, found.headers, found.content)
                await asyncio.to_thread(ask.into.begin)
                async for piece in found.aiter_bytes():
                    await asyncio.to_thread(ask.into.take, piece)
                await asyncio.to_thread(ask.into.end)
                return Answer(found.status_code, found.headers, b"")
        except (httpx.HTTPError, httpx.InvalidURL) as exc:
            raise translated(exc, self.url) from exc
