"""What an order would take, before anything is made: measures in, sheets, time and cost out.

Rough by nature: areas and lengths come from the boxes of words (`measuring`), sheets from a usual
share of use, times from the usual cutter's feed; work on blanks is left out. The quote of the
finished order replaces it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from letterply.catalogue import Catalogue, Shop
from letterply.cutting.choice import flat_cutters
from letterply.cutting.feeds import choose_feeds
from letterply.orders.intake.measuring import LayerMeasure, Measured
from letterply.orders.intake.reading import Order
from letterply.orders.quoting import SheetCost, make_quote
from letterply.sheets.racking import Rack

__all__ = ["estimate_order"]

_USE = 0.45
"""Share of a sheet that parts cover, spacing apart; 0.35 to 0.55 for names (own measurement)."""

_DETAIL = 1.4
"""Time beyond that of plain outlines: entries, travel, details with a small cutter."""

_MAKING_S = 4.0
"""Time to make a design, and
to make a sheet, on one process (own measurement on two cores)."""


def estimate_order(
    order: Order, measures: Sequence[Measured], catalogue: Catalogue, shop: Shop
) -> dict[str, Any]:
    """Return what an order would make, take and cost, as JSON values."""
    rack = Rack(shop.stock)
    groups: dict[tuple[str, float], list[tuple[int, LayerMeasure]]] = {}
    shared: set[str] = set()
    for line, measured in zip(order.lines, measures, strict=True):
        for layer in measured.layers:
            if layer.once in shared:
                continue
            if layer.once not in ("", "line"):
                shared.add(layer.once)
            key = (layer.material, layer.thickness_mm)
            count = 1 if layer.once else line.quantity
            groups.setdefault(key, []).append((count, layer))
    costs: list[SheetCost] = []
    told = []
    for (material, thickness), members in sorted(groups.items()):
        area = sum(n * m.area_mm2 for n, m in members)
        boxes = sum(n * (m.width_mm + 8) * (m.height_mm + 8) for n, m in members)
        cut_s = sum(n * m.cut_mm for n, m in members) / _speed(material, thickness, catalogue, shop)
        types = rack.suitable(material, thickness)
        largest = max(types, key=lambda s: s.width_mm * s.height_mm)
        stock_mm2 = largest.width_mm * largest.height_mm
        sheets = max(1, math.ceil(max(area / _USE, 0.7 * boxes) / stock_mm2))
        there = sum(s.count for s in types)
        costs += [
            SheetCost(n, material, thickness, stock_mm2, area / sheets, largest.price,
                      _DETAIL * cut_s / sheets, 2)
            for n in range(sheets)
        ]  # fmt: skip
        told.append(
            {
                "material": material,
                "thickness_mm": thickness,
                "part_area_mm2": round(area),
                "sheets": sheets,
                "sheets_on_the_rack": there,
                "enough": sheets <= there,
            }
        )
    hand = sum(line.quantity * float(line.recipe.get("hand_minutes", 0.0)) for line in order.lines)
    by_hand = shop.machine.tool_change == "program"
    quote = make_quote(costs, hand, order.prices, changes_by_hand=by_hand).facts()
    designs = len({repr(line.recipe) for line in order.lines})
    return {
        "summary": (
            f"By estimate: {len(costs)} sheets, about {quote['machine_minutes']:.0f} min on the "
            f"machine, {quote['total']:.2f} {quote['currency']}. Nothing was made or stored."
        ),
        "title": order.title,
        "dry_run": True,
        "lines": len(order.lines),
        "copies": order.pieces,
        "designs": designs,
        "materials": told,
        "making_s": round(_MAKING_S * (designs + len(costs)), 0),
        "quote": quote,
    }


def _speed(material: str, thickness_mm: float, catalogue: Catalogue, shop: Shop) -> float:
    """Return length of outline cut a second, all passes together, mm/s."""
    kind = catalogue.material(material)
    cutters = flat_cutters(shop.cutters, kind, thickness_mm)
    if shop.machine.kind == "beam" or not cutters:
        return shop.machine.max_feed_mm_per_min / 60 / 4
    cutter = min(cutters, key=lambda c: abs(c.diameter_mm - 3))
    feeds = choose_feeds(cutter, kind, shop.machine, depth_mm=thickness_mm)
    passes = math.ceil(thickness_mm / feeds.pass_depth_mm)
    return feeds.feed_mm_per_min / 60 / passes
