"""The client that waits: calls driven on a thread."""

from __future__ import annotations

import time
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

    def preview(
        self,
        recipe: Mapping[str, Any],
        *,
        client: str | None = None,
        shop: Mapping[str, Any] | str | None = None,
    ) -> Mapping[str, Any]:
        """Return the layers of a recipe, not checked and not kept, fast enough to follow typing.

        Args:
            recipe: what to make, as JSON values.
            client: a name for what shows it: a newer question of the same name overtakes those
                that wait (`ConflictProblem`, `overtaken`).
            shop: whose materials count.

        """
        return self._run(_calls.preview(recipe, client, shop))

    def prove(
        self,
        plan: str,
        programs: Mapping[str, str],
        *,
        shop: Mapping[str, Any] | str | None = None,
    ) -> Mapping[str, Any]:
        """Return the proof of a plan's programs as they are now; nothing is kept.

        Args:
            plan: id of the plan.
            programs: name -> text of every program; one that is left out is not there.
            shop: where they are to be run; the plan's own, as it was then, where it is left out.

        Raises:
            NotFoundProblem: the service has no such plan.

        """
        return self._run(_calls.prove(plan, programs, shop))

    def build_stack(
        self,
        recipe: Mapping[str, Any],
        *,
        shop: Mapping[str, Any] | str | None = None,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
    ) -> Result:
        """Have a stack built from a recipe.

        Args:
            recipe: what to make, as JSON values.
            shop: where it will be cut; then the answer says what is refused there.
            progress: told how far it is, about once a second.
            limit_s: give up after so long.
            key: idempotency key.

        """
        request = {"recipe": dict(recipe), **({"shop": shop} if shop else {})}
        return self._run(_calls.make("stack", request, progress=progress, limit_s=limit_s, key=key))

    def check(
        self,
        recipe: Mapping[str, Any],
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[CheckWishes],
    ) -> Result:
        """Have a stack checked: what stands in the way of cutting it; see `build_stack`.

        `wishes` are those of `CheckWishes`: shop, limits, use of the sign, repair.
        """
        request = recipe_request(recipe, wishes)
        return self._run(_calls.make("check", request, progress=progress, limit_s=limit_s, key=key))

    def make_plan(
        self,
        recipe: Mapping[str, Any],
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[PlanWishes],
    ) -> Result:
        """Have sheets, programs and their proof made; see `build_stack`.

        `wishes` are those of `PlanWishes`: shop, limits, use of the sign, seconds of a search.
        """
        request = recipe_request(recipe, wishes)
        return self._run(_calls.make("plan", request, progress=progress, limit_s=limit_s, key=key))

    def find_size(
        self,
        recipe: Mapping[str, Any],
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[SizeWishes],
    ) -> Result:
        """Have a question of size answered: how large, how small, how wide; see `build_stack`.

        `wishes` are those of `SizeWishes`: one question, and shop, limits, use of the sign.
        """
        request = recipe_request(recipe, wishes)
        return self._run(_calls.make("size", request, progress=progress, limit_s=limit_s, key=key))

    def test_piece(
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
        return self._run(
            _calls.make("test-piece", request, progress=progress, limit_s=limit_s, key=key)
        )

    def take_measured(
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
        return self._run(_shops.measured(shop, request))

    def survey(
        self,
        font: str,
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[SurveyWishes],
    ) -> Result:
        """Have the glyphs of a font looked at: smallest sizes, weakest spots, what closes.

        Args:
            font: key of the font.
            progress: told how far it is, about once a second.
            limit_s: give up after so long.
            key: idempotency key.
            wishes: what to look at and for what, see `SurveyWishes`.

        """
        request = survey_request(font, wishes)
        return self._run(
            _calls.make("survey", request, progress=progress, limit_s=limit_s, key=key)
        )

    def order(
        self,
        lines: Iterable[Mapping[str, Any] | str] | bytes,
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = ORDER_LIMIT_S,
        key: str | None = None,
        **wishes: Unpack[OrderWishes],
    ) -> Result:
        """Have many lines made at once: all of it vetted first, all sheets shared.

        Args:
            lines: texts, or mappings with `text`, `recipe`, `quantity`, `font`, `size`,
                `material`, `reference`; or the bytes of a table (CSV) with these columns.
            progress: told how far it is, about once a second.
            limit_s: give up waiting after so long; the order goes on.
            key: idempotency key.
            wishes: how it is to be made, see `OrderWishes`.

        """
        wish = _orders.placed(lines, wishes, key)
        return self._run(_orders.wait_for_order(wish, progress=progress, limit_s=limit_s))

    def order_again(
        self,
        id: str,
        *,
        progress: Callable[[Progress], None] | None = None,
        limit_s: float = ORDER_LIMIT_S,
    ) -> Result:
        """Have made what the service lost of an order (time, memory, a crash).

        Returns a new order with the lines that were lost; sheets that were made stay as they are.

        Args:
            id: of the order.
            progress: told how far it is, about once a second.
            limit_s: give up waiting after so long; the order goes on.

        """
        wish = _orders.again(id)
        return self._run(_orders.wait_for_order(wish, progress=progress, limit_s=limit_s))

    def estimate_order(
        self,
        lines: Iterable[Mapping[str, Any] | str] | bytes,
        **wishes: Unpack[OrderWishes],
    ) -> Mapping[str, Any]:
        """Return what an order would make, take and cost; nothing is made or stored."""
        return self._run(_orders.estimate_order(lines, wishes))

    def cancel_order(self, id: str) -> Mapping[str, Any]:
        """Cancel an order; return where it stands."""
        return self._run(_orders.cancel_order(id))

    def make_offer(self, **wishes: Unpack[OfferWishes]) -> Offer:
        """Offer a customer what was checked, planned or ordered; see `OfferWishes`.

        Returns the offer with the link for the customer, which is told this once.
        """
        return self._run(_offers.make_offer(wishes))

    def offers(self, *, of: str | None = None, version: str | None = None) -> tuple[Offer, ...]:
        """Return the offers, newest first.

        Args:
            of: only those made from the check, plan or order with this id.
            version: only those of this version of a recipe (`recipe_version` of a result).

        """
        return self._run(_offers.offers(of, version))

    def offer(self, id: str) -> Offer:
        """Return an offer: where it stands, what the customer said."""
        return self._run(_offers.offer(id))

    def withdraw_offer(self, id: str) -> Offer:
        """Take an offer back; one with a yes cannot be taken back (`ConflictProblem`)."""
        return self._run(_offers.withdraw(id))

    def offer_pdf(self, id: str) -> bytes:
        """Return an offer on paper, PDF."""
        return self._run(_offers.offer_pdf(id))

    def get(self, kind: str, id: str) -> Result:
        """Return a result that was made before."""
        return self._run(_calls.get(kind, id))

    def fetch(self, file: File, *, accept_unproved: bool = False) -> bytes:
        """Return the bytes of a file."""
        return self._run(_calls.fetch(file, accept_unproved=accept_unproved))

    def save(self, file: File, path: Path | str, *, accept_unproved: bool = False) -> None:
        """Write one file of a result, piece by piece; it is there whole and checked or not."""
        self._run(_calls.save(file, Path(path), accept_unproved=accept_unproved))

    def download(
        self,
        result: Result,
        folder: Path | str,
        *,
        only: Iterable[str] | None = None,
        accept_unproved: bool = False,
        progress: Callable[[Progress], None] | None = None,
    ) -> tuple[Path, ...]:
        """Write the files of a result below a folder; return where they are.

        Files of an earlier result in the folder are taken away first; files of others stay.

        Args:
            result: what was made.
            folder: where to write.
            only: patterns of paths, as `layers/*.svg`; None for all files.
            accept_unproved: also take programs that have not passed their proof.
            progress: told how far it is, with each piece that arrives.

        Raises:
            FileExistsError: files of others, or changed ones, are in the way.

        """
        return self._run(
            _calls.download(
                result,
                Path(folder),
                only=only,
                accept_unproved=accept_unproved,
                progress=progress,
            )
        )

    def fonts(self) -> tuple[Entry, ...]:
        """Return the fonts of the library."""
        return self._run(_calls.entries("fonts"))

    def font(self, key: str) -> Entry:
        """Return a font with what it says of itself."""
        return self._run(_calls.entry("fonts", key))

    def upload_font(self, path: Path | str) -> Entry:
        """Add a font file to the library; its key is its name in recipes."""
        return self._run(_calls.upload_font(Path(path).read_bytes()))

    def artworks(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the drawings that were uploaded."""
        return self._run(_calls.entries("artworks", shop))

    def artwork(self, key: str) -> Entry:
        """Return a drawing with what is known of it."""
        return self._run(_calls.entry("artworks", key))

    def upload_artwork(self, path: Path | str, **wishes: str | float | None) -> Entry:
        """Upload an SVG drawing, or a PNG or JPEG to be traced; its key is its id in recipes.

        Wishes for a picture: `threshold`, `speck_px`, `smoothing_px`, `ink`.
        """
        return self._run(_calls.upload_artwork(Path(path).read_bytes(), wishes))

    def templates(self) -> tuple[Entry, ...]:
        """Return what there is to begin with."""
        return self._run(_calls.entries("templates"))

    def template(
        self,
        key: str,
        *,
        text: str | None = None,
        font: str | None = None,
        size: str | None = None,
    ) -> Entry:
        """Return a template with its recipe, words, font and size (capital height) put in."""
        wishes = {"text": text, "font": font, "size": size}
        return self._run(_calls.template(key, wishes))

    def template_file(
        self,
        key: str,
        *,
        text: str | None = None,
        font: str | None = None,
        size: str | None = None,
    ) -> str:
        """Return the same recipe as TOML with comments."""
        wishes = {"text": text, "font": font, "size": size}
        return self._run(_calls.template_file(key, wishes))

    def materials(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the materials."""
        return self._run(_calls.entries("materials", shop))

    def cutters(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the cutters."""
        return self._run(_calls.entries("cutters", shop))

    def machines(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the machines."""
        return self._run(_calls.entries("machines", shop))

    def stock(self, *, shop: str | None = None) -> tuple[Entry, ...]:
        """Return the stock."""
        return self._run(_calls.entries("stock", shop))

    def shops(self) -> tuple[Entry, ...]:
        """Return the shops that are stored."""
        return self._run(_calls.entries("shops"))

    def shop(self, name: str) -> Mapping[str, Any]:
        """Return a shop: `shop` as it was written, its `version`, and what it comes to."""
        return self._run(_shops.shop(name))

    def shop_file(self, name: str) -> str:
        """Return a shop as TOML, to be changed and stored again."""
        return self._run(_shops.shop_file(name))

    def put_shop(
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
        return self._run(_shops.put_shop(name, document, version, toml=toml))

    def commit_order(self, order_id: str, *, undo: bool = False) -> Mapping[str, Any]:
        """Take the sheets of an order out of the stock of its shop; what is left comes back.

        Twice is the same as once.

        Args:
            order_id: of an order that is made.
            undo: to undo it instead, as long as what it left over is there.

        Raises:
            Problem: `stock-gone` where sheets are missing, `commit-built-on` where what was left
                over was used.

        """
        return self._run(_shops.commit("order", order_id, undo=undo))

    def commit_plan(self, plan_id: str, *, undo: bool = False) -> Mapping[str, Any]:
        """Take the sheets of a plan out of the stock of its shop; see `commit_order`."""
        return self._run(_shops.commit("plan", plan_id, undo=undo))

    def commits(self, shop: str) -> tuple[Mapping[str, Any], ...]:
        """Return what orders and plans took out of a shop and what came back, newest first."""
        return self._run(_shops.commits(shop))

    def delete_shop(self, name: str) -> None:
        """Remove a shop; what was made in it still names its version."""
        self._run(_shops.delete_shop(name))

    def use_shop(self, name: str, *, use: bool = True) -> None:
        """Let a shop be the one of all requests that name none, or no longer."""
        self._run(_shops.use_shop(name, use=use))

    def webhooks(self) -> tuple[Mapping[str, Any], ...]:
        """Return the addresses that are told what happens."""
        return self._run(_webhooks.webhooks())

    def add_webhook(self, url: str, events: Iterable[str] | None = None) -> Mapping[str, Any]:
        """Register an address; what comes back has the `secret` that its calls are signed with.

        Args:
            url: where to send it.
            events: some of `order.done`, `order.failed`, `order.cancelled`, `offer.replied`.

        """
        return self._run(_webhooks.add_webhook(url, events))

    def remove_webhook(self, id: str) -> None:
        """Forget an address."""
        self._run(_webhooks.remove_webhook(id))

    def try_webhook(self, id: str) -> str:
        """Have an address told that this is a test; return the id of the event."""
        return self._run(_webhooks.try_webhook(id))

    def webhook_calls(self, id: str) -> tuple[Mapping[str, Any], ...]:
        """Return what became of telling an address, newest first."""
        return self._run(_webhooks.webhook_calls(id))

    def version(self) -> str:
        """Return the version of the service."""
        return self._run(_calls.version())

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
