"""One sheet filled in several ways, and the best of them.

What is laid first, and which turns are tried, decides how much goes on a sheet, and no order is
best for all shapes. All ways are the same each time.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon
from shapely.affinity import affine_transform

from letterply.catalogue import Stock
from letterply.shapes import turns_that_fit
from letterply.sheets.layouts.bottom_left import Filled, Piece, fill
from letterply.sheets.layouts.footprints import FootprintMaker
from letterply.sheets.verifying import clear_of_places
from letterply.side_by_side import side_by_side
from letterply.stacks import rigid

__all__ = [
    "FULL",
    "Care",
    "by_area",
    "fill_well",
    "fits_at",
    "laid_area",
    "laid_outline",
    "lies_clear",
    "places_taken",
    "reach",
    "solid_area",
    "usable_area",
]

FULL = 0.8
"""No layout of letters fills more of a sheet than this, spacing included; 0.5 to 0.7 is usual."""

_QUARTERS = 4
_SAVED = 0.95
"""Share of the length that other turns may take, for them to be used in a job on one sheet."""


@dataclass(frozen=True, slots=True)
class Care:
    """How much is tried.

    Attributes:
        turns: how many of its turns a piece may take, the preferred ones.
        shuffles: how many orders by chance.

    """

    turns: int
    shuffles: int


def fill_well(
    queue: Sequence[Piece], stock: Stock, maker: FootprintMaker, care: Care, *, square: bool
) -> tuple[list[Filled], list[Piece]]:
    """Fill a sheet in several ways and return the one by which most area lies on it.

    Where all lies on it, that is the one that reaches least far. Turning each piece as suits it
    best alone can waste the sheet for all: oblongs turned upright one by one may leave no room for
    a second row. With `square`, other than quarter turns are used only where they save a good
    piece of the sheet: a small job lies as a maker would lay it.
    """
    size = stock.room_mm
    if len(queue) == 1:  # a part alone lies as it is drawn, if it fits so
        queue = [_as_drawn(queue[0], stock)]
    plain = [_kept(p, stock, p.turns_deg[:_QUARTERS]) for p in queue]
    ways = [
        (_kept_to(queue, stock, (0.0, 180.0)), True),
        (_kept_to(queue, stock, (90.0, 270.0)), True),
    ]
    if care.turns == _QUARTERS or (square and _may_hold(stock, queue)):
        for order in (*_ORDERS, _by_length):
            some = sorted(plain, key=order)
            ways += [(some, True), (some, False)]
    taken = places_taken(stock, maker.spacing_mm)
    # They share footprints alone, which come out the same whoever makes them.
    found = side_by_side(lambda way: fill(way[0], size, maker, taken=taken, by_middle=way[1]), ways)
    laid, rest = max(found, key=lambda f: _worth(queue, f[0]))
    if care.turns > _QUARTERS:
        fine = [_kept(p, stock, p.turns_deg[: care.turns]) for p in queue]
        turned = side_by_side(
            lambda some: fill(some, size, maker, taken=taken),
            list(_in_many_orders(fine, care.shuffles)),
        )
        best, _ = max(turned, key=lambda f: _worth(queue, f[0]))
        tidy = square and not rest and reach(queue, best) > _SAVED * reach(queue, laid)
        if not tidy:
            laid = max(laid, best, key=lambda f: _worth(queue, f))
    there = {f.index for f in laid}
    return laid, [p for p in queue if p.index not in there]


_BLUR = 0.15


def _in_many_orders(pieces: Sequence[Piece], shuffles: int) -> Iterator[list[Piece]]:
    """Give the pieces in several orders, largest first.

    Some are by chance, and the same each time: sizes are taken for a little more or less.
    """
    for order in _ORDERS:
        yield sorted(pieces, key=order)
    for number in range(shuffles):
        chance = random.Random(number)
        order = _ORDERS[number % len(_ORDERS)]
        size = {
            p.index: order(p)[0] * chance.uniform(1 - _BLUR, 1 + _BLUR)
            for p in sorted(pieces, key=lambda p: p.index)
        }
        yield sorted(pieces, key=lambda p: (size[p.index], p.index))


def _worth(queue: Sequence[Piece], laid: Sequence[Filled]) -> tuple[float, float]:
    """Order layouts: most area laid, then the shortest."""
    # A sum depends on its order in the last digits.
    return round(laid_area(queue, laid), 3), -reach(queue, laid)


def fits_at(outline: Polygon, stock: Stock, turns_deg: tuple[float, ...]) -> bool:
    """Whether an outline fits a sheet at one of some turns."""
    return bool(turns_that_fit(outline, [stock.room_mm], turns_deg, any_turn=False))


def _may_hold(stock: Stock, pieces: Sequence[Piece]) -> bool:
    return sum(solid_area(p.outline) for p in pieces) <= FULL * usable_area(stock)


def _by_frame(piece: Piece) -> tuple[float, int]:
    return -float(shapely.minimum_rotated_rectangle(piece.outline).area), piece.index


def _by_edge(piece: Piece) -> tuple[float, int]:
    return -float(piece.outline.exterior.length), piece.index


def by_area(piece: Piece) -> tuple[float, int]:
    """Return a key that sorts pieces by area, the largest first."""
    return -solid_area(piece.outline), piece.index


def _by_length(piece: Piece) -> tuple[float, int]:
    return -_longest(piece.outline), piece.index


_ORDERS = (_by_frame, _by_edge, by_area)
"""Largest first, by what large may mean."""


def reach(queue: Sequence[Piece], laid: Sequence[Filled]) -> float:
    """Return how far to the right a layout reaches, mm."""
    outlines = {piece.index: piece.outline for piece in queue}
    return max((laid_outline(outlines[f.index], f).bounds[2] for f in laid), default=0.0)


def _kept(piece: Piece, stock: Stock, turns_deg: tuple[float, ...]) -> Piece:
    if turns_deg == piece.turns_deg:
        return piece
    fit = turns_deg and fits_at(piece.outline, stock, turns_deg)
    return Piece(piece.index, piece.outline, turns_deg) if fit else piece


def _as_drawn(piece: Piece, stock: Stock) -> Piece:
    """Return the piece kept to the first of its turns at which it fits the sheet."""
    for turn in piece.turns_deg:
        if fits_at(piece.outline, stock, (turn,)):
            return Piece(piece.index, piece.outline, (turn,))
    return piece


def _kept_to(queue: Sequence[Piece], stock: Stock, turns_deg: tuple[float, ...]) -> list[Piece]:
    """Return the pieces kept to some of their turns, if they fit the sheet at one of these."""
    return [_kept(p, stock, tuple(t for t in p.turns_deg if t in turns_deg)) for p in queue]


def laid_area(queue: Sequence[Piece], laid: Sequence[Filled]) -> float:
    """Return the area of what was laid, counters solid, mm²."""
    outlines = {piece.index: piece.outline for piece in queue}
    return sum(solid_area(outlines[f.index]) for f in laid)


def usable_area(stock: Stock) -> float:
    """Return the area of a sheet that is used: within its margins, where it is reached, mm²."""
    width, height = stock.room_mm
    return float(width * height - sum(p.area for p in places_taken(stock, 0.0)))


def places_taken(stock: Stock, spacing_mm: float) -> list[Polygon]:
    """Return what of the area where parts lie is kept clear, in its frame, mm.

    Args:
        stock: the sheet.
        spacing_mm: what parts keep from what is taken in any case.

    """
    room = shapely.box(0.0, 0.0, *stock.room_mm)
    edge = stock.edge_mm
    found: list[Polygon] = []
    for place, margin in stock.barred:
        area = shapely.transform(place, lambda xy: xy - edge)
        away = stock.beside_mm + margin
        # Beside a place that lies outside of the area parts keep their distance, too.
        for grown in (max(0.0, away - spacing_mm), away):
            near = area.buffer(grown, join_style="mitre").intersection(room)
            if near.area > 0:
                found += [p for p in shapely.get_parts(near).tolist() if isinstance(p, Polygon)]
                break
    return found


def lies_clear(outline: Polygon, stock: Stock) -> bool:
    """Whether an outline, in the frame of the area where parts lie, keeps from what is there."""
    on_sheet = shapely.transform(outline, lambda xy: xy + stock.edge_mm)
    return clear_of_places([on_sheet], stock)


def solid_area(outline: Polygon) -> float:
    """Return the area of an outline with its counters solid, mm²."""
    return float(Polygon(outline.exterior).area)


def _longest(outline: Polygon) -> float:
    left, low, right, high = outline.bounds
    return float(max(right - left, high - low))


def laid_outline(outline: Polygon, filled: Filled) -> Polygon:
    """Return an outline where it was laid."""
    return affine_transform(outline, rigid(filled.turn_deg, filled.x_mm, filled.y_mm))
