"""The client that is awaited: the same calls, driven on an event loop."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar, Unpack

import httpx

from letterply_client import _calls, _offers, _orders, _shops, _webhooks
from letterply_client._calls import Answer, Ask, Call, Pause
from letterply_client._errors import NotReachable, translated
from letterply_client._means import DEFAULT_URL, LIMIT_S, ORDER_LIMIT_S, options
from letterply_client._offers import Offer, OfferWishes
from letterply_client._orders import OrderWishes
from letterply_client._results import Entry, File, Progress, Result
from letterply_client._wishes import (
    CheckWishes,
    PieceWishes,
    PlanWishes,
    SizeWishes,
    SurveyWishes,
    measured_request,
    piece_request,
    recipe_request,
    survey_request,
)

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

    async def preview(
        self,
        recipe: Mapping[str, Any],
        *,
        client: str | None = None,
        shop: Mapping[str, Any] | str | None = None,
    ) -> Mapping[str, Any]:
        """Return the layers of a recipe at once; see `Client.preview`."""
        return await self._run(_calls.preview(recipe, client, shop))

    async def prove(
        self,
        plan: str,
        programs: Mapping[str, str],
        *,
        shop: Mapping[str, Any] | str | None = None,
    ) -> Mapping[str, Any]:
        """Return the proof of a plan's programs as they are now; see `Client.prove`."""
        return await self._run(_calls.prove(plan, programs, shop))

    async def build_stack(
        self,
        recipe: Mapping[str, Any],
        *,
        shop: Mapping[str, Any] | str | None = None,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
    ) -> Result:
        """Have a stack built from a recipe; see `Client.build_stack`."""
        request = {"recipe": dict(recipe), **({"shop": shop} if shop else {})}
        return await self._run(
            _calls.make("stack", request, progress=progress, limit_s=limit_s, key=key)
        )

    async def check(
        self,
        recipe: Mapping[str, Any],
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[CheckWishes],
    ) -> Result:
        """Have a stack checked; see `Client.check`."""
        request = recipe_request(recipe, wishes)
        return await self._run(
            _calls.make("check", request, progress=progress, limit_s=limit_s, key=key)
        )

    async def make_plan(
        self,
        recipe: Mapping[str, Any],
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[PlanWishes],
    ) -> Result:
        """Have sheets, programs and their proof made; see `Client.make_plan`."""
        request = recipe_request(recipe, wishes)
        return await self._run(
            _calls.make("plan", request, progress=progress, limit_s=limit_s, key=key)
        )

    async def find_size(
        self,
        recipe: Mapping[str, Any],
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[SizeWishes],
    ) -> Result:
        """Have a question of size answered; see `Client.find_size`."""
        request = recipe_request(recipe, wishes)
        return await self._run(
            _calls.make("size", request, progress=progress, limit_s=limit_s, key=key)
        )

    async def test_piece(
        self,
        kind: str,
        material: str,
        thickness: float | str,
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[PieceWishes],
    ) -> Result:
        """Have a test piece made: its programs, their proof, and `piece.pdf` to write on.

        Args:
            kind: `diameter`, `fit`, `angle`, `feed`, `line` or `flatness`.
            material: key of what it is cut from.
            thickness: of the sheet, mm or text with a unit.
            progress: told how far it is, about once a second.
            limit_s: give up after so long.
            key: idempotency key.
            wishes: cutter, plug or dowel, step, size, shop: see `PieceWishes`.

        """
        request = piece_request(kind, material, thickness, wishes)
        return await self._run(
            _calls.make("test-piece", request, progress=progress, limit_s=limit_s, key=key)
        )

    async def take_measured(
        self,
        shop: str,
        piece: str,
        readings: Mapping[str, float | str],
        *,
        units: str | None = None,
        resolution: float | str | None = None,
        zero: float | str | None = None,
        keep: bool = True,
    ) -> Mapping[str, Any]:
        """Return what readings of a test piece change in a shop, which keeps it.

        Args:
            shop: name of the shop.
            piece: id of the test piece.
            readings: name of a field of its sheet -> what was read.
            units: of bare numbers, `mm` or `inch`; those of its sheet without.
            resolution: the smallest step of the caliper or loupe.
            zero: how far z may have been off when it was zeroed.
            keep: False to be shown what would change.

        Raises:
            InputProblem: readings that cannot be, with every mistake.

        """
        request = measured_request(piece, readings, units, resolution, zero, keep=keep)
        return await self._run(_shops.measured(shop, request))

    async def survey(
        self,
        font: str,
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[SurveyWishes],
    ) -> Result:
        """Have the glyphs of a font looked at; see `Client.survey`."""
        request = survey_request(font, wishes)
        return await self._run(
            _calls.make("survey", request, progress=progress, limit_s=limit_s, key=key)
        )

    async def order(
        self,
        lines: Iterable[Mapping[str, Any] | str] | bytes,
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = ORDER_LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[OrderWishes],
    ) -> Result:
        """Have many lines made at once; see `Client.order`."""
        wish = _orders.placed(lines, wishes, key)
        return await self._run(_orders.wait_for_order(wish, progress=progress, limit_s=limit_s))

    async def order_again(
        self,
        id: str,
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = ORDER_LIMIT_S,
    ) -> Result:
        """Have made what the service lost of an order; see `Client.order_again`."""
        wish = _orders.again(id)
        return await self._run(_orders.wait_for_order(wish, progress=progress, limit_s=limit_s))

    async def estimate_order(
        self,
        lines: Iterable[Mapping[str, Any] | str] | bytes,
        **wishes: Unpack[OrderWishes],
    ) -> Mapping[str, Any]:
        """Return what an order would make, take and cost; nothing is made or stored."""
        return await self._run(_orders.estimate_order(lines, wishes))

    async def cancel_order(self, id: str) -> Mapping[str, Any]:
        """Cancel an order; return where it stands."""
        return await self._run(_orders.cancel_order(id))

    async def make_offer(self, **wishes: Unpack[OfferWishes]) -> Offer:
        """Offer a customer what was checked, planned or ordered; see `Client.make_offer`."""
        return await self._run(_offers.make_offer(wishes))

    async def offers(
        self, *, of: str | None = None, version: str | None = None
    ) -> tuple[Offer, ...]:
        """Return the offers, newest first; see `Client.offers`."""
        return await self._run(_offers.offers(of, version))

    async def offer(self, id: str) -> Offer:
        """Return an offer: where it stands, what the customer said."""
        return await self._run(_offers.offer(id))

    async def withdraw_offer(self, id: str) -> Offer:
        """Take an offer back; one with a yes cannot be taken back (`ConflictProblem`)."""
        return await self._run(_offers.withdraw(id))

    async def offer_pdf(self, id: str) -> bytes:
        """Return an offer on paper, PDF."""
        return await self._run(_offers.offer_pdf(id))

    async def get(self, kind: str, id: str) -> Result:
        """Return a result that was made before."""
        return await self._run(_calls.get(kind, id))

    async def fetch(self, file: File, *, accept_unproved: bool = False) -> bytes:
        """Return the bytes of a file."""
        return await self._run(_calls.fetch(file, accept_unproved=accept_unproved))

    async def save(self, file: File, path: Path | str, *, accept_unproved: bool = False) -> None:
        """Write one file of a result, piece by piece; it is there whole and checked or not."""
        await self._run(_calls.save(file, Path(path), accept_unproved=accept_unproved))

    async def download(
        self,
        result: Result,
        folder: Path | str,
        *,
        only: Iterable[str] | None = None,
        accept_unproved: bool = False,
        progress: Callable[[Progress], None] | None = None,
    ) -> tuple[Path, ...]:
        """Write the files of a result below a folder; see `Client.download`."""
        return await self._run(
            _calls.download(
                result,
                Path(folder),
                only=only,
                accept_unproved=accept_unproved,
                progress=progress,
            )
        )

    async def fonts(self) -> tuple[Entry, ...]:
        """Return the fonts of the library."""
        return await self._run(_calls.entries("fonts"))

    async def font(self, key: str) -> Entry:
        """Return a font with what it says of itself."""
        return await self._run(_calls.entry("fonts", key))

    async def upload_font(self, path: Path | str) -> Entry:
        """Add a font file to the library; its key is its name in recipes."""
        data = await asyncio.to_thread(Path(path).read_bytes)
        return await self._run(_calls.upload_font(data))

    async def artworks(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the drawings that were uploaded."""
        return await self._run(_calls.entries("artworks", shop))

    async def artwork(self, key: str) -> Entry:
        """Return a drawing with what is known of it."""
        return await self._run(_calls.entry("artworks", key))

    async def upload_artwork(self, path: Path | str, **wishes: str | float | None) -> Entry:
        """Upload an SVG drawing, or a PNG or JPEG to be traced; its key is its id in recipes.

        Wishes for a picture: `threshold`, `speck_px`, `smoothing_px`, `ink`.
        """
        data = await asyncio.to_thread(Path(path).read_bytes)
        return await self._run(_calls.upload_artwork(data, wishes))

    async def templates(self) -> tuple[Entry, ...]:
        """Return what there is to begin with."""
        return await self._run(_calls.entries("templates"))

    async def template(
        self,
        key: str,
        *,
        text: str | None = None,
        font: str | None = None,
        size: str | None = None,
    ) -> Entry:
        """Return a template with its recipe, words, font and size (capital height) put in."""
        wishes = {"text": text, "font": font, "size": size}
        return await self._run(_calls.template(key, wishes))

    async def template_file(
        self,
        key: str,
        *,
        text: str | None = None,
        font: str | None = None,
        size: str | None = None,
    ) -> str:
        """Return the same recipe as TOML with comments."""
        wishes = {"text": text, "font": font, "size": size}
        return await self._run(_calls.template_file(key, wishes))

    async def materials(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the materials."""
        return await self._run(_calls.entries("materials", shop))

    async def cutters(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the cutters."""
        return await self._run(_calls.entries("cutters", shop))

    async def machines(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the machines."""
        return await self._run(_calls.entries("machines", shop))

    async def stock(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the stock."""
        return await self._run(_calls.entries("stock", shop))

    async def shops(self) -> tuple[Entry, ...]:
        """Return the shops that are stored."""
        return await self._run(_calls.entries("shops"))

    async def shop(self, name: str) -> Mapping[str, Any]:
        """Return a shop: `shop` as it was written, its `version`, and what it comes to."""
        return await self._run(_shops.shop(name))

    async def shop_file(self, name: str) -> str:
        """Return a shop as TOML, to be changed and stored again."""
        return await self._run(_shops.shop_file(name))

    async def put_shop(
        self,
        name: str,
        document: Mapping[str, Any] | bytes,
        *,
        version: str | None = None,
        toml: bool = True,
    ) -> Mapping[str, Any]:
        """Store a shop, or replace it.

        Args:
            name: of the shop.
            document: what is in it, or the bytes of a file: TOML, or JSON where `toml` is False.
            version: that it replaces (`InputProblem`, `shop-changed`, where it is at another one).
            toml: what bytes are.

        """
        return await self._run(_shops.put_shop(name, document, version, toml=toml))

    async def commit_order(self, order_id: str, *, undo: bool = False) -> Mapping[str, Any]:
        """Take the sheets of an order out of the stock of its shop; what is left comes back.

        Twice is the same as once.

        Args:
            order_id: of an order that is made.
            undo: to undo it instead, as long as what it left over is there.

        Raises:
            Problem: `stock-gone` where sheets are missing, `commit-built-on` where what was left
                over was used.

        """
        return await self._run(_shops.commit("order", order_id, undo=undo))

    async def commit_plan(self, plan_id: str, *, undo: bool = False) -> Mapping[str, Any]:
        """Take the sheets of a plan out of the stock of its shop; see `commit_order`."""
        return await self._run(_shops.commit("plan", plan_id, undo=undo))

    async def commits(self, shop: str) -> tuple[Mapping[str, Any], ...]:
        """Return what orders and plans took out of a shop and what came back, newest first."""
        return await self._run(_shops.commits(shop))

    async def delete_shop(self, name: str) -> None:
        """Remove a shop; what was made in it still names its version."""
        await self._run(_shops.delete_shop(name))

    async def use_shop(self, name: str, *, use: bool = True) -> None:
        """Let a shop be the one of all requests that name none, or no longer."""
        await self._run(_shops.use_shop(name, use=use))

    async def webhooks(self) -> tuple[Mapping[str, Any], ...]:
        """Return the addresses that are told what happens."""
        return await self._run(_webhooks.webhooks())

    async def add_webhook(self, url: str, events: Iterable[str] | None = None) -> Mapping[str, Any]:
        """Register an address; what comes back has the `secret` that its calls are signed with.

        Args:
            url: where to send it.
            events: some of `order.done`, `order.failed`, `order.cancelled`, `offer.replied`.

        """
        return await self._run(_webhooks.add_webhook(url, events))

    async def remove_webhook(self, id: str) -> None:
        """Forget an address."""
        await self._run(_webhooks.remove_webhook(id))

    async def try_webhook(self, id: str) -> str:
        """Have an address told that this is a test; return the id of the event."""
        return await self._run(_webhooks.try_webhook(id))

    async def webhook_calls(self, id: str) -> tuple[Mapping[str, Any], ...]:
        """Return what became of telling an address, newest first."""
        return await self._run(_webhooks.webhook_calls(id))

    async def version(self) -> str:
        """Return the version of the service."""
        return await self._run(_calls.version())

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
