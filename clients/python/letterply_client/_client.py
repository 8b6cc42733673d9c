"""The client that waits: calls driven on a thread."""

from __future__ import annotations

import time
from types import TracebackType
from typing import Any, Self, TypeVar

import httpx

from letterply_client import _files, _library, _making, _offers, _orders, _shops, _webhooks
from letterply_client._calls import Answer, Ask, Call, Pause
from letterply_client._errors import NotReachable, translated
from letterply_client._means import DEFAULT_URL, options
from letterply_client._methods import waited

__all__ = ["Client"]

T = TypeVar("T")


class Client:
    """Talks to a service and waits for it.

    Args:
        url: where the service is.
        api_key: secret of an API key, when the service asks for one.
        timeout_s: how long to wait for one answer.
        transport: an httpx transport to use instead of the network.

    Every method raises a `Problem` when the service cannot, `NotReachable` or `TimedOut` when it
    does not answer.

    """

    def __init__(
        self,
        url: str = DEFAULT_URL,
        *,
        api_key: str | None = None,
        timeout_s: float | None = None,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        self.url = url
        self._http = httpx.Client(**options(url, api_key, transport, timeout_s))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close all connections."""
        self._http.close()

    preview = waited(_making.preview)
    prove = waited(_making.prove)
    build_stack = waited(_making.build_stack)
    check = waited(_making.check)
    make_plan = waited(_making.make_plan)
    find_size = waited(_making.find_size)
    test_piece = waited(_making.test_piece)
    survey = waited(_making.survey)
    get = waited(_making.get)

    fetch = waited(_files.fetch)
    save = waited(_files.save)
    download = waited(_files.download)

    fonts = waited(_library.fonts)
    font = waited(_library.font)
    upload_font = waited(_library.upload_font)
    artworks = waited(_library.artworks)
    artwork = waited(_library.artwork)
    upload_artwork = waited(_library.upload_artwork)
    templates = waited(_library.templates)
    template = waited(_library.template)
    template_file = waited(_library.template_file)
    materials = waited(_library.materials)
    cutters = waited(_library.cutters)
    machines = waited(_library.machines)
    stock = waited(_library.stock)
    shops = waited(_library.shops)
    version = waited(_library.version)

    take_measured = waited(_shops.take_measured)
    shop = waited(_shops.shop)
    shop_file = waited(_shops.shop_file)
    put_shop = waited(_shops.put_shop)
    commit_order = waited(_shops.commit_order)
    commit_plan = waited(_shops.commit_plan)
    commits = waited(_shops.commits)
    delete_shop = waited(_shops.delete_shop)
    use_shop = waited(_shops.use_shop)

    order = waited(_orders.order)
    order_again = waited(_orders.order_again)
    estimate_order = waited(_orders.estimate_order)
    cancel_order = waited(_orders.cancel_order)

    make_offer = waited(_offers.make_offer)
    offers = waited(_offers.offers)
    offer = waited(_offers.offer)
    withdraw_offer = waited(_offers.withdraw_offer)
    offer_pdf = waited(_offers.offer_pdf)

    webhooks = waited(_webhooks.webhooks)
    add_webhook = waited(_webhooks.add_webhook)
    remove_webhook = waited(_webhooks.remove_webhook)
    try_webhook = waited(_webhooks.try_webhook)
    webhook_calls = waited(_webhooks.webhook_calls)

    def _run(self, call: Call[T]) -> T:
        sent: Any = None
        try:
            while True:
                try:
                    wish = call.send(sent)
                except StopIteration as end:
                    return end.value  # type: ignore[no-any-return]
                if isinstance(wish, Ask):
                    try:
                        sent = self._answer(wish)
                    except NotReachable as exc:
                        if not wish.patient:
                            raise
                        sent = exc
                    continue
                sent = None
                if isinstance(wish, Pause):
                    time.sleep(wish.seconds)
                else:
                    wish.do()
        finally:
            call.close()  # what it began is undone, whatever went wrong here

    def _answer(self, ask: Ask) -> Answer:
        try:
            with self._http.stream(
                ask.method,
                ask.path,
                headers=dict(ask.headers),
                params=dict(ask.params) or None,
                content=ask.content,
            ) as found:
                if ask.into is None or found.status_code >= 400:
                    found.read()
                    return Answer(found.status_code, found.headers, found.content)
                ask.into.begin()
                for piece in found.iter_bytes():
                    ask.into.take(piece)
                ask.into.end()
                return Answer(found.status_code, found.headers, b"")
        except (httpx.HTTPError, httpx.InvalidURL) as exc:
            raise translated(exc, self.url) from exc
