"""Marks of parts in pictures of sheets: where each is read and covers nothing that is cut.

Parts in, labels out. A mark stands on its part where there is room clear of its outline and of
all that is worked into it; otherwise beside the part on free stock, with a leader; and where the
sheet has no free place left, to the right of it. Lengths mm, sheet frame, y up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.exports.primitives.captions import INK, caption
from letterply.exports.primitives.numbers import number
from letterply.exports.primitives.outlined_text import text_width
from letterply.exports.primitives.views import Frame
from letterply.shapes import ROUNDING, SAME_MM
from letterply.sheets import PlacedPart
from letterply.stacks import Part

__all__ = ["PartLabel", "draw_labels", "place_labels"]

_SLENDER = 1.4
"""A part so many times as long as broad has its mark along it; others have it level."""

_LEVEL_DEG = 0.01
_LARGEST, _LEAST, _BESIDE = 0.85, 0.45, 0.6
"""Sizes of marks, in sizes of the text."""

_CLEAR = 0.15
"""Distance of a mark from what is cut, in its own size."""

_TRIED = 160
_CELLS = 300
"""Cells along the longer side of the grid on which free stock is looked for, at most."""

Box = tuple[float, float, float, float]
_Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class PartLabel:
    """A mark and where it stands.

    Attributes:
        text: the mark.
        ground: what it covers.
        size_mm: of its letters.
        angle_deg: how it is turned, counter-clockwise.
        leader: from the mark to its part; None where it stands on the part.

    """

    text: str
    ground: Polygon
    size_mm: float
    angle_deg: float = 0.0
    leader: LineString | None = None


def place_labels(parts: Sequence[PlacedPart], bounds: Box, unit: float) -> tuple[PartLabel, ...]:
    """Return a label for each part, in their order.

    Args:
        parts: on a sheet.
        bounds: what is shown of the sheet; labels stand in it, or to the right of it.
        unit: size of the text of the picture.

    """
    found = [_on_part(placed, unit) for placed in parts]
    if all(label is not None for label in found):
        return tuple(label for label in found if label is not None)
    free = _FreeStock(parts, bounds, unit, [p.mark for p, la in zip(parts, found, strict=True)
                                            if la is None])  # fmt: skip
    for label in found:
        if label is not None:
            free.take(label.ground)
    return tuple(
        label if label is not None else free.beside(placed)
        for placed, label in zip(parts, found, strict=True)
    )


def draw_labels(labels: Sequence[PartLabel], frame: Frame) -> list[str]:
    """Return the labels, each on a pale ground."""
    return [line for label in labels for line in _draw(label, frame)]


def _draw(label: PartLabel, frame: Frame) -> list[str]:
    size, found = label.size_mm, []
    if label.leader is not None:
        ends = shapely.get_coordinates(label.leader)
        (x0, y0), (x1, y1) = ((frame.left_mm + a, frame.top_mm - b) for a, b in ends.tolist())
        found.append(
            f'<path d="M{number(x0, 2)} {number(y0, 2)}L{number(x1, 2)} {number(y1, 2)}" '
            f'fill="none" stroke="{INK}" stroke-width="{number(0.1 * size, 3)}"/>'
        )
        found.append(
            f'<circle cx="{number(x1, 2)}" cy="{number(y1, 2)}" r="{number(0.2 * size, 3)}" '
            f'fill="{INK}"/>'
        )
    at = label.ground.centroid
    x, y = at.x + frame.left_mm, frame.top_mm - at.y
    half = _half(label.text, size)
    turn = f' transform="rotate({number(-label.angle_deg, 2)} {number(x, 2)} {number(y, 2)})"'
    return [
        *found,
        f"<g{turn if abs(label.angle_deg) > _LEVEL_DEG else ''}>",
        f'<rect x="{number(x - half, 2)}" y="{number(y - 0.75 * size, 2)}" '
        f'width="{number(2 * half, 2)}" height="{number(1.5 * size, 2)}" '
        f'rx="{number(0.4 * size, 2)}" fill="#FFFFFF" fill-opacity="0.82"/>',
        caption(label.text, size, x, y + 0.34 * size, anchor="middle", bold=True),
        "</g>",
    ]


def _half(text: str, size: float) -> float:
    return (text_width(text, 1.0, bold=True) + 0.8) * size / 2


def _ground(x: float, y: float, half: float, size: float) -> Polygon:
    return shapely.box(x - half, y - 0.75 * size, x + half, y + 0.75 * size)


def _on_part(placed: PlacedPart, unit: float) -> PartLabel | None:
    """Return a label on the part itself, along its longer side; None without room for one."""
    outline = placed.part.outline
    long, broad, angle = _lie(outline)
    wide = text_width(placed.mark, 1.0, bold=True)
    largest = min(_LARGEST * unit, 0.9 * long / (wide + 1), 0.35 * broad)
    clear = outline.difference(_worked(placed.part))
    for size in (largest, 0.75 * largest, 0.55 * largest):
        if size < _LEAST * unit:
            return None
        room = clear.buffer(-_CLEAR * size)
        if room.is_empty:
            continue
        shapely.prepare(room)
        half = _half(placed.mark, size)
        at = shapely.get_coordinates(shapely.maximum_inscribed_circle(room, tolerance=size / 4))[0]
        spots = np.vstack((at, _spots(room, at)))
        base = rotate(_ground(0.0, 0.0, half, size), angle, origin=(0, 0))
        corners = shapely.get_coordinates(base)
        grounds = shapely.polygons(corners[None] + spots[:, None])
        fits = np.flatnonzero(shapely.contains(room, grounds))
        if len(fits):
            return PartLabel(placed.mark, grounds[int(fits[0])], size, angle)
    return None


def _spots(room: BaseGeometry, middle: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points in a region, (n, 2), the nearest to its roomiest place first."""
    left, low, right, high = room.bounds
    step = max(math.sqrt((right - left) * (high - low) / _TRIED), SAME_MM)
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(low, high, step))
    points = np.column_stack((x.ravel(), y.ravel()))
    points = points[np.asarray(shapely.contains_xy(room, points[:, 0], points[:, 1]))]
    order = np.argsort(np.hypot(*(points - middle).T), kind="stable")
    return points[order]


def _lie(outline: Polygon) -> tuple[float, float, float]:
    """Return length and breadth of a part, and the angle at which its mark is read, degrees."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))[:4]
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(*sides.T)
    long, broad = float(lengths.max()), float(lengths.min())
    if long < _SLENDER * broad:
        left, low, right, high = outline.bounds
        return right - left, high - low, 0.0
    along = sides[int(lengths.argmax())] / long
    if along[0] < -ROUNDING or (abs(along[0]) <= ROUNDING and along[1] < 0):
        along = -along  # read from the left, or from below
    return long, broad, math.degrees(math.atan2(along[1], along[0]))


def _worked(part: Part) -> BaseGeometry:
    """Return the area of all that is worked into a part."""
    found: list[BaseGeometry] = [p.region for p in part.pockets]
    found += [g.region for g in part.grooves]
    found += [shapely.MultiLineString(list(s.lines)).buffer(0.3) for s in part.scribes]
    found += [shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2) for h in part.holes]
    return shapely.union_all(found)


class _FreeStock:
    """A grid over what is shown and a strip to the right of it, with what is taken of it."""

    def __init__(
        self, parts: Sequence[PlacedPart], bounds: Box, unit: float, marks: Sequence[str]
    ) -> None:
        self._size = _BESIDE * unit
        left, low, right, high = bounds
        self._shown = bounds
        strip = 2 * max(_half(mark, self._size) for mark in marks) + 2 * self._size
        self._cell = max(self._size / 3, max(right - left, high - low) / _CELLS)
        nx = math.ceil((right - left + strip) / self._cell)
        # Room for one more mark than there are, below one another, if it comes to that.
        ny = max(
            math.ceil((high - low) / self._cell),
            math.ceil(2.2 * self._size * (len(marks) + 1) / self._cell),
        )
        self._left, self._top = left, high
        self._tree = shapely.STRtree([p.part.outline for p in parts])
        self._outlines = [p.part.outline for p in parts]
        x = left + (np.arange(nx) + 0.5) * self._cell
        y = high - (np.arange(ny) + 0.5) * self._cell
        gx, gy = np.meshgrid(x, y)
        covered = shapely.union_all([p.part.outline for p in parts]).buffer(self._cell)
        shapely.prepare(covered)
        taken: _Mask = np.asarray(shapely.contains_xy(covered, gx, gy))
        self._inside = np.broadcast_to(x[None, :] < right, taken.shape) & (gy > low)
        self._taken = taken

    def take(self, ground: Polygon) -> None:
        """Note that a label stands there."""
        left, low, right, high = ground.bounds
        columns = slice(*self._cells(left - self._left, right - self._left))
        rows = slice(*self._cells(self._top - high, self._top - low))
        self._taken[rows, columns] = True

    def _cells(self, start: float, end: float) -> tuple[int, int]:
        return max(0, math.floor(start / self._cell)), max(0, math.ceil(end / self._cell))

    def beside(self, placed: PlacedPart) -> PartLabel:
        """Return a label on the nearest free stock, or to the right where there is none."""
        size = self._size
        half = _half(placed.mark, size)
        wide, tall = (math.ceil(v / self._cell) + 1 for v in (2 * half, 1.5 * size))
        spots = self._free(self._taken | ~self._inside, wide, tall)
        if not len(spots):
            spots = self._free(self._taken | self._inside, wide, tall)
        x = self._left + (spots[:, 1] + wide / 2) * self._cell
        y = self._top - (spots[:, 0] + tall / 2) * self._cell
        left, low, right, high = placed.part.outline.bounds
        near = np.hypot(
            np.maximum(np.maximum(left - x, x - right), 0),
            np.maximum(np.maximum(low - y, y - high), 0),
        )
        first = np.argsort(near, kind="stable")[:_TRIED]
        grounds = shapely.box(x[first] - half, y[first] - 0.75 * size,
                              x[first] + half, y[first] + 0.75 * size)  # fmt: skip
        outline = placed.part.outline
        order = np.argsort(shapely.distance(outline, grounds), kind="stable")
        leaders = shapely.shortest_line(grounds[order], outline)
        crossed = [self._crosses(leader, outline) for leader in leaders]
        best = crossed.index(False) if False in crossed else 0
        ground = grounds[order[best]]
        self.take(ground)
        return PartLabel(placed.mark, ground, size, leader=_into(leaders[best], size))

    def _free(self, taken: _Mask, wide: int, tall: int) -> NDArray[np.int64]:
        """Return row and column of every window of cells that nothing is in, (n, 2)."""
        sums = np.pad(taken.astype(np.int32).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
        if sums.shape[0] <= tall or sums.shape[1] <= wide:
            return np.empty((0, 2), np.int64)
        windows = sums[tall:, wide:] - sums[:-tall, wide:] - sums[tall:, :-wide]
        windows += sums[:-tall, :-wide]
        return np.argwhere(windows == 0)

    def _crosses(self, leader: LineString, own: Polygon) -> bool:
        hits = self._tree.query(leader, predicate="intersects")
        return any(self._outlines[int(i)] is not own for i in hits)


def _into(leader: LineString, size: float) -> LineString:
    """Return the leader drawn on a little into its part."""
    (x0, y0), (x1, y1) = shapely.get_coordinates(leader).tolist()
    length = math.hypot(x1 - x0, y1 - y0)
    if length < ROUNDING:
        return leader
    more = 1 + 0.35 * size / length
    return LineString([(x0, y0), (x0 + more * (x1 - x0), y0 + more * (y1 - y0))])
