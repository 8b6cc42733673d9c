"""Orders before they are accepted: what is wrong with them, what they would make, take and cost.

A request in, an order that holds out, with the measures of its lines; or an account of it. What
has geometry is found out in a worker process: fonts are parsed nowhere else.
"""

from __future__ import annotations

import asyncio

from letterply.catalogue import resolve_shop
from letterply.exports import Document
from letterply.jobs import Shops
from letterply.orders.codec import Facts
from letterply.orders.drawn_on import DrawnOn
from letterply.orders.intake.estimating import estimate_order
from letterply.orders.intake.measuring import Measured, measure_designs
from letterply.orders.intake.reading import Order, add_measures, read_order
from letterply.orders.intake.sampling import choose_sample
from letterply.orders.pipeline.rehearsal import rehearse
from letterply.requests import OrderRequest, read_request
from letterply.storage import Vault
from letterply.units import speaking
from letterply.workers import ComputePool

__all__ = ["OrderVetting"]


class OrderVetting:
    """Vets orders of one owner.

    Args:
        pool: where they are measured and rehearsed.
        vault: where drawings are.
        shops: of the owner.
        drawn_on: what orders of the owner draw on.
        owner: whose turn in the pool it is.

    """

    def __init__(
        self, pool: ComputePool, vault: Vault, shops: Shops, drawn_on: DrawnOn, owner: str
    ) -> None:
        self._pool, self._vault = pool, vault
        self._shops, self._drawn_on, self._owner = shops, drawn_on, owner

    async def vet(
        self, request: Facts, table: bytes | None, charset: str | None
    ) -> tuple[Order, list[Measured]]:
        """Return an order that holds, and the measures of its lines.

        Raises:
            InputError: `order-not-accepted` with all mistakes, or another code for the whole.

        """

        def read() -> Order:
            with speaking(self._shops.units_of(request)):
                read_request(OrderRequest, request)  # its own mistakes first, all of them
                settled = self._shops.prices(self._shops.settle(request))
                catalogue = self._drawn_on.catalogue(settled.get("shop"))
                has_font = self._drawn_on.has_font
                return read_order(settled, catalogue, has_font, table=table, charset=charset)

        order = await asyncio.to_thread(read)
        fonts, _ = await asyncio.to_thread(self._drawn_on.named_in, order)
        measures = await self._pool.run(
            measure_designs,
            [line.recipe for line in order.lines],
            dict(order.shop),
            self._drawn_on.catalogue_files(order.shop),
            fonts,
            owner=self._owner,
        )
        add_measures(order, measures)
        return order, measures

    async def estimate(self, order: Order, measures: list[Measured]) -> Document:
        """Return what an order would make, take and cost."""
        catalogue = await asyncio.to_thread(self._drawn_on.catalogue, order.shop)
        shop = resolve_shop(order.shop, catalogue)
        sample = await asyncio.to_thread(choose_sample, order, measures)
        fonts, sources = await asyncio.to_thread(self._drawn_on.named_in, order)
        drawings = {n: str(self._vault.path_of(d)) for n, d in sources.artworks.items()}
        rehearsed = await self._pool.run(
            rehearse,
            sample.order,
            self._drawn_on.catalogue_files(order.shop),
            fonts,
            drawings,
            owner=self._owner,
        )
        with speaking(shop.units):
            return estimate_order(order, sample, rehearsed, shop)
