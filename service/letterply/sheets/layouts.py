"""Which stock sheets a group of parts goes on, and what lies on each.

A group is what may share a sheet: one material, thickness and face. Pieces are laid largest
first; offcuts come before whole sheets; the smallest sheet that takes all that is left is
preferred, else the largest is filled and the rest goes on.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import shapely
from shapely import Polygon
from shapely.affinity import affine_transform

from letterply.catalogue.model import Stock
from letterply.sheets.filling import Filled, Piece, fill
from letterply.sheets.footprints import FootprintMaker
from letterply.sheets.measuring import SLACK_MM, least_gap, within_margins
from letterply.sheets.racking import Rack, fits, usable_mm
from letterply.sheets.slicing import lay_by_slices
from letterply.sheets.strip_search import search_strip
from letterply.stacks.model import rigid

__all__ = ["Layout", "SearchBudget", "lay_group"]

_PACE_S_PER_CELL = 2e-11
"""Seconds a cell of the grid, a piece and a turn: a filling takes about so long, measured on one
core with letters of 36 shapes. It chooses how finely is looked, so that the clock need not."""

_FIRST_TIMES = 2.5
"""A shape that has not been laid before takes so much longer than one that has."""

_EFFORT_S, _EFFORT_S_PER_PIECE = 0.5, 0.003
"""About how long one filling of all sheets of a group may take, and with how many pieces more."""

_FINENESS = ((24, 0.25), (24, 0.5), (8, 0.5), (4, 0.5), (4, 1.0), (4, 2.0), (4, 4.0))
"""Turns and cells in mm that are tried, best first: 166 script letters on sheets took 0.70, 0.71,
0.735, 0.75, 0.79 and 0.83 (cells of 2 mm) of the length of boxes on shelves."""

_QUARTERS = 4
_SAVED = 0.95
"""Share of the length that other turns may take, for them to be used in a job on one sheet."""

_FULL = 0.8
"""No layout of letters fills more of a sheet than this, spacing included; 0.5 to 0.7 is usual."""

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
    turns, cell = _fineness(pieces, spacing_mm)
    maker = FootprintMaker(cell, spacing_mm)

    def quick(queue: Sequence[Piece], stock: Stock) -> tuple[list[Filled], list[Piece]]:
        return _fill_well(queue, stock, maker, turns, square=len(queue) == len(pieces))

    share = 0.0

    def searched(queue: Sequence[Piece], stock: Stock) -> tuple[list[Filled], list[Piece]]:
        with budget.spend(share) as seconds:
            return _search(queue, stock, maker, turns, spacing_mm, seconds, seed)

    by_area = sorted(pieces, key=_by_area)
    best = _lay(by_area, rack, types, quick)
    if budget.seconds and len(best[0]) > 1 and _could_save(best, pieces, spacing_mm):
        with budget.spend(budget.seconds * _SLICES_SHARE) as seconds:
            sliced = _slices(by_area, rack, types, maker, spacing_mm, seconds, seed)
        best = min(best, sliced, key=_cost) if sliced is not None else best
    if budget.seconds and _could_save(best, pieces, spacing_mm):
        share = budget.seconds / len(best[0])
        best = min(best, _lay(by_area, rack, types, searched), key=_cost)
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
    stock = max(whole, key=lambda s: (_area(s), s.key))
    found = lay_by_slices(
        pieces,
        usable_mm(stock),
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
            key=lambda s: (s.width_mm * s.height_mm, s.key),
        )
        while queue and any(left[s.key] for s in pool):
            pool = [s for s in pool if left[s.key]]
            chosen: Layout | None = None
            rest = queue
            area = sum(_solid_area(p.outline) for p in queue)
            # The smallest sheet that takes all of it, else as much as goes on the largest.
            for stock in (*(s for s in pool if area <= _area(s)), pool[-1]):
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


def _fill_well(
    queue: Sequence[Piece], stock: Stock, maker: FootprintMaker, turns: int, *, square: bool
) -> tuple[list[Filled], list[Piece]]:
    """Fill a sheet in several ways and return the one by which most area lies on it.

    Where all lies on it, that is the one that reaches least far. Turning each piece as suits it
    best alone can waste the sheet for all: oblongs turned upright one by one may leave no room for
    a second row. With `square`, other than quarter turns are used only where they save a good
    piece of the sheet: a small job lies as a maker would lay it.
    """
    size = usable_mm(stock)
    if len(queue) == 1:  # a part alone lies as it is drawn, if it fits so
        queue = [_as_drawn(queue[0], stock)]
    plain = [_kept(p, stock, p.turns_deg[:_QUARTERS]) for p in queue]
    ways = [
        (_kept_to(queue, stock, (0.0, 180.0)), True),
        (_kept_to(queue, stock, (90.0, 270.0)), True),
    ]
    if turns == _QUARTERS or (square and _may_hold(stock, queue)):
        for order in (*_ORDERS, _by_length):
            some = sorted(plain, key=order)
            ways += [(some, True), (some, False)]
    found = [fill(way, size, maker, by_middle=by_middle) for way, by_middle in ways]
    laid, rest = max(found, key=lambda f: _worth(queue, f[0]))
    if turns > _QUARTERS:
        fine = [_kept(p, stock, p.turns_deg[:turns]) for p in queue]
        turned = [fill(sorted(fine, key=order), size, maker) for order in _ORDERS]
        best, _ = max(turned, key=lambda f: _worth(queue, f[0]))
        tidy = square and not rest and _reach(queue, best) > _SAVED * _reach(queue, laid)
        if not tidy:
            laid = max(laid, best, key=lambda f: _worth(queue, f))
    there = {f.index for f in laid}
    return laid, [p for p in queue if p.index not in there]


def _worth(queue: Sequence[Piece], laid: Sequence[Filled]) -> tuple[float, float]:
    """Order layouts: most area laid, then the shortest."""
    return _laid_area(queue, laid), -_reach(queue, laid)


def _may_hold(stock: Stock, pieces: Sequence[Piece]) -> bool:
    return sum(_solid_area(p.outline) for p in pieces) <= _FULL * _area(stock)


def _by_frame(piece: Piece) -> tuple[float, int]:
    return -float(shapely.minimum_rotated_rectangle(piece.outline).area), piece.index


def _by_edge(piece: Piece) -> tuple[float, int]:
    return -float(piece.outline.exterior.length), piece.index


def _by_area(piece: Piece) -> tuple[float, int]:
    return -_solid_area(piece.outline), piece.index


def _by_length(piece: Piece) -> tuple[float, int]:
    return -_longest(piece.outline), piece.index


_ORDERS = (_by_frame, _by_edge, _by_area)
"""Largest first, by what large may mean."""


def _reach(queue: Sequence[Piece], laid: Sequence[Filled]) -> float:
    """Return how far to the right a layout reaches, mm."""
    outlines = {piece.index: piece.outline for piece in queue}
    return max((_laid_outline(outlines[f.index], f).bounds[2] for f in laid), default=0.0)


def _kept(piece: Piece, stock: Stock, turns_deg: tuple[float, ...]) -> Piece:
    if turns_deg == piece.turns_deg:
        return piece
    fit = turns_deg and fits(piece.outline, (stock,), turns_deg, any_turn=False)
    return Piece(piece.index, piece.outline, turns_deg) if fit else piece


def _as_drawn(piece: Piece, stock: Stock) -> Piece:
    """Return the piece kept to the first of its turns at which it fits the sheet."""
    for turn in piece.turns_deg:
        if fits(piece.outline, (stock,), (turn,), any_turn=False):
            return Piece(piece.index, piece.outline, (turn,))
    return piece


def _kept_to(queue: Sequence[Piece], stock: Stock, turns_deg: tuple[float, ...]) -> list[Piece]:
    """Return the pieces kept to some of their turns, if they fit the sheet at one of these."""
    return [_kept(p, stock, tuple(t for t in p.turns_deg if t in turns_deg)) for p in queue]


def _laid_area(queue: Sequence[Piece], laid: Sequence[Filled]) -> float:
    outlines = {piece.index: piece.outline for piece in queue}
    return sum(_solid_area(outlines[f.index]) for f in laid)


def _search(
    queue: Sequence[Piece],
    stock: Stock,
    maker: FootprintMaker,
    turns: int,
    spacing_mm: float,
    seconds: int,
    seed: int,
) -> tuple[list[Filled], list[Piece]]:
    """Lay the largest pieces by the search, fill the gaps, and keep it if more lies there.

    When all goes on the sheet without a search, or there is no time left, none is made.
    """
    size = usable_mm(stock)
    plain = _fill_well(queue, stock, maker, turns, square=False)
    if not plain[1] or not seconds:
        return plain
    room = _SEARCH_SHARE * _area(stock)
    handed: list[Piece] = []
    for piece in queue:
        grown = _grown_area(piece.outline, spacing_mm)
        if grown <= room and fits(piece.outline, (stock,), piece.turns_deg, any_turn=False):
            handed.append(piece)
            room -= grown
    strip = search_strip(handed, size, spacing_mm, seconds=seconds, seed=seed)
    if not strip:
        return plain
    by_index = {piece.index: piece for piece in queue}
    outlines = [_laid_outline(by_index[f.index].outline, f) for f in strip]
    corner = (-stock.margin_mm, -stock.margin_mm)
    on_sheet = [shapely.transform(o, lambda xy: xy - corner) for o in outlines]
    kept_apart = least_gap(outlines, up_to_mm=spacing_mm) >= spacing_mm - SLACK_MM
    if not (kept_apart and within_margins(on_sheet, stock)):
        return plain
    there = {f.index for f in strip}
    waiting = [p for p in queue if p.index not in there]
    more, rest = fill(waiting, size, maker, taken=outlines)
    laid = [*strip, *more]
    return (laid, rest) if _laid_area(queue, laid) > _laid_area(queue, plain[0]) else plain


def _cost(result: tuple[list[Layout], list[Piece]]) -> tuple[int, int, float, float]:
    """Order results: fewest parts left over, fewest sheets, least stock, emptiest last sheet."""
    layouts, left_over = result
    area = sum(layout.stock.width_mm * layout.stock.height_mm for layout in layouts)
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
    room = sorted(_area(layout.stock) for layout in layouts)
    return need <= _FULL * sum(room[1:])


def _fineness(pieces: Sequence[Piece], spacing_mm: float) -> tuple[int, float]:
    """Return how many turns a piece and which cells, mm, the filling can afford."""
    need = sum(_grown_area(p.outline, spacing_mm) for p in pieces) / _FULL
    kinds = len({(round(p.outline.area, 2), round(p.outline.length, 2)) for p in pieces})
    again = (len(pieces) + (_FIRST_TIMES - 1) * kinds) / max(len(pieces), 1)
    effort = max(_EFFORT_S, _EFFORT_S_PER_PIECE * len(pieces))
    for turns, cell in _FINENESS:
        tries = again * sum(min(turns, len(p.turns_deg)) for p in pieces)
        if tries * need / cell**2 * _PACE_S_PER_CELL <= effort:
            return turns, cell
    return _FINENESS[-1]


def _area(stock: Stock) -> float:
    width, height = usable_mm(stock)
    return width * height


def _solid_area(outline: Polygon) -> float:
    return float(Polygon(outline.exterior).area)


def _grown_area(outline: Polygon, spacing_mm: float) -> float:
    """Return the area with half the spacing round it (exact for a convex outline), mm²."""
    ring = outline.exterior
    half = spacing_mm / 2
    return float(Polygon(ring).area + ring.length * half + math.pi * half * half)


def _longest(outline: Polygon) -> float:
    left, low, right, high = outline.bounds
    return float(max(right - left, high - low))


def _laid_outline(outline: Polygon, filled: Filled) -> Polygon:
    return affine_transform(outline, rigid(filled.turn_deg, filled.x_mm, filled.y_mm))
