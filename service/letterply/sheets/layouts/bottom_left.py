"""Bottom-left filling of one sheet on a grid: quick, and the same each time.

Each piece goes as far to the left as it can, then as low, at the turn at which the middle of its
area lies farthest to the left, or its right side: that fills bays and leaves the front even.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely import Polygon

from letterply.shapes import SAME_MM, WHOLE
from letterply.sheets.layouts.footprints import Footprint, FootprintMaker
from letterply.sheets.layouts.grid import Grid, Shape

__all__ = ["Filled", "Piece", "fill"]


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Something to lay on a sheet.

    Attributes:
        index: the caller's number for it.
        outline: its outline; holes count as solid.
        turns_deg: allowed turns, preferred first.

    """

    index: int
    outline: Polygon
    turns_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Filled:
    """A piece on the sheet: the turn about the origin, then the shift, within the usable area."""

    index: int
    turn_deg: float
    x_mm: float
    y_mm: float


def fill(
    pieces: Sequence[Piece],
    usable_mm: tuple[float, float],
    maker: FootprintMaker,
    *,
    taken: Iterable[Polygon] = (),
    frame: Polygon | None = None,
    by_middle: bool = True,
) -> tuple[list[Filled], list[Piece]]:
    """Lay pieces in the order given, each as far left, then as low, as it goes.

    Args:
        pieces: what to lay.
        usable_mm: width and height of the usable area, whose lower left corner is the origin.
        maker: the grid and the spacing.
        taken: outlines that lie there already, solid.
        frame: what lies there already and leaves its holes free.
        by_middle: of its turns a piece takes that at which its middle lies farthest left, which
            suits odd shapes; False for its right side, which suits blocks.

    Returns:
        What was laid, and the pieces that found no room, in the order given.

    """
    grid = _Room(usable_mm, maker, by_middle=by_middle)
    for outline in taken:
        grid.take(maker.shape(outline), 0, 0)
    if frame is not None:
        grid.take(maker.shape(frame, solid=False), 0, 0)
    laid: list[Filled] = []
    left_over: list[Piece] = []
    for piece in pieces:
        best = _best_place(grid, maker.footprints(piece.outline, piece.turns_deg))
        if best is None:
            left_over.append(piece)
            continue
        column, row, footprint = best
        grid.take(footprint.shape, column, row)
        laid.append(
            Filled(
                piece.index,
                footprint.turn_deg,
                column * maker.cell_mm - footprint.left_mm,
                row * maker.cell_mm - footprint.low_mm,
            )
        )
    return laid, left_over


def _best_place(grid: _Room, footprints: Sequence[Footprint]) -> tuple[int, int, Footprint] | None:
    """Return column, row and turn that lie farthest left by their measure, then lowest."""
    # The most promising first: those that could not be better any more are not looked at.
    promising = sorted(footprints, key=lambda f: grid.earliest(f) + grid.measure(f))
    best: tuple[int, int, Footprint] | None = None
    least = math.inf
    for footprint in promising:
        place = grid.first_free(footprint, least - grid.measure(footprint))
        if place is None:
            continue
        column, row = place
        here = column + grid.measure(footprint)
        if best is None or here < least - WHOLE or row < best[1]:
            best, least = (column, row, footprint), min(here, least)
    return best


class _Room:
    """The usable area of a sheet as a grid, with a skirt all round that footprints may reach."""

    def __init__(
        self, usable_mm: tuple[float, float], maker: FootprintMaker, *, by_middle: bool
    ) -> None:
        self._by_middle = by_middle
        self._usable_mm = usable_mm
        self._cell_mm = maker.cell_mm
        columns, rows = (math.ceil(s / maker.cell_mm) + 2 * maker.skirt + 2 for s in usable_mm)
        self._grid = Grid(columns, rows)
        self._used_columns = 0
        self._earliest: dict[Shape, int] = {}

    def earliest(self, footprint: Footprint) -> int:
        """Return a column before which a footprint has no place."""
        return self._earliest.get(footprint.shape, 0)

    def measure(self, footprint: Footprint) -> float:
        """Return how many columns a footprint's middle, or right side, lies right of its place."""
        reach = footprint.middle_mm if self._by_middle else footprint.width_mm
        return reach / self._cell_mm

    def first_free(self, footprint: Footprint, before: float) -> tuple[int, int] | None:
        """Return column and row of the place farthest left, then lowest; None if there is none.

        No place right of column `before` is looked for.
        """
        # A part of exactly the usable size fits, whatever the last bit of its width says.
        room_x = self._usable_mm[0] - footprint.width_mm + SAME_MM
        room_y = self._usable_mm[1] - footprint.height_mm + SAME_MM
        if room_x < 0 or room_y < 0:
            return None
        last_row = math.floor(room_y / self._cell_mm)
        # The sheet only fills up: what was taken for this shape before is still taken.
        start = self.earliest(footprint)
        end = math.floor(min(room_x / self._cell_mm, self._used_columns, before + WHOLE))
        if end < start:
            return None
        column, row = self._grid.first_free(footprint.shape, (start, end), last_row)
        self._earliest[footprint.shape] = end + 1 if column < 0 else column
        return (column, row) if column >= 0 else None

    def take(self, shape: Shape, column: int, row: int) -> None:
        """Mark the cells of a footprint laid at `column` and `row` as taken."""
        self._grid.take(shape, column, row)
        self._used_columns = max(self._used_columns, column + shape.columns)
