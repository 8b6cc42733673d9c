"""Which stock sheets a group of parts goes on, and what lies on each.

A group is what may share a sheet: one material, thickness and face. Pieces are laid largest
first; offcuts come before whole sheets; the smallest sheet that takes all that is left is
preferred, else the largest is filled and the rest goes on.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import shapely
from shapely import Polygon

from letterply.catalogue import Stock
from letterply.sheets.layouts.bottom_left import Filled, Piece, fill
from letterply.sheets.layouts.footprints import FootprintMaker
from letterply.sheets.layouts.slicing import lay_by_slices
from letterply.sheets.layouts.stock_choice import Rack
from letterply.sheets.layouts.variants import (
    FULL,
    Care,
    by_area,
    fill_well,
    fits_at,
    laid_area,
    laid_outline,
    lies_clear,
    places_taken,
    reach,
    solid_area,
    usable_area,
)
from letterply.sheets.search.strip import search_strip
from letterply.sheets.verifying import SLACK_MM, clear_of_places, least_gap, within_margins

__all__ = ["Layout", "SearchBudget", "lay_group", "shortened"]

_PACE_S_PER_CELL = 2e-11
"""Seconds a cell of the grid, a piece and a turn: a filling takes about so long, measured on one
core with letters of 36 shapes. It chooses how finely is looked, so that the clock need not."""

_FIRST_TIMES = 2.5
"""A shape that has not been laid before takes so much longer than one that has."""

_EFFORT_S, _EFFORT_S_PER_PIECE = 0.5, 0.003
"""About how long one filling of all sheets of a group may take, and with how many pieces more."""

_SHUFFLED_S, _MOST_SHUFFLES = 1.2, 16
"""About how long orders by chance may take together, and how many there are at most: six made
layouts of 166 letters 0 to 2 % shorter, 20 another 0 to 1 %."""

_FINENESS = ((24, 0.25), (24, 0.5), (8, 0.5), (4, 0.5), (4, 1.0), (4, 2.0), (4, 4.0))
"""Turns and cells in mm that are tried, best first: 166 script letters on sheets took 0.70, 0.71,
0.735, 0.75, 0.79 and 0.83 (cells of 2 mm) of the length of boxes on shelves."""

_SLICES_SHARE = 0.6
"""Share of the seconds that goes to one strip for all sheets; the rest to sheets one by one."""

_SEARCH_SHARE = 0.75
"""Share of the sheet by area that is handed to the search; the filling uses what it leaves."""


@dataclass(frozen=True, slots=True)
class Layout:
    """One sheet's worth: the stock, and what lies on its usable area."""

    stock: Stock
    laid: tuple[Filled, ...]


class SearchBudget:
    """Seconds that searches may still take, over a whole job."""

    def __init__(self, seconds: int) -> None:
        self.seconds = max(0.0, float(seconds))

    @contextmanager
    def spend(self, share: float) -> Iterator[int]:
        """Give the whole seconds that a search may take, at most `share`; deduct what it took."""
        start = time.monotonic()
        yield math.ceil(min(self.seconds, share))
        self.seconds = max(0.0, self.seconds - (time.monotonic() - start))


Filling = Callable[[Sequence[Piece], Stock], tuple[list[Filled], list[Piece]]]


def lay_group(
    pieces: list[Piece],
    rack: Rack,
    types: Sequence[Stock],
    spacing_mm: float,
    budget: SearchBudget,
    seed: int,
) -> tuple[list[Layout], list[Piece]]:
    """Lay one group's pieces, taking sheets from the rack.

    Args:
        pieces: each fits at least one of `types`.
        rack: what is left.
        types: the kinds of sheet to choose from.
        spacing_mm: least distance between pieces.
        budget: seconds for searches; none are made when it is empty or could save nothing.
        seed: seed of the searches.

    Returns:
        The sheets in the order of filling, and the pieces for which no sheet was left.

    """
    if not pieces or not types:
        return [], pieces
    care, cell = _care(pieces, spacing_mm)
    maker = FootprintMaker(cell, spacing_mm)

    def quick(queue: Sequence[Piece], stock: Stock) -> tuple[list[Filled], list[Piece]]:
        return fill_well(queue, stock, maker, care, square=len(queue) == len(pieces))

    share = 0.0

    def searched(queue: Sequence[Piece], stock: Stock) -> tuple[list[Filled], list[Piece]]:
        with budget.spend(share) as seconds:
            return _search(queue, stock, maker, care, spacing_mm, seconds, seed)

    in_order = sorted(pieces, key=by_area)
    best = _lay(in_order, rack, types, quick)
    if budget.seconds and len(best[0]) > 1 and _could_save(best, pieces, spacing_mm):
        with budget.spend(budget.seconds * _SLICES_SHARE) as seconds:
            sliced = _slices(in_order, rack, types, maker, spacing_mm, seconds, seed)
        best = min(best, sliced, key=_cost) if sliced is not None else best
    if budget.seconds and _could_save(best, pieces, spacing_mm):
        share = budget.seconds / len(best[0])
        best = min(best, _lay(in_order, rack, types, searched), key=_cost)
    for layout in best[0]:
        rack.take(layout.stock)
    return best


def _slices(
    pieces: Sequence[Piece],
    rack: Rack,
    types: Sequence[Stock],
    maker: FootprintMaker,
    spacing_mm: float,
    seconds: int,
    seed: int,
) -> tuple[list[Layout], list[Piece]] | None:
    """Lay all pieces by slices of one searched strip, on sheets of the largest kind."""
    whole = [s for s in types if not s.offcut] or list(types)
    stock = max(whole, key=lambda s: (usable_area(s), s.key))
    found = lay_by_slices(
        pieces,
        stock,
        spacing_mm,
        maker,
        sheets=rack.left(stock),
        seconds=seconds,
        seed=seed,
    )
    if found is None:
        return None
    return [Layout(stock, tuple(laid)) for laid in found], []


def _lay(
    pieces: Sequence[Piece], rack: Rack, types: Sequence[Stock], filling: Filling
) -> tuple[list[Layout], list[Piece]]:
    """Choose sheets and fill them until nothing is left or no sheet takes any more."""
    left = {stock.key: rack.left(stock) for stock in types}
    queue = list(pieces)
    layouts: list[Layout] = []
    for offcuts in (True, False):
        pool = sorted(
            (s for s in types if s.offcut is offcuts),
            key=lambda s: (s.material_area.area, s.key),
        )
        while queue and any(left[s.key] for s in pool):
            pool = [s for s in pool if left[s.key]]
            chosen: Layout | None = None
            rest = queue
            area = sum(solid_area(p.outline) for p in queue)
            # The smallest sheet that takes all of it, else as much as goes on the largest.
            for stock in (*(s for s in pool if area <= usable_area(s)), pool[-1]):
                laid, rest = filling(queue, stock)
                if laid and (not rest or stock is pool[-1]):
                    chosen = Layout(stock, tuple(laid))
                    break
            if chosen is None:
                pool.pop()  # nothing that is left goes on the largest sheet
                continue
            layouts.append(chosen)
            left[chosen.stock.key] -= 1
            queue = rest
    return layouts, queue


def _search(
    queue: Sequence[Piece],
    stock: Stock,
    maker: FootprintMaker,
    care: Care,
    spacing_mm: float,
    seconds: int,
    seed: int,
) -> tuple[list[Filled], list[Piece]]:
    """Lay the largest pieces by the search, fill the gaps, and keep it if more lies there.

    When all goes on the sheet without a search, or there is no time left, none is made.
    """
    size = stock.room_mm
    plain = fill_well(queue, stock, maker, care, square=False)
    if not plain[1] or not seconds:
        return plain
    room = _SEARCH_SHARE * usable_area(stock)
    handed: list[Piece] = []
    for piece in queue:
        grown = _grown_area(piece.outline, spacing_mm)
        if grown <= room and fits_at(piece.outline, stock, piece.turns_deg):
            handed.append(piece)
            room -= grown
    strip = search_strip(handed, size, spacing_mm, seconds=seconds, seed=seed)
    if not strip:
        return plain
    by_index = {piece.index: piece for piece in queue}
    # The search knows no clamps: what lies over one is laid by the filling.
    strip = [f for f in strip if lies_clear(laid_outline(by_index[f.index].outline, f), stock)]
    outlines = [laid_outline(by_index[f.index].outline, f) for f in strip]
    if not _holds(outlines, stock, spacing_mm):
        return plain
    there = {f.index for f in strip}
    waiting = [p for p in queue if p.index not in there]
    taken = [*outlines, *places_taken(stock, maker.spacing_mm)]
    more, rest = fill(waiting, size, maker, taken=taken)
    laid = [*strip, *more]
    return (laid, rest) if laid_area(queue, laid) > laid_area(queue, plain[0]) else plain


def shortened(
    layout: Layout,
    pieces: Mapping[int, Piece],
    spacing_mm: float,
    budget: SearchBudget,
    share: float,
    seed: int,
) -> Layout:
    """Return a layout that reaches less far along its sheet, if a search finds one, else itself."""
    stock = layout.stock
    mine = [pieces[f.index] for f in layout.laid]
    if len(mine) < 2 or not budget.seconds:
        return layout
    with budget.spend(share) as seconds:
        strip = search_strip(mine, stock.room_mm, spacing_mm, seconds=seconds, seed=seed) or []
    if len(strip) < len(mine) or reach(mine, strip) >= reach(mine, layout.laid):
        return layout
    outlines = [laid_outline(pieces[f.index].outline, f) for f in strip]
    return Layout(stock, tuple(strip)) if _holds(outlines, stock, spacing_mm) else layout


def _holds(outlines: Sequence[Polygon], stock: Stock, spacing_mm: float) -> bool:
    """Whether outlines, in the frame of where parts lie, keep apart, from edges and from clamps."""
    on_sheet = [shapely.transform(o, lambda xy: xy + stock.edge_mm) for o in outlines]
    apart = least_gap(outlines, up_to_mm=spacing_mm) >= spacing_mm - SLACK_MM
    return apart and within_margins(on_sheet, stock) and clear_of_places(on_sheet, stock)


def _cost(result: tuple[list[Layout], list[Piece]]) -> tuple[int, int, float, float]:
    """Order results: fewest parts left over, fewest sheets, least stock, emptiest last sheet."""
    layouts, left_over = result
    area = sum(layout.stock.material_area.area for layout in layouts)
    last = len(layouts[-1].laid) if layouts else 0
    return len(left_over), len(layouts), area, last


def _could_save(
    result: tuple[list[Layout], list[Piece]], pieces: Sequence[Piece], spacing_mm: float
) -> bool:
    """Whether a tighter layout could do with one sheet less, or place what was left over."""
    layouts, left_over = result
    if left_over:
        return bool(layouts)
    if len(layouts) < 2:
        return False
    need = sum(_grown_area(p.outline, spacing_mm) for p in pieces)
    room = sorted(usable_area(layout.stock) for layout in layouts)
    return need <= FULL * sum(room[1:])


def _care(pieces: Sequence[Piece], spacing_mm: float) -> tuple[Care, float]:
    """Return how much the filling can afford to try, and on which cells, mm."""
    need = sum(_grown_area(p.outline, spacing_mm) for p in pieces) / FULL
    kinds = len({(round(p.outline.area, 2), round(p.outline.length, 2)) for p in pieces})
    again = (len(pieces) + (_FIRST_TIMES - 1) * kinds) / max(len(pieces), 1)
    effort = max(_EFFORT_S, _EFFORT_S_PER_PIECE * len(pieces))
    for turns, cell in _FINENESS:
        tries = again * sum(min(turns, len(p.turns_deg)) for p in pieces)
        seconds = tries * need / cell**2 * _PACE_S_PER_CELL
        if seconds <= effort:
            shuffles = math.floor(_SHUFFLED_S / max(seconds, _SHUFFLED_S / _MOST_SHUFFLES))
            return Care(turns, shuffles), cell
    turns, cell = _FINENESS[-1]
    return Care(turns, 0), cell


def _grown_area(outline: Polygon, spacing_mm: float) -> float:
    """Return the area with half the spacing round it (exact for a convex outline), mm²."""
    ring = outline.exterior
    half = spacing_mm / 2
    return float(Polygon(ring).area + ring.length * half + math.pi * half * half)
