"""Small pieces given places in the counters of larger ones, before anything is laid on a sheet.

A piece that holds others is then laid like any other, solid, and its nested pieces go where it
goes. The counters are taken smallest first, so that a piece does not use up a larger one than it
needs, and a piece that holds others may be nested itself. Lengths are mm.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import translate

from letterply.sheets.layouts.bottom_left import Filled, Piece, fill
from letterply.sheets.layouts.footprints import FootprintMaker
from letterply.stacks import rigid

__all__ = ["NestedPlaces", "place_nested", "with_nested"]

_CELLS_MM = (0.25, 0.5, 1.0, 2.0)
_MOST_CELLS = 200
"""Cells along the longer side of a counter: a large one is filled on a coarser grid."""

_TURNS = 4
"""Turns of a nested piece against its container that are tried."""

NestedPlaces = dict[int, tuple[Filled, ...]]
"""Index of a container -> its nested pieces, where they lie in the frame of its outline."""


@dataclass(frozen=True, slots=True)
class _Size:
    """What tells quickly that one shape does not go into another."""

    area: float
    long_side: float
    short_side: float
    hull_area: float

    @classmethod
    def of(cls, shape: Polygon | MultiPolygon) -> _Size:
        """Return the sizes of a shape and of the smallest box round it."""
        frame = shapely.minimum_rotated_rectangle(shape)
        a, b, c = shapely.get_coordinates(frame)[:3]
        short, long = sorted((math.dist(a, b), math.dist(b, c)))
        return cls(shape.area, long, short, shape.convex_hull.area)

    def may_hold(self, other: _Size) -> bool:
        """Whether the other might go into this.

        What is in a shape is nowhere longer than the diagonal of its box, nor wider than the box;
        a shape is at least as wide as its hull's area over the longest line in it.
        """
        least_width = other.hull_area / math.hypot(other.long_side, other.short_side)
        return (
            other.area <= self.area
            and other.long_side <= math.hypot(self.long_side, self.short_side)
            and least_width <= self.short_side
        )


def place_nested(
    pieces: Sequence[Piece], counters: Mapping[int, Sequence[Polygon]], spacing_mm: float
) -> tuple[list[Piece], NestedPlaces]:
    """Return the pieces that still want a place on a sheet, and what lies in their counters.

    Args:
        pieces: what to lay.
        counters: index of a piece -> its counters that may be used.
        spacing_mm: least distance from nested piece to nested piece and to the counter's edge.

    """
    solids = {p.index: Polygon(p.outline.exterior) for p in pieces}
    sizes = {index: _Size.of(solid) for index, solid in solids.items()}
    largest_first = sorted(pieces, key=lambda p: (-sizes[p.index].area, p.index))
    by_index = {p.index: p for p in pieces}
    makers = {cell: FootprintMaker(cell, spacing_mm) for cell in _CELLS_MM}
    together: dict[tuple[tuple[float, ...], tuple[float, ...]], tuple[float, ...]] = {}
    nested: NestedPlaces = {}
    seated: set[int] = set()
    rings = sorted(
        (counter.area, index, number)
        for index in by_index
        for number, counter in enumerate(counters.get(index, ()))
    )
    for area, index, number in rings:
        container, counter = by_index[index], counters[index][number]
        room = counter.buffer(-spacing_mm)
        if room.is_empty:
            continue
        most = _Size.of(room)
        waiting = []
        for piece in largest_first:
            if piece.index in seated or piece.index == index or sizes[piece.index].area >= area:
                continue
            if not most.may_hold(sizes[piece.index]):
                continue
            key = piece.turns_deg, container.turns_deg
            if key not in together:
                together[key] = _turns_with(*key)[:_TURNS]
            if together[key]:
                waiting.append(Piece(piece.index, piece.outline, together[key]))
        found = _fill_counter(counter, waiting, spacing_mm, makers)
        nested[index] = (*nested.get(index, ()), *found)
        seated |= {f.index for f in found}
    return [p for p in pieces if p.index not in seated], {k: v for k, v in nested.items() if v}


def _turns_with(nested_part: tuple[float, ...], container: tuple[float, ...]) -> tuple[float, ...]:
    """Return the turns against its container at which a nested piece lies as allowed.

    Grain included: where both may be turned by 180° only, nothing else comes out.
    """
    allowed = {round(turn % 360, 6) for turn in nested_part}
    return tuple(
        turn
        for turn in nested_part
        if all(round((turn + t) % 360, 6) in allowed for t in container)
    )


def _fill_counter(
    counter: Polygon,
    waiting: Sequence[Piece],
    spacing_mm: float,
    makers: Mapping[float, FootprintMaker],
) -> list[Filled]:
    """Lay pieces in a counter, in its own frame."""
    if not waiting:
        return []
    left, low, right, high = counter.bounds
    longest = max(right - left, high - low)
    cell = next((c for c in _CELLS_MM if longest <= c * _MOST_CELLS), _CELLS_MM[-1])
    maker = makers[cell]
    # All round the counter is container: a frame wide enough that the spacing holds at every edge.
    wide = spacing_mm + cell
    corner = left - wide, low - wide
    size = right - left + 2 * wide, high - low + 2 * wide
    opening = translate(counter, -corner[0], -corner[1])
    frame = Polygon(box(0.0, 0.0, *size).exterior, [opening.exterior])
    laid, _ = fill(waiting, size, maker, frame=frame)
    return [Filled(f.index, f.turn_deg, f.x_mm + corner[0], f.y_mm + corner[1]) for f in laid]


def with_nested(laid: Sequence[Filled], nested: NestedPlaces) -> list[Filled]:
    """Return what was laid with all nested pieces, each where its container has taken it."""
    found: list[Filled] = []
    waiting = list(laid)
    while waiting:
        container = waiting.pop(0)
        found.append(container)
        a, b, c, d, e, f = rigid(container.turn_deg, container.x_mm, container.y_mm)
        waiting += [
            Filled(
                nested_part.index,
                (container.turn_deg + nested_part.turn_deg) % 360,
                a * nested_part.x_mm + b * nested_part.y_mm + e,
                c * nested_part.x_mm + d * nested_part.y_mm + f,
            )
            for nested_part in nested.get(container.index, ())
        ]
    return found
