"""A searched strip cut into sheets: dense layouts for many sheets of one kind.

A strip packer knows no sheets. What it lays densely stays dense within a slice as long as a sheet;
only pieces across a cut have to move. Those open the next slice, and the gaps that they leave are
filled with pieces from further on. It knows no clamps either: what comes to lie over one goes into
a gap.
"""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon

from letterply.catalogue import Stock
from letterply.sheets.layouts.bottom_left import Filled, Piece, fill
from letterply.sheets.layouts.footprints import FootprintMaker
from letterply.sheets.layouts.variants import laid_outline, lies_clear, places_taken
from letterply.sheets.search.strip import search_strip
from letterply.sheets.verifying import SLACK_MM, least_gap

__all__ = ["lay_by_slices"]

_NO_END_MM = 1e9


def lay_by_slices(
    pieces: Sequence[Piece],
    stock: Stock,
    spacing_mm: float,
    maker: FootprintMaker,
    *,
    sheets: int,
    seconds: int,
    seed: int,
) -> list[list[Filled]] | None:
    """Return pieces on sheets of one kind, a list a sheet, or None when no strip was found.

    Args:
        pieces: what to lay.
        stock: the kind of sheet.
        spacing_mm: least distance between pieces.
        maker: the grid on which gaps are filled.
        sheets: how many there are at most; None is returned when they are not enough.
        seconds: budget of the search.
        seed: seed of the search.

    """
    width, height = stock.room_mm
    strip = search_strip(pieces, (_NO_END_MM, height), spacing_mm, seconds=seconds, seed=seed)
    if strip is None or len(strip) != len(pieces):
        return None
    by_index = {piece.index: piece for piece in pieces}
    outlines = {f.index: laid_outline(by_index[f.index].outline, f) for f in strip}
    if least_gap(list(outlines.values()), up_to_mm=spacing_mm) < spacing_mm - SLACK_MM:
        return None
    boxes = {index: outline.bounds for index, outline in outlines.items()}
    if any(box[2] - box[0] > width for box in boxes.values()):
        return None
    waiting = {f.index: f for f in strip}
    moved: dict[int, Filled] = {}
    found: list[list[Filled]] = []
    while waiting or moved:
        start = min((boxes[index][0] for index in waiting), default=0.0)
        inside = [index for index in waiting if boxes[index][2] <= start + width]
        there = []
        for index in sorted(inside):
            shifted = _shifted(waiting.pop(index), -start)
            if lies_clear(laid_outline(by_index[index].outline, shifted), stock):
                there.append(shifted)
            else:
                moved[index] = shifted
        if waiting or moved:
            there += _filled(there, (waiting, moved), by_index, stock, maker)
        if not there or len(found) == sheets:
            return None
        found.append(there)
    return found


def _filled(
    there: list[Filled],
    waiting: Sequence[dict[int, Filled]],
    by_index: dict[int, Piece],
    stock: Stock,
    maker: FootprintMaker,
) -> list[Filled]:
    """Lay pieces that wait into the gaps of a sheet, largest first; they wait no longer."""
    taken = [laid_outline(by_index[f.index].outline, f) for f in there]
    taken += places_taken(stock, maker.spacing_mm)
    queue = sorted(
        (by_index[index] for some in waiting for index in some),
        key=lambda p: (-float(Polygon(p.outline.exterior).area), p.index),
    )
    more, _ = fill(queue, stock.room_mm, maker, taken=taken)
    for laid in more:
        for some in waiting:
            some.pop(laid.index, None)
    return more


def _shifted(filled: Filled, dx_mm: float) -> Filled:
    return Filled(filled.index, filled.turn_deg, filled.x_mm + dx_mm, filled.y_mm)
