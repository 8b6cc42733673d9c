"""Which V-bit carves which groove of a sheet.

A groove goes as deep as it is asked to, or as its walls meet, or as stock and bit bear. How deep
that is differs from bit to bit (`letterply.cutting.face.groove`): the *way* of a bit is its depth,
the flat floor that is left at that depth, and what carving and clearing take. A groove that names
its bit keeps it. Of the others each gets the one that carves it deepest; where several do, the one
that is quickest, a flat floor included, with the changes that all grooves of the sheet share. A bit
in which walls would meet deeper than it reaches competes only where no other does. Deepest is
within half of the stock and 5 mm where neither bit nor depth is named. All mm, s.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from letterply.cutting.context import SheetContext
from letterply.cutting.face.bit_ways import (
    USUAL_MM,
    BitWay,
    best_ways,
    carving_time,
    floor_time,
    is_named,
    ways_of,
)
from letterply.cutting.face.groove import groove_depth, widest_radius
from letterply.cutting.model import CutterChoice, CutterSet
from letterply.findings import Remedy, RemedyAction, Severity
from letterply.names import in_sentence
from letterply.said import say
from letterply.shapes import Region, deepest_leftover, leftover
from letterply.sheets import PlacedPart
from letterply.stacks import Groove, Part
from letterply.units import about_mm, format_mm, listed

__all__ = ["carved_depth", "settle_grooves"]


def settle_grooves(
    context: SheetContext, parts: Mapping[str, PlacedPart], counts: Mapping[str, int]
) -> tuple[dict[str, PlacedPart], CutterChoice | None]:
    """Return parts with their grooves limited to what the rack carves, and the bits compared.

    Where the walls would meet deeper than the bit reaches or the stock bears, the floor goes flat
    there: that is a finding, and what the proof is held against. The bit of each groove is kept in
    the context.

    Args:
        context: of the sheet.
        parts: name -> one copy of each part, unmoved.
        counts: name -> how many copies there are.

    """
    grooves = {
        (name, number): groove
        for name, placed in parts.items()
        for number, groove in enumerate(placed.part.grooves)
    }
    ways = {key: ways_of(context, groove) for key, groove in grooves.items()}
    open_ways = {key: some for key, some in ways.items() if some}
    compared = _Comparison(context, grooves, open_ways, counts)
    chosen, choice = compared.chosen()
    settled = {
        name: _settled(
            context,
            placed,
            [chosen.get((name, k)) for k in range(len(placed.part.grooves))],
        )
        for name, placed in parts.items()
    }
    return settled, choice


def carved_depth(context: SheetContext, groove: Groove) -> float:
    """Return how deep below the face a settled groove is carved, mm; 0 where no bit does it."""
    cutter = context.bits.get(groove)
    if cutter is None:
        return 0.0
    depth = groove_depth(widest_radius(groove.whole), cutter)
    return groove.start_mm + min(
        depth, math.inf if groove.max_depth_mm is None else groove.max_depth_mm
    )


_Key = tuple[str, int]


class _Comparison:
    """The grooves of a sheet, by part and number, with the ways to carve each."""

    def __init__(
        self,
        context: SheetContext,
        grooves: Mapping[_Key, Groove],
        ways: Mapping[_Key, Sequence[BitWay]],
        counts: Mapping[str, int],
    ) -> None:
        self.context = context
        self.grooves = grooves
        self.ways = ways
        self.counts = counts
        machine = context.shop.machine
        self.change_s = machine.tool_change_s + machine.spin_up_s
        self._times: dict[tuple[_Key, str], float] = {}

    def chosen(self) -> tuple[dict[_Key, BitWay], CutterChoice | None]:
        """Return the way of each groove, and what was compared; None where there is no choice."""
        best = {key: best_ways(ways) for key, ways in self.ways.items()}
        if all(len(ways) == 1 for ways in self.ways.values()):
            return {key: ways[0] for key, ways in best.items()}, None
        bits = sorted({way.cutter.key for ways in best.values() for way in ways})
        sets = (set(some) for k in range(len(bits)) for some in combinations(bits, k + 1))
        carved = [taken for some in sets if (taken := self._taken(best, some)) is not None]
        chosen = min(
            carved, key=lambda t: (self._time(t), sorted(w.cutter.key for w in t.values()))
        )
        rows = [chosen]
        for key in sorted({way.cutter.key for ways in self.ways.values() for way in ways}):
            alone = {
                k: next((w for w in ways if w.cutter.key == key), chosen[k])
                for k, ways in self.ways.items()
            }
            if all(self._used(alone) != self._used(row) for row in rows):
                rows.append(alone)
        told = [self._set(row, chosen=row is chosen) for row in rows]
        told.sort(key=lambda s: (s.time_s, s.cutters))
        return chosen, CutterChoice("grooves", self._reason(chosen), tuple(told))

    def _taken(
        self, best: Mapping[_Key, Sequence[BitWay]], bits: set[str]
    ) -> dict[_Key, BitWay] | None:
        """Return the quickest way of each groove with some bits; None where they are too few."""
        taken = {}
        for key, ways in best.items():
            mine = [way for way in ways if way.cutter.key in bits]
            if not mine:
                return None
            taken[key] = min(mine, key=lambda w: (self._one(key, w), w.cutter.key))
        return taken

    @staticmethod
    def _used(taken: Mapping[_Key, BitWay]) -> list[str]:
        bits = {way.cutter.key: way.cutter for way in taken.values()}
        return sorted(bits, key=lambda k: (-bits[k].diameter_mm, k))

    def _time(self, taken: Mapping[_Key, BitWay]) -> float:
        carving = sum(self.counts[key[0]] * self._one(key, way) for key, way in taken.items())
        return carving + len(self._used(taken)) * self.change_s

    def _one(self, key: _Key, way: BitWay) -> float:
        """Return about how long one groove takes, its floor included."""
        known = key, way.cutter.key
        if known not in self._times:
            groove = self.grooves[key]
            carving = carving_time(self.context, groove, way)
            self._times[known] = carving + floor_time(self.context, groove, way)
        return self._times[known]

    def _set(self, taken: Mapping[_Key, BitWay], *, chosen: bool) -> CutterSet:
        """Return what is told of bits: what their tips do not get into stays."""
        left: list[tuple[str, Region]] = []
        deepest, where = 0.0, None
        for (name, number), way in taken.items():
            region = self.grooves[name, number].whole
            stays = leftover(
                region, way.cutter.tip_diameter_mm / 2, self.context.tolerances.offset_mm
            )
            deep, piece = deepest_leftover(stays, region)
            if piece is None:
                continue
            left.append((name, stays))
            if deep > deepest:
                at = piece.representative_point()
                deepest, where = deep, (name, float(at.x), float(at.y))
        return CutterSet(
            cutters=tuple(self._used(taken)),
            time_s=round(self._time(taken), 1),
            left_round_mm=round(deepest, 3),
            left_area_mm2=round(sum(self.counts[n] * r.area for n, r in left), 2),
            where=where,
            left=tuple(left),
            chosen=chosen,
            depth_mm=round(
                max(self.grooves[k].start_mm + way.depth_mm for k, way in taken.items()), 3
            ),
            flat=tuple(
                (name, way.floor) for (name, _), way in taken.items() if not way.floor.is_empty
            ),
            flat_area_mm2=round(
                sum(self.counts[name] * way.floor.area for (name, _), way in taken.items()), 1
            ),
        )

    def _reason(self, taken: Mapping[_Key, BitWay]) -> str:
        names = {c.key: in_sentence(c.name) for c in self.context.shop.cutters}
        bits = listed([names[key] for key in self._used(taken)])
        deep = max(self.grooves[k].start_mm + way.depth_mm for k, way in taken.items())
        flat = any(not way.floor.is_empty for way in taken.values())
        floor = ", with a flat floor where their walls would meet deeper" if flat else ""
        half = f"within half of the stock and {about_mm(USUAL_MM)}, as no bit or depth is named"
        if any(not way.usual for way in taken.values()):
            return f"The {bits} carves least deep, up to {about_mm(deep)}: none stays {half}"
        unusual = any(w.as_asked and not w.usual for ways in self.ways.values() for w in ways)
        return (
            f"The {bits} carves the grooves deepest, up to {about_mm(deep)}"
            f"{f' {half}' if unusual else ''}, and of what does so is the quickest{floor}"
        )


def _settled(
    context: SheetContext, placed: PlacedPart, ways: Sequence[BitWay | None]
) -> PlacedPart:
    """Return a part with the depth and angle of each groove's way; None leaves it as it is."""
    if not ways:
        return placed
    for number, (groove, way) in enumerate(zip(placed.part.grooves, ways, strict=True)):
        if way is not None and not way.as_asked and way.limit_mm is not None:
            _note_flat(context, placed, number, groove, way)

    def limited(part: Part) -> Part:
        made = tuple(
            # The angle is told, too: with its limit a groove would suit a sharper bit.
            g
            if way is None
            else replace(g, max_depth_mm=way.limit_mm, angle_deg=way.cutter.included_angle_deg)
            for g, way in zip(part.grooves, ways, strict=True)
        )
        for groove, way in zip(made, ways, strict=True):
            if way is not None:
                context.bits[groove] = way.cutter
        return replace(part, grooves=made)

    return replace(placed, part=limited(placed.part), source=limited(placed.source))


def _note_flat(
    context: SheetContext, placed: PlacedPart, number: int, groove: Groove, way: BitWay
) -> None:
    assert way.limit_mm is not None
    at = placed.source.grooves[number].region.representative_point()
    depth = groove_depth(widest_radius(groove.whole), way.cutter)
    half = "" if is_named(groove) else say(", as deep as is usual where no depth is named")
    context.add_finding(
        "depth",
        Severity.CAUTION,
        placed,
        say(
            "The walls of a groove would meet deeper than {limit}{half}: there it gets a flat "
            "floor",
            limit=format_mm(way.limit_mm),
            half=half,
        ),
        Remedy(
            RemedyAction.LIMIT_DEPTH,
            say('set "floor_at" to {limit} or less', limit=format_mm(way.limit_mm)),
            round(way.limit_mm, 3),
            "mm",
        ),
        where=(float(at.x), float(at.y)),
        against=(round(depth, 4), round(way.limit_mm, 4)),
    )
