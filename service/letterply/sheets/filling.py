"""Bottom-left filling of one sheet on a grid: quick, and the same each time.

The grid is one whole number: bit `column * stride + row` says whether a cell is taken. Laying a
run of cells over all places at once is then a shift and an "or" of the whole sheet, and the place
farthest to the left, then lowest, is the lowest bit that stays free.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely import Polygon

from letterply.sheets.footprints import Footprint, FootprintMaker, Spans

__all__ = ["Filled", "Piece", "fill"]

_FIT_SLACK_MM = 1e-6
"""A part of exactly the usable size fits, whatever the last bit of its width says."""


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
) -> tuple[list[Filled], list[Piece]]:
    """Lay pieces in the order given, each as far left, then as low, as it goes.

    Args:
        pieces: what to lay.
        usable_mm: width and height of the usable area, whose lower left corner is the origin.
        maker: the grid and the spacing.
        taken: outlines that lie there already, solid.
        frame: what lies there already and leaves its holes free.

    Returns:
        What was laid, and the pieces that found no room, in the order given.

    """
    grid = _Grid(usable_mm, maker)
    for outline in taken:
        grid.take(maker.spans(outline, 0.0, 0.0), 0, 0)
    if frame is not None:
        grid.take(maker.spans(frame, 0.0, 0.0, solid=False), 0, 0)
    laid: list[Filled] = []
    left_over: list[Piece] = []
    for piece in pieces:
        footprints = maker.footprints(piece.outline, piece.turns_deg)
        best: tuple[float, int, int, Footprint] | None = None
        for footprint in footprints:
            place = grid.first_free(footprint)
            if place is None:
                continue
            column, row = place
            right = round(column + footprint.width_mm / maker.cell_mm, 6)
            if best is None or (right, row) < (best[0], best[2]):
                best = (right, column, row, footprint)
        if best is None:
            left_over.append(piece)
            continue
        _, column, row, footprint = best
        grid.take(footprint.spans, column, row)
        laid.append(
            Filled(
                piece.index,
                footprint.turn_deg,
                column * maker.cell_mm - footprint.left_mm,
                row * maker.cell_mm - footprint.low_mm,
            )
        )
    return laid, left_over


class _Grid:
    """The cells of one sheet, with a skirt all round that footprints may reach into."""

    def __init__(self, usable_mm: tuple[float, float], maker: FootprintMaker) -> None:
        self._usable_mm = usable_mm
        self._cell_mm = maker.cell_mm
        # A footprint in the topmost place ends within its own column: no bit spills over.
        self._stride = math.ceil(usable_mm[1] / maker.cell_mm) + 2 * maker.skirt + 2
        self._taken = 0
        self._used_columns = 0
        self._earliest: dict[Footprint, int] = {}

    def first_free(self, footprint: Footprint) -> tuple[int, int] | None:
        """Return column and row of the place farthest left, then lowest; None if there is none."""
        room_x = self._usable_mm[0] - footprint.width_mm + _FIT_SLACK_MM
        room_y = self._usable_mm[1] - footprint.height_mm + _FIT_SLACK_MM
        if room_x < 0 or room_y < 0:
            return None
        last_column = math.floor(room_x / self._cell_mm)
        last_row = math.floor(room_y / self._cell_mm)
        # The sheet only fills up: what was taken for this footprint before is still taken.
        start = self._earliest.get(footprint, 0)
        end = min(last_column, self._used_columns)
        if start > end:
            return None
        columns = end - start + 1
        blocked = self._blocked(footprint.spans, start)
        window = _repeat((1 << (last_row + 1)) - 1, self._stride, columns)
        free = window ^ (window & blocked)
        if not free:
            self._earliest[footprint] = end + 1
            return None
        column, row = divmod((free & -free).bit_length() - 1, self._stride)
        self._earliest[footprint] = column + start
        return column + start, row

    def _blocked(self, spans: Spans, start: int) -> int:
        """Return the places, from column `start` on, where a footprint would meet a taken cell."""
        taken = self._taken >> (start * self._stride)
        if not taken:
            return 0
        doubled = [taken]  # doubled[k]: a run of 2**k cells upwards meets a taken cell
        blocked = 0
        for column, row, count in spans:
            power = count.bit_length() - 1
            while len(doubled) <= power:
                last = doubled[-1]
                doubled.append(last | last >> (1 << (len(doubled) - 1)))
            run = doubled[power]
            at = column * self._stride + row
            blocked |= run >> at
            rest = count - (1 << power)
            if rest:
                blocked |= run >> (at + rest)
        return blocked

    def take(self, spans: Spans, column: int, row: int) -> None:
        """Mark the cells of a footprint laid at `column` and `row` as taken."""
        cells = 0
        for c, r, count in spans:
            cells |= ((1 << count) - 1) << (c * self._stride + r)
            self._used_columns = max(self._used_columns, c + column + 1)
        self._taken |= cells << (column * self._stride + row)


def _repeat(pattern: int, stride: int, times: int) -> int:
    """Return `pattern` set down `times` times, `stride` bits apart."""
    found, done = 0, 0
    block, size = pattern, 1
    while times:
        if times & 1:
            found |= block << (done * stride)
            done += size
        block |= block << (size * stride)
        size *= 2
        times >>= 1
    return found
