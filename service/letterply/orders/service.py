"""The counter for orders: requests in, vetted and accepted orders out; their state, their end.

Lives on the event loop of the service, as the job service does. Whole orders are vetted in a worker
process (fonts are parsed nowhere else) and accepted in one transaction: after that nothing but
the database and the vault is needed to finish them.
"""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from letterply import __version__
from letterply.catalogue import Catalogue, resolve_shop
from letterply.errors import Conflict, InputError, JobFailed, NotFound
from letterply.exports import Document
from letterply.jobs import Committing, Shops, job_id, not_to_be_cut
from letterply.orders.book import OrderBook
from letterply.orders.codec import Facts, plain, value_of
from letterply.orders.drawing_hands import DrawingHands
from letterply.orders.drawn_on import DrawnOn
from letterply.orders.estimates import Estimates
from letterply.orders.intake.measuring import Measured
from letterply.orders.intake.reading import Order
from letterply.orders.made import MadeLine, OrderedLine, cut_sheets, lines_of, made_lines
from letterply.orders.pipeline.answers import LinePicture, Problem
from letterply.orders.pipeline.documents import Asked, asked_of, files_of
from letterply.orders.pipeline.task_requests import PapersRequest, Sources
from letterply.orders.queue_line import QueueLine
from letterply.orders.states import OrderEvent, OrderPhase, OrderState
from letterply.orders.vetting import OrderVetting
from letterply.storage import (
    HOUSE,
    JobRecord,
    JobState,
    KeyRecord,
    Store,
    Vault,
    canonical_json,
    digest,
    open_vault,
)
from letterply.workers import ComputePool

if TYPE_CHECKING:
    from letterply.orders.engine.engine import Queueing

__all__ = ["OrderService"]

_MOST_REVISED = 20
"""How many orders back it is asked what an order revises."""


class OrderService:
    """Takes orders, tells of them, cancels them.

    Args:
        store: where orders are kept.
        pool: where they are measured.
        catalogue: shipped data with the shop's own laid over.
        catalogue_files: the shop's own files.
        drawing: helps to draw while it has nothing else to do.

    """

    def __init__(
        self,
        store: Store,
        pool: ComputePool,
        catalogue: Catalogue,
        catalogue_files: Iterable[Path] = (),
        *,
        drawing: ComputePool | None = None,
    ) -> None:
        self._store = store
        self._pool = pool
        self._drawing = DrawingHands(store.place, pool, drawing)
        files = tuple(catalogue_files)
        self.shops = Shops(store, files)
        kept = [store.keep_file(path.read_bytes()) for path in files]
        self._drawn_on = DrawnOn(store, catalogue, kept)
        self._vault: Vault = open_vault(store.place)
        self.estimates = Estimates(self._vault)
        self._vetting = OrderVetting(pool, self._vault, self.shops, self._drawn_on, store.owner)
        self.book = OrderBook(store.database)
        self._line = QueueLine()

    def of(self, owner: str) -> OrderService:
        """Return the same counter as one owner sees it."""
        theirs = copy(self)
        theirs._store = self._store.of(owner)
        theirs.shops = self.shops.of(owner)
        theirs._drawn_on = self._drawn_on.of(theirs._store)
        theirs._vetting = OrderVetting(
            self._pool, self._vault, theirs.shops, theirs._drawn_on, owner
        )
        return theirs

    def tasks_waiting(self) -> int:
        """Return how many batches of tasks wait for a worker, of all owners."""
        if not self.book.count_open():
            return 0  # without a look at the engine, which a service without orders never loads
        return self._line.get(self._store.database).waiting()

    async def vet(
        self,
        request: Facts,
        *,
        table: bytes | None = None,
        charset: str | None = None,
    ) -> tuple[Order, list[Measured]]:
        """Return an order that holds, and the measures of its lines.

        Raises:
            InputError: `order-not-accepted` with all mistakes, or another code for the whole.

        """
        return await self._vetting.vet(request, table, charset)

    async def estimate(
        self, order: Order, measures: list[Measured], wait_s: float = math.inf
    ) -> Document:
        """Return what an order would make, take and cost; no order comes of it.

        Raises:
            JobFailed: `service-busy`, it is not known after so long; asked again, it goes on.

        """
        _, sources = await asyncio.to_thread(self._drawn_on.named_in, order)
        # What it tells may change with any release, not with those of the engine alone.
        key = job_id(f"estimate {__version__}", plain(order), sources.digests)
        find_out = partial(self._vetting.estimate, order, measures)
        return await self.estimates.get(key, find_out, wait_s)

    async def place(self, order: Order, *, key: str | None = None) -> tuple[OrderState, bool]:
        """Accept an order; return where it stands and whether it is new.

        Raises:
            Conflict: `idempotency-key-reused`.
            InputError: `unknown-order` for an earlier order that is not there.

        """
        return await asyncio.to_thread(self._place, order, key)

    async def again(self, order_id: str) -> OrderState:
        """Ask once more for what an order lost to faults of the service; return where that stands.

        An order that was made in part is left as it is: what is lost is made in a new one that
        revises it, with its sheets as they are. One that failed or was cancelled is taken up again.

        Raises:
            NotFound: `order-not-found`.
            Conflict: `order-unfinished`, or `nothing-lost`.

        """
        return await asyncio.to_thread(self._again, order_id)

    async def cancel(self, order_id: str) -> OrderState:
        """Stop an order: nothing of it is taken up any more, and what runs is killed.

        One that is done, failed or cancelled stays as it is.
        """
        return await asyncio.to_thread(self._cancel, order_id)

    async def draw(self, stored: bytes, paths: Sequence[str]) -> dict[str, bytes]:
        """Return files of an order that is done, made now, and those made together with them.

        Args:
            stored: what they are made from (`Manifest.drawn_from`).
            paths: which.

        Raises:
            LetterplyError: `artifact-damaged` or `answer-outdated`; what the pool raises.

        """

        def look() -> Asked:
            request = value_of(PapersRequest, json.loads(stored))
            shop = resolve_shop(request.shop, self._drawn_on.catalogue(request.shop))
            return asked_of(request, paths, self._vault, shop)

        asked = await asyncio.to_thread(look)
        answers = await self._drawing.run(asked.first) + await self._drawing.run(asked.then)
        return await asyncio.to_thread(files_of, answers, self._vault)

    async def state(self, order_id: str) -> tuple[OrderState, JobRecord]:
        """Return where an order stands; raises `NotFound` (`order-not-found`)."""

        def look() -> tuple[OrderState, JobRecord]:
            return self._state(order_id), self._store.job(order_id)

        return await asyncio.to_thread(look)

    async def open_count(self) -> int:
        """Return how many orders of the owner are open."""
        count, _ = await asyncio.to_thread(self.book.open_of, self._store.owner)
        return count

    async def let_go(self, order_id: str) -> None:
        """Delete an order that is over, and all that it made.

        Raises:
            NotFound: `order-not-found`.
            Conflict: `order-unfinished`, it is to be cancelled first; `offer-open`, a customer is
                shown it.

        """

        def end() -> None:
            if not self._state(order_id).final:
                raise Conflict(
                    "The order is not finished.",
                    code="order-unfinished",
                    expected=f"POST /v1/orders/{order_id}/cancel first",
                )
            if self._store.let_go("order", order_id):
                self.queueing.forget(order_id)

        await asyncio.to_thread(end)

    async def forget(self, order_ids: Iterable[str]) -> None:
        """Remove what the queues remember of orders that were deleted."""
        for order_id in order_ids:
            await asyncio.to_thread(self.queueing.forget, order_id)

    async def events(self, order_id: str, after: int) -> tuple[OrderEvent, ...]:
        """Return the events of an order with a higher number."""
        return await asyncio.to_thread(self.book.events, order_id, after)

    async def all_events(self, order_id: str) -> tuple[OrderEvent, ...]:
        """Return every event of an order."""
        return await asyncio.to_thread(self.book.events, order_id, 0, 1_000_000)

    async def lines(self, order_id: str) -> tuple[OrderedLine, ...]:
        """Return the lines of an order as they were ordered; raises as `state`."""
        return await asyncio.to_thread(lambda: lines_of(self._content(order_id)))

    async def made_lines(self, order_id: str) -> tuple[MadeLine, ...]:
        """Return the lines of an order that were made.

        Raises:
            NotFound: `order-not-found`.
            LetterplyError: `answer-outdated`.

        """
        return await asyncio.to_thread(lambda: made_lines(self._content(order_id), self._vault))

    async def pictures(self, lines: Sequence[MadeLine]) -> list[str]:
        """Return the digests in the vault of pictures of lines, PNG, made now if need be.

        Raises:
            LetterplyError: what the pool raises.

        """
        answers = await self._drawing.run([line.picture for line in lines])
        return [value_of(LinePicture, answer).picture for answer in answers]

    async def commit(self, order_id: str) -> Document:
        """Take the sheets of an order out of the stock of its shop; what is left comes back.

        Sheets whose programs did not pass their proof are left where they are.

        Raises:
            NotFound: `order-not-found`, `shop-not-found`.
            Conflict: `order-unfinished`, `not-to-be-cut`, `earlier-committed`, and as
                `Committing.commit`.

        """
        state, _ = await self.state(order_id)
        if state.phase is not OrderPhase.DONE:
            raise Conflict("The order is not finished.", code="order-unfinished")
        revised = await self.revised(order_id)
        return await asyncio.to_thread(self._commit, order_id, revised)

    async def undo_commit(self, order_id: str) -> Document:
        """Undo `commit`; raises as `Committing.undo`."""
        return await asyncio.to_thread(self._committing.undo, "order", order_id)

    async def revised(self, order_id: str) -> tuple[str, ...]:
        """Return the ids of the orders that an order revises, the latest first."""

        def look() -> tuple[str, ...]:
            found: list[str] = []
            id_ = order_id
            while len(found) < _MOST_REVISED:
                order = value_of(Order, self._content(id_)["order"])
                id_ = order.options.revises
                if not id_ or id_ in found:
                    break
                found.append(id_)
            return tuple(found)

        return await asyncio.to_thread(look)

    def close(self) -> None:
        """Close all connections."""
        self._line.close()

    @property
    def queueing(self) -> Queueing:
        """The queues; connected at the first use, for the engine takes a while to load."""
        return self._line.get(self._store.database)

    @property
    def _committing(self) -> Committing:
        return Committing(self._store, self.shops)

    def _commit(self, order_id: str, revised: Sequence[str]) -> Document:
        earlier = [o for o in revised if self._committing.book.standing("order", o)]
        if earlier:
            raise Conflict(
                f"This order revises {earlier[0]}, whose sheets are taken already.",
                code="earlier-committed",
                expected=f"to undo that first: letterply order --uncommit {earlier[0]}",
                data={"earlier": earlier[0]},
            )
        record = self._store.job(order_id)
        papers = value_of(PapersRequest, json.loads(self._store.read_answer(record)))
        sheets = cut_sheets(papers, self._vault)
        if not sheets:
            raise not_to_be_cut("order")
        return self._committing.commit("order", order_id, papers.order.shop, sheets)

    def _content(self, order_id: str) -> Facts:
        found: Facts = json.loads(self._vault.read(self.book.state(order_id).content))
        return found

    def _place(
        self, order: Order, key: str | None, sources: Sources | None = None
    ) -> tuple[OrderState, bool]:
        sources = sources or self._drawn_on.named_in(order)[1]
        earlier = self._earlier(order.options.revises)
        facts = plain(order)
        owner = self._store.owner
        # Of one owner alone: what two ask for is cancelled and revised by each for itself. What
        # is the same in both is still found out once, in the vault.
        whose = () if owner == HOUSE else (f"owner {owner}",)
        id_ = job_id("order", facts, (*sources.digests, *whose))
        if key is not None:
            use = KeyRecord(key, digest(canonical_json({"kind": "order", "request": facts})), id_)
            known = self._store.key(key)
            if known is not None and known.fingerprint != use.fingerprint:
                raise Conflict(
                    "This idempotency key was used with another request.",
                    code="idempotency-key-reused",
                    expected="a new key for a new request",
                )
        content = self._vault.write(
            canonical_json({"order": facts, "sources": plain(sources), "earlier": earlier})
        )
        designs = len({line.design for line in order.lines})
        queueing = self.queueing
        # Small orders first: a low number is taken up before a high one. What its owner has open
        # that is no larger counts along, so that many orders get no more turns than a long one.
        _, ahead = self.book.open_of(owner, designs)
        state, new = self.book.accept(
            id_,
            {"title": order.title, "lines": len(order.lines), "copies": order.pieces},
            content,
            lines=len(order.lines),
            designs=designs,
            generation=queueing.generation,
            start=lambda db, attempt: queueing.start_order(db, id_, attempt, ahead + designs),
            damaged=self._is_damaged(id_),
            owner=owner,
        )
        if key is not None:
            self._store.save_key(use)
        return state, new

    def _state(self, order_id: str) -> OrderState:
        self._store.require("order", order_id)
        return self.book.state(order_id)

    def _is_damaged(self, order_id: str) -> bool:
        try:
            record = self._store.job(order_id)
        except NotFound:
            return False
        if record.state is not JobState.DONE:
            return False
        return not (self._store.is_whole(record) and self._can_draw(record))

    def _can_draw(self, record: JobRecord) -> bool:
        """Tell whether all is there that drawings of an order are made from."""
        if record.answer is None:  # of before drawings were made when asked for
            return True
        request = value_of(PapersRequest, json.loads(self._store.read_answer(record)))
        keys = {*request.line_keys, *request.sheet_keys} - request.failed.keys()
        answers = [self._vault.recall(key) for key in sorted(keys)]
        return all(a is not None and self._vault.is_whole(a) for a in answers)

    def _again(self, order_id: str) -> OrderState:
        state = self._state(order_id)
        if not state.final:
            raise Conflict("The order is not finished.", code="order-unfinished")
        content = self._content(order_id)
        order, sources = value_of(Order, content["order"]), value_of(Sources, content["sources"])
        if state.phase is OrderPhase.DONE:
            made = self._store.job(order_id).artifact("order.json")
            lost = json.loads(self._store.read(made))["lost"] if made else {}
            if not any(lost.values()):
                raise Conflict(
                    "Nothing of this order was lost to a fault of the service.",
                    code="nothing-lost",
                    expected="a list with what cannot be made put right, which revises this order",
                )
            order = replace(order, options=replace(order.options, revises=order_id))
        return self._place(order, None, sources)[0]

    def _earlier(self, order_id: str) -> list[Facts]:
        if not order_id:
            return []
        try:
            layout = self._state(order_id).layout
        except NotFound as exc:
            raise InputError(
                f"There is no earlier order {order_id!r}.",
                code="unknown-order",
                field="revises",
                expected="the id of an earlier order",
            ) from exc
        return list(json.loads(self._vault.read(layout))["sheets"]) if layout else []

    def _cancel(self, order_id: str) -> OrderState:
        state = self._state(order_id)
        if self.book.end(order_id, OrderPhase.CANCELLED, Problem.of(_CANCELLED), state.attempt):
            self.queueing.cancel(order_id, state.attempt)
        return self.book.state(order_id)


_CANCELLED = JobFailed("The order was cancelled.", code="order-cancelled")
