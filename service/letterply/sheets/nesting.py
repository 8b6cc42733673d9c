"""Parts in, stock sheets with placed parts out.

Parts of one material, thickness and face go on sheets together. Offcuts are used before whole
sheets, the largest sheet first, and what is left goes on the smallest sheet that takes it all.
The quick way (`letterply.sheets.layouts.variants`) is deterministic and takes a second or two for a
usual job. A search (`letterply.sheets.search.strip`) is made only when it is asked for, where it
could save a sheet, then for less of the last sheet of each kind; it is limited by the clock, so its
result is not repeatable.

Every sheet is measured on the true outlines before it is believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from letterply.catalogue import NoRoom, Stock, turns_on
from letterply.shapes import FREE_TURNS_DEG, GRAIN_TURNS_DEG, GRID_PER_MM, QUARTER_TURNS_DEG
from letterply.sheets.layouts.bottom_left import Piece
from letterply.sheets.layouts.layouts import Layout, SearchBudget, lay_group, shortened
from letterply.sheets.layouts.stock_choice import Rack, why_no_room
from letterply.sheets.model import Nesting, PlacedPart, Placement, Sheet, Unplaced
from letterply.sheets.nested.counters import waste_counters
from letterply.sheets.nested.placing import NestedPlaces, place_nested, with_nested
from letterply.sheets.verifying import SLACK_MM, clear_of_places, least_gap, within_margins
from letterply.stacks import Part

__all__ = ["FREE_TURNS_DEG", "GRAIN_TURNS_DEG", "QUARTER_TURNS_DEG", "ToPlace", "nest"]


@dataclass(frozen=True, slots=True)
class ToPlace:
    """A part that wants a place on a sheet.

    Attributes:
        mark: unique in the job: `copy.part`.
        copy: number of the copy, from 1.
        part: the part as the cutter sees it (`Part.cut_view`).
        material: key of its material.
        thickness_mm: thickness of its sheet.
        grain: True when it may only be turned by 180 degrees.
        from_back: True when it is cut from its back.

    """

    mark: str
    copy: int
    part: Part
    material: str
    thickness_mm: float
    grain: bool = False
    from_back: bool = False


def nest(
    parts: Sequence[ToPlace],
    stock: Sequence[Stock],
    *,
    spacing_mm: float,
    free_turns_deg: tuple[float, ...] = FREE_TURNS_DEG,
    search_seconds: int = 0,
    seed: int = 1,
    use_counters: bool = False,
) -> Nesting:
    """Return the parts on stock sheets, numbered over the whole job, and what found no room.

    Args:
        parts: what to place; marks are unique.
        stock: the rack; a sheet's count is respected over the whole job.
        spacing_mm: least distance between parts (`letterply.sheets.spacing`).
        free_turns_deg: turns allowed where there is no grain, preferred first. With grain 0 and
            180 are allowed. A part without grain that fits at none of them is tried at others.
        search_seconds: 0 for the quick, repeatable way alone; otherwise searches that take so
            many seconds together may be made, for fewer sheets and for less of the last one.
        seed: seed of the search.
        use_counters: whether small parts may lie in the counters of larger ones, where these are
            waste (`letterply.sheets.nested.counters`).

    Raises:
        ValueError: for a spacing below 0, no turns, or a mark that occurs twice.

    """
    if not (math.isfinite(spacing_mm) and spacing_mm >= 0) or not free_turns_deg:
        raise ValueError("a spacing is not negative, and at least one turn is allowed")
    if len({p.mark for p in parts}) != len(parts):
        raise ValueError("every part to place has its own mark")
    rack = Rack(stock)
    budget = SearchBudget(search_seconds)
    layouts: list[tuple[Layout, bool]] = []
    last: list[tuple[int, dict[int, Piece]]] = []
    unplaced: list[Unplaced] = []
    for from_back, indices in _groups(parts):
        first = parts[indices[0]]
        types = rack.suitable(first.material, first.thickness_mm)
        queue: list[Piece] = []
        for index in indices:
            one = parts[index]
            allowed = turns_on(
                one.part.outline, types, grain=one.grain, free_turns_deg=free_turns_deg
            )
            if allowed:
                queue.append(Piece(index, one.part.outline, allowed))
            else:
                why = why_no_room(
                    one.part.outline, rack, one.material, one.thickness_mm, grain=one.grain
                )
                unplaced.append(_unplaced(one, why))
        by_index = {p.index: p for p in queue}
        nested: NestedPlaces = {}
        if use_counters:
            counters = {p.index: waste_counters(parts[p.index].part) for p in queue}
            queue, nested = place_nested(queue, counters, spacing_mm)
        while queue:
            found, left_over = lay_group(queue, rack, types, spacing_mm, budget, seed)
            layouts += [
                (Layout(laid.stock, tuple(with_nested(laid.laid, nested))), from_back)
                for laid in found
            ]
            if found and not nested:
                last.append((len(layouts) - 1, by_index))
            for piece in left_over:
                why = NoRoom(rack.why_used_up(first.material, first.thickness_mm))
                unplaced.append(_unplaced(parts[piece.index], why))
            # Where a container found no place, its nested parts still may.
            queue = [by_index[g.index] for p in left_over for g in nested.pop(p.index, ())]
            types = rack.suitable(first.material, first.thickness_mm)
    for number, (at, pieces) in enumerate(last):  # what is left of a sheet is whole
        layout, from_back = layouts[at]
        share = budget.seconds / (len(last) - number)
        layouts[at] = shortened(layout, pieces, spacing_mm, budget, share, seed), from_back
    sheets = tuple(
        _sheet(number, layout, parts, from_back)
        for number, (layout, from_back) in enumerate(layouts, start=1)
    )
    _measure(sheets, spacing_mm, in_counters=use_counters)
    return Nesting(sheets, tuple(sorted(unplaced, key=lambda u: u.mark)), spacing_mm)


def _groups(parts: Sequence[ToPlace]) -> Iterator[tuple[bool, list[int]]]:
    """Yield the parts that share sheets, by place, and whether they are cut from the back."""
    groups: dict[tuple[str, float, bool], list[int]] = {}
    for index, one in enumerate(parts):
        key = (one.material, round(one.thickness_mm, 2), one.from_back)
        groups.setdefault(key, []).append(index)
    for (_, _, from_back), indices in sorted(groups.items()):
        yield from_back, indices


def _unplaced(to_place: ToPlace, found: NoRoom) -> Unplaced:
    return Unplaced(
        to_place.mark, to_place.material, to_place.thickness_mm, found.why, found.remedy
    )


def _sheet(number: int, layout: Layout, parts: Sequence[ToPlace], from_back: bool) -> Sheet:
    stock, margin = layout.stock, layout.stock.edge_mm
    placed = []
    for filled in layout.laid:
        to_place = parts[filled.index]
        found = Placement(filled.turn_deg, filled.x_mm, filled.y_mm)
        if stock.turned:
            found = found.quarter_turned(stock.room_mm[1])
        placement = Placement(
            found.angle_deg, _on_grid(found.x_mm + margin), _on_grid(found.y_mm + margin)
        )
        placed.append(PlacedPart.at(to_place.mark, to_place.copy, to_place.part, placement))
    placed.sort(key=lambda p: p.mark)
    return Sheet(number, stock.as_it_lies(), tuple(placed), from_back)


def _on_grid(value: float) -> float:
    return round(value * GRID_PER_MM) / GRID_PER_MM + 0.0  # + 0.0: no negative nought


def _measure(sheets: Sequence[Sheet], spacing_mm: float, *, in_counters: bool) -> None:
    """Raise `RuntimeError` if a sheet is not what it should be: a mistake in this room."""
    for sheet in sheets:
        outlines = [p.part.outline for p in sheet.parts]
        if not within_margins(outlines, sheet.stock):
            raise RuntimeError(f"sheet {sheet.number}: a part lies in the margin")
        if not clear_of_places(outlines, sheet.stock):
            raise RuntimeError(f"sheet {sheet.number}: a part lies in a place that is kept clear")
        gap = least_gap(outlines, up_to_mm=spacing_mm, in_counters=in_counters)
        if gap < spacing_mm - SLACK_MM:
            raise RuntimeError(f"sheet {sheet.number}: parts lie {gap} mm apart")
