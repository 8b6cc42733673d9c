"""What an order would take, before anything is made: a rehearsal in, sheets, time and cost out.

The rehearsal (`letterply.orders.pipeline.rehearsal`) plans the order, or a sample of it
(`letterply.orders.intake.sampling`), with the planner itself. Where it was the whole order, the
estimate is what the plan will say; from a sample it is scaled up. How far off estimates are is
measured by `tests/bench/estimates.py`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from letterply.catalogue import Shop, sheets_of
from letterply.exports import Document, time_words
from letterply.orders.codec import plain
from letterply.orders.intake.reading import Order
from letterply.orders.intake.sampling import Sample
from letterply.orders.pipeline.rehearsal import Rehearsed
from letterply.orders.quote import Quote, SheetCost, make_quote
from letterply.sheets import Unplaced
from letterply.units import counted, format_mm

__all__ = ["estimate_order"]

_BAND_PERCENT = {True: 5, False: 20}
"""How far off the plan the estimate may be, rehearsed whole or as a sample; own measurement on
the orders of `tests/bench/estimates.py`."""

_MAKING_S = 4.0
"""Time to make a design, and
to make a sheet, on one process (own measurement on two cores)."""

_MOST_TOLD = 20


def estimate_order(order: Order, sample: Sample, rehearsed: Rehearsed, shop: Shop) -> Document:
    """Return what an order would make, take and cost, as JSON values.

    Args:
        order: the order.
        sample: what of it was rehearsed.
        rehearsed: what the rehearsal told.
        shop: machine and rack.

    """
    by_hand = shop.machine.tool_change == "program"
    groups: dict[tuple[str, float, bool], list[SheetCost]] = {}
    for told in rehearsed.sheets:
        cost = SheetCost.of(told, changes_by_hand=by_hand)
        stuff = cost.material, cost.thickness_mm, told.of_blanks
        groups.setdefault(stuff, []).append(cost)
    costs = {stuff: _scaled(members, sample, stuff) for stuff, members in sorted(groups.items())}
    hand = sum(line.quantity * line.hand_minutes for line in order.lines)
    every = [cost for members in costs.values() for cost in members]
    quote = make_quote(every, hand, order.prices, changes_by_hand=by_hand)
    designs = len({line.design for line in order.lines})
    band = _BAND_PERCENT[sample.whole]
    materials = [
        _material(stuff, members, shop, rehearsed.unplaced)
        for stuff, members in costs.items()
        if not stuff[2]
    ]
    blanks = [
        {
            "material": material,
            "thickness_mm": thickness,
            "blanks": _blanks_of(order, sample, rehearsed, (material, thickness, True)),
            "loads": sum(c.runs for c in members),
        }
        for (material, thickness, of_blanks), members in costs.items()
        if of_blanks
    ]
    complete = not (rehearsed.lost or rehearsed.unplaced)
    return {
        "summary": _summary(costs, quote, band, complete=complete),
        "title": order.title,
        "dry_run": True,
        "lines": len(order.lines),
        "copies": order.pieces,
        "designs": designs,
        "materials": materials,
        "blanks": blanks,
        "making_s": round(_MAKING_S * (designs + len(every)), 0),
        "rehearsed_whole": sample.whole,
        "band_percent": band,
        "not_made": [
            *map(plain, rehearsed.lost),
            *({"mark": u.mark, "why": u.why} for u in rehearsed.unplaced),
        ][:_MOST_TOLD],
        "quote": quote.facts(),
    }


def _summary(
    costs: Mapping[tuple[str, float, bool], Sequence[SheetCost]],
    quote: Quote,
    band: int,
    *,
    complete: bool,
) -> str:
    sheets = sum(len(m) for (_, _, of_blanks), m in costs.items() if not of_blanks)
    loads = sum(c.runs for (_, _, of_blanks), m in costs.items() if of_blanks for c in m)
    taken: list[str] = [counted(sheets, "sheet")] if sheets or not loads else []
    taken += [f"{counted(loads, 'load')} of blanks"] if loads else []
    # With changes of cutters, as the order itself will tell.
    total_s = sum(c.machine_s + c.changes_s for members in costs.values() for c in members)
    missing = "" if complete else " Not all of it can be made."
    return (
        f"An estimate, right within {band} %: {' and '.join(taken)}, about "
        f"{time_words(total_s)} on the machine, {quote.total:.2f} "
        f"{quote.currency}.{missing} Nothing was made or stored."
    )


def _material(
    stuff: tuple[str, float, bool],
    costs: Sequence[SheetCost],
    shop: Shop,
    unplaced: Sequence[Unplaced],
) -> Document:
    material, thickness, _ = stuff
    there = sum(s.count for s in sheets_of(shop.stock, material, thickness))
    lost = any(u.material == material and abs(u.thickness_mm - thickness) < 1e-6 for u in unplaced)
    return {
        "material": material,
        "thickness_mm": thickness,
        "thickness": format_mm(thickness),
        "part_area_mm2": round(sum(c.part_area_mm2 for c in costs)),
        "sheets": len(costs),
        "sheets_on_the_rack": there,
        "enough": len(costs) <= there and not lost,
    }


def _blanks_of(
    order: Order, sample: Sample, rehearsed: Rehearsed, stuff: tuple[str, float, bool]
) -> int:
    """Return how many blanks an order takes of one stuff."""
    seen = sum(
        len(told.marks)
        for told in rehearsed.sheets
        if told.of_blanks and (told.stock.material, told.stock.thickness_mm) == stuff[:2]
    )
    return round(seen * sample.area.get(stuff, 1.0))


def _scaled(
    costs: Sequence[SheetCost], sample: Sample, stuff: tuple[str, float, bool]
) -> list[SheetCost]:
    """Return what the sheets of the whole order take, from those that were rehearsed."""
    if sample.whole:
        return list(costs)
    area, work = sample.area.get(stuff, 1.0), sample.work.get(stuff, 1.0)
    count = _count(costs, area)
    parts_mm2 = sum(c.part_area_mm2 for c in costs) * area / count
    machine_s = sum(c.machine_s for c in costs) * work / count
    found = []
    for number in range(count):
        cost = costs[number * len(costs) // count]
        cost = replace(cost, number=number + 1, machine_s=machine_s, part_area_mm2=parts_mm2)
        if stuff[2]:
            price = sum(c.price for c in costs) * area / count
            cost = replace(cost, stock_area_mm2=parts_mm2, price=price)
        found.append(cost)
    return found


def _count(costs: Sequence[SheetCost], area: float) -> int:
    """Return how many sheets or loads the parts take that are so many times those rehearsed."""
    if abs(area - 1.0) < _SAME:
        return len(costs)
    shares = [c.part_area_mm2 / c.stock_area_mm2 for c in costs]
    # The last sheet is not full; nor is one that is the only one.
    full = max(shares) if len(shares) > 1 else max(shares[0], _FULL)
    return max(1, math.ceil(area * sum(shares) / full - _SAME))


_SAME = 0.1
"""Share of a sheet or of all work below which nothing is added for it."""

_FULL = 0.45
"""Share of a sheet that parts cover, spacing apart; 0.35 to 0.55 for names (own measurement)."""
