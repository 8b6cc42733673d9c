"""What an order would take, before anything is made: measures in, sheets, time and cost out.

Rough by nature: areas and lengths come from the boxes of words (`measuring`), sheets from a usual
share of use, times from the feeds of usual cutters. The quote of the finished order replaces it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from letterply.catalogue import Catalogue, Cutter, CutterKind, Material, Shop
from letterply.cutting import STEPOVER, choose_feeds, flat_cutters
from letterply.exports import counted
from letterply.orders.intake.face_lengths import FaceWork, WorkKind
from letterply.orders.intake.measuring import LayerMeasure, Measured
from letterply.orders.intake.reading import Order
from letterply.orders.quote import SheetCost, make_quote
from letterply.sheets import Rack

__all__ = ["estimate_order"]

_USE = 0.45
"""Share of a sheet that parts cover, spacing apart; 0.35 to 0.55 for names (own measurement)."""

_DETAIL = 1.4
"""Time beyond that of plain outlines: entries, travel, details with a small cutter."""

_MAKING_S = 4.0
"""Time to make a design, and
to make a sheet, on one process (own measurement on two cores)."""

_REST = 0.6
"""Share of a pocket's outline that the finest cutter goes along; own measurement, serif letters."""

_USUAL_MM = 3.0
"""Diameter near which the usual flat cutter lies, and
_USUAL_DEG: the included angle near which the usual V-bit lies."""

_USUAL_DEG = 60.0


def estimate_order(
    order: Order, measures: Sequence[Measured], catalogue: Catalogue, shop: Shop
) -> dict[str, Any]:
    """Return what an order would make, take and cost, as JSON values."""
    stock: dict[tuple[str, float], list[tuple[int, LayerMeasure]]] = {}
    blanks: dict[str, list[tuple[int, LayerMeasure]]] = {}
    shared: set[str] = set()
    for line, measured in zip(order.lines, measures, strict=True):
        for layer in measured.layers:
            if layer.once in shared:
                continue
            if layer.once not in ("", "line"):
                shared.add(layer.once)
            if layer.blank:
                blanks.setdefault(layer.blank, []).append((line.quantity, layer))
                continue
            key = (layer.material, layer.thickness_mm)
            stock.setdefault(key, []).append((1 if layer.once else line.quantity, layer))
    rack, clock = Rack(shop.stock), _Clock(catalogue, shop)
    sheets: list[SheetCost] = []
    materials = []
    for _, members in sorted(stock.items()):
        costs, there = _sheets(members, rack, clock)
        sheets += costs
        materials.append(
            {
                "material": costs[0].material,
                "thickness_mm": costs[0].thickness_mm,
                "part_area_mm2": round(sum(c.part_area_mm2 for c in costs)),
                "sheets": len(costs),
                "sheets_on_the_rack": there,
                "enough": len(costs) <= there,
            }
        )
    loads: list[SheetCost] = []
    filled = []
    for members in blanks.values():
        costs = _loads(members, clock)
        loads += costs
        filled.append(
            {
                "material": costs[0].material,
                "thickness_mm": costs[0].thickness_mm,
                "blanks": sum(count for count, _ in members),
                "loads": sum(c.runs for c in costs),
            }
        )
    hand = sum(line.quantity * float(line.recipe.get("hand_minutes", 0.0)) for line in order.lines)
    by_hand = shop.machine.tool_change == "program"
    quote = make_quote([*sheets, *loads], hand, order.prices, changes_by_hand=by_hand).facts()
    designs = len({repr(line.recipe) for line in order.lines})
    taken = [counted(len(sheets), "sheet")] if sheets or not loads else []
    taken += [f"{counted(sum(c.runs for c in loads), 'load')} of blanks"] if loads else []
    return {
        "summary": (
            f"By estimate: {' and '.join(taken)}, about {quote['machine_minutes']:.0f} min on the "
            f"machine, {quote['total']:.2f} {quote['currency']}. Nothing was made or stored."
        ),
        "title": order.title,
        "dry_run": True,
        "lines": len(order.lines),
        "copies": order.pieces,
        "designs": designs,
        "materials": materials,
        "blanks": filled,
        "making_s": round(_MAKING_S * (designs + len(sheets) + len(loads)), 0),
        "quote": quote,
    }


def _sheets(
    members: Sequence[tuple[int, LayerMeasure]], rack: Rack, clock: _Clock
) -> tuple[list[SheetCost], int]:
    """Return the sheets that layers of one stock fill, and how many the rack has.

    Args:
        members: how often there is each layer.
        rack: the stock.
        clock: tells times.

    """
    _, first = members[0]
    material, thickness = first.material, first.thickness_mm
    area = sum(n * m.area_mm2 for n, m in members)
    boxes = sum(n * (m.width_mm + 8) * (m.height_mm + 8) for n, m in members)
    cut_s = clock.of_outlines(members) + clock.of_faces(members)
    types = rack.suitable(material, thickness)
    largest = max(types, key=lambda s: s.width_mm * s.height_mm)
    stock_mm2 = largest.width_mm * largest.height_mm
    count = max(1, math.ceil(max(area / _USE, 0.7 * boxes) / stock_mm2))
    programs = 2 + len({w.kind for _, m in members for w in m.work} - {WorkKind.THROUGH})
    costs = [
        SheetCost(n, material, thickness, stock_mm2, area / count, largest.price,
                  _DETAIL * cut_s / count, programs)
        for n in range(count)
    ]  # fmt: skip
    return costs, sum(s.count for s in types)


def _loads(members: Sequence[tuple[int, LayerMeasure]], clock: _Clock) -> list[SheetCost]:
    """Return the loads of a fixture that the blanks of one kind fill.

    Full loads of one line are one sheet that is run several times, as they will be made.
    """
    _, first = members[0]
    runs = [n // first.load for n, _ in members if n >= first.load]
    runs += [1] * math.ceil(sum(n % first.load for n, _ in members) / first.load)
    blanks = sum(n for n, _ in members)
    work_s = _DETAIL * clock.of_faces(members)
    programs = len({w.kind for _, m in members for w in m.work})
    costs = []
    for number, times in enumerate(runs):
        share = times / sum(runs)
        area = share * blanks * first.area_mm2
        price = share * blanks * first.price
        costs.append(
            SheetCost(
                number, first.material, first.thickness_mm, area, area, price, share * work_s,
                programs, times,
            )
        )  # fmt: skip
    return costs


class _Clock:
    """Tells how long work takes with the usual cutters of a shop."""

    def __init__(self, catalogue: Catalogue, shop: Shop) -> None:
        self._catalogue = catalogue
        self._shop = shop

    def of_outlines(self, members: Sequence[tuple[int, LayerMeasure]]) -> float:
        """Return the time of cutting layers out, s."""
        return sum(
            n
            * self.seconds(
                FaceWork(WorkKind.THROUGH, m.cut_mm, m.thickness_mm, stroke_mm=m.stroke_mm),
                m.material,
            )
            for n, m in members
        )

    def of_faces(self, members: Sequence[tuple[int, LayerMeasure]]) -> float:
        """Return the time of what is worked into the faces of layers, s."""
        return sum(n * self.seconds(w, m.material) for n, m in members for w in m.work)

    def seconds(self, work: FaceWork, material: str) -> float:
        """Return the time of one work, s; no time for one that no cutter of the rack does."""
        kind = self._catalogue.material(material)
        machine = self._shop.machine
        if machine.kind == "beam":
            return work.length_mm / (machine.max_feed_mm_per_min / 60 / 4)
        if work.kind is WorkKind.POCKET:
            clearing = self._flat(kind, work.depth_mm, _USUAL_MM)
            finest = self._flat(kind, work.depth_mm, 0.0)
            if clearing is None or finest is None:
                return 0.0
            loops = work.area_mm2 / (STEPOVER * clearing.diameter_mm)
            return self._along(loops, clearing, kind, work.depth_mm) + self._along(
                _REST * work.length_mm, finest, kind, work.depth_mm
            )
        cutter = self._cutter(work, kind)
        # What no cutter of the rack does, the planner will say.
        return 0.0 if cutter is None else self._along(work.length_mm, cutter, kind, work.depth_mm)

    def _along(
        self, length_mm: float, cutter: Cutter, material: Material, depth_mm: float
    ) -> float:
        feeds = choose_feeds(cutter, material, self._shop.machine, depth_mm=depth_mm)
        passes = math.ceil(depth_mm / feeds.pass_depth_mm)
        return passes * length_mm / (feeds.feed_mm_per_min / 60)

    def _flat(self, material: Material, depth_mm: float, near_mm: float) -> Cutter | None:
        flat = flat_cutters(self._shop.cutters, material, depth_mm)
        return min(flat, key=lambda c: abs(c.diameter_mm - near_mm), default=None)

    def _cutter(self, work: FaceWork, material: Material) -> Cutter | None:
        cutters = self._shop.cutters
        if work.kind is WorkKind.SCRIBE:
            points = [c for c in cutters if c.kind is CutterKind.DRAG]
            return min(points, key=lambda c: c.diameter_mm, default=None)
        if work.kind is WorkKind.GROOVE:
            bits = [c for c in cutters if c.kind is CutterKind.VBIT]
            return min(bits, key=lambda c: abs(c.included_angle_deg - _USUAL_DEG), default=None)
        # Sharp corners of small letters want a cutter half as wide as their strokes.
        return self._flat(material, work.depth_mm, min(_USUAL_MM, work.stroke_mm / 2 or _USUAL_MM))
