"""What programs leave of a sheet, worked out a second way that shares no code with the proof.

A reader of a few words, and cutters stamped point by point on a fine grid. What changed programs
leave is held against what the good ones leave: only where moves that went or came could reach is
it cut again, by every move that comes there, so that a window gives what the whole sheet would.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numba
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import CutterKind

__all__ = ["Base", "harm", "moves_of", "surface"]

CELL_MM = 0.05
STEP_MM = 0.05

DEPTH_MM = 0.06
"""Depths that differ by less are the same: what the proof allows on slopes, and grain."""

CORNER_MM = 0.05 + 2 * CELL_MM
"""What the proof adds to how deep a corner may stay round, and two cells."""

EDGE_MM = 0.1
"""Cells so near to an edge are no measure: its wall may fall on either side of them."""

SPECK_MM2 = 0.06
"""Area of what may differ by more: what the proof leaves out, and a cell."""

LINE_MM = 0.25
"""Length of scribed line that may be missing, and a cell."""

LINE_WIDTH_MM = 0.4
"""As wide as the widest line, with a cell: of a drag point, or of a beam's kerf."""

HELD_SHARE, SKIN_MM2 = 0.5, 1.0
"""Share of a tab that must be left of it, and area of a skin that may be cut through."""

Heights = NDArray[np.float32]
Mask = NDArray[np.bool_]


class Move(NamedTuple):
    """A move as it was read: where from and to, mm, its motion word, its centre, the beam."""

    begin: tuple[float, float, float]
    end: tuple[float, float, float]
    mode: int
    centre: tuple[float, float]
    lit: bool


_WORD = re.compile(r"([A-Z])(-?[0-9.]+)")


def moves_of(text: str) -> Iterator[Move]:
    """Yield the moves of a program, from high above nought."""
    at = (0.0, 0.0, 50.0)
    mode, lit = 0, False
    for line in text.splitlines():
        words = dict(_WORD.findall(re.sub(r"\(.*?\)", "", line)))
        lit = words["M"] in ("3", "4") if "M" in words else lit
        if "G" in words and words["G"] in ("0", "1", "2", "3"):
            mode = int(words["G"])
        if line.startswith("G17") or not set(words) & set("XYZ"):
            continue
        x, y, z = (float(words.get(axis, at[k])) for k, axis in enumerate("XYZ"))
        to = x, y, z
        centre = at[0] + float(words.get("I", 0)), at[1] + float(words.get("J", 0))
        yield Move(at, to, mode, centre if mode > 1 else (0.0, 0.0), lit)
        at = to


def _way(move: Move, lit_mm: float) -> NDArray[np.float64]:
    """Return the points that a move passes, (n, 3); a beam that is lit is so low."""
    at, to = np.array(move.begin), np.array(move.end)
    if move.mode < 2:
        way = np.linspace(at, to, max(2, math.ceil(float(np.linalg.norm(to - at)) / STEP_MM) + 1))
    else:
        sense = 1 if move.mode == 3 else -1
        a, b = at[:2] - move.centre, to[:2] - move.centre
        first = math.atan2(a[1], a[0])
        turn = (math.atan2(b[1], b[0]) - first) * sense % (2 * math.pi)
        turn = turn if turn > 1e-9 else 2 * math.pi
        radius = float(np.hypot(*a))
        count = max(3, math.ceil(radius * turn / STEP_MM) + 1)
        angles = first + sense * turn * np.linspace(0, 1, count)
        way = np.column_stack((
            move.centre[0] + radius * np.cos(angles), move.centre[1] + radius * np.sin(angles),
            np.linspace(at[2], to[2], count),
        ))  # fmt: skip
    if lit_mm:
        way[:, 2] = -lit_mm if move.lit and move.mode else 50.0
    return way


@numba.njit(cache=False)
def _stamp(z, x0, y0, way, radius, tip, rise, cell):  # type: ignore[no-untyped-def]
    """Lower a window that begins at cell (x0, y0) to where a cutter comes on its way."""
    ny, nx = z.shape
    for i in range(way.shape[0]):
        x, y, deep = way[i]
        if deep >= 0:
            continue
        wide = min(radius, tip - deep / rise) if rise else radius  # there a cone is at the face
        rows = max(y0, int((y - wide) / cell)), min(y0 + ny, int((y + wide) / cell) + 2)
        columns = max(x0, int((x - wide) / cell)), min(x0 + nx, int((x + wide) / cell) + 2)
        for j in range(rows[0], rows[1]):
            for k in range(columns[0], columns[1]):
                if z[j - y0, k - x0] <= deep:
                    continue
                away = math.hypot((k + 0.5) * cell - x, (j + 0.5) * cell - y)
                if away <= radius:
                    height = deep + max(0.0, away - tip) * rise
                    if height < z[j - y0, k - x0]:
                        z[j - y0, k - x0] = height


class Window(NamedTuple):
    """Cells of a sheet: rows and columns from and up to."""

    low: int
    high: int
    left: int
    right: int

    @property
    def shape(self) -> tuple[int, int]:
        """Count of rows and columns."""
        return self.high - self.low, self.right - self.left

    @property
    def centres(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """X of the columns and y of the rows, mm."""
        xs = np.arange(self.left, self.right, dtype=np.float64)
        ys = np.arange(self.low, self.high, dtype=np.float64)
        return (xs + 0.5) * CELL_MM, (ys + 0.5) * CELL_MM

    def grown(self, by: int, within: Window) -> Window:
        """Return it with so many cells more on every side that lie within another."""
        return Window(
            max(self.low - by, within.low), min(self.high + by, within.high),
            max(self.left - by, within.left), min(self.right + by, within.right),
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Base:
    """A sheet with its good programs and what they leave; of a large one perhaps a part alone."""

    name: str
    plan: Any
    shop: Any
    texts: dict[str, str]
    outlines: list[shapely.Polygon]
    within: Window | None = None

    @cached_property
    def beam(self) -> bool:
        """Whether a beam cuts it."""
        return any(self.cutters[p.cutters[0]].kind is CutterKind.BEAM for p in self.plan.programs)

    @property
    def thickness(self) -> float:
        """Thickness of the sheet."""
        found: float = self.plan.sheet.stock.thickness_mm
        return found

    @cached_property
    def cutters(self) -> dict[str, Any]:
        """Return the cutters of the shop by key."""
        return {c.key: c for c in self.shop.cutters}

    def cutter(self, name: str) -> Any:
        """Return the cutter of a program."""
        return self.cutters[next(p for p in self.plan.programs if p.name == name).cutters[0]]

    @cached_property
    def whole(self) -> Window:
        """All cells: those that were said, or the sheet from its lower left to beyond its parts."""
        if self.within is not None:
            return self.within
        right, high = np.array([o.bounds for o in self.outlines])[:, 2:].max(axis=0) + 25.0
        return Window(0, math.ceil(high / CELL_MM), 0, math.ceil(right / CELL_MM))

    def part(self, field: NDArray[Any], window: Window) -> NDArray[Any]:
        """Return the part of a field that lies in a window."""
        row, column = window.low - self.whole.low, window.left - self.whole.left
        rows, columns = window.shape
        return field[row : row + rows, column : column + columns]

    @cached_property
    def moves(self) -> dict[str, Counter[Move]]:
        """The moves of each good program."""
        return {name: Counter(moves_of(text)) for name, text in self.texts.items()}

    @cached_property
    def good_cuts(self) -> dict[str, Heights]:
        """What each good program alone cuts."""
        return {name: self.cut_by(name, moves, self.whole) for name, moves in self.moves.items()}

    @cached_property
    def surface(self) -> Heights:
        """What the good programs leave."""
        left: Heights = np.minimum.reduce(list(self.good_cuts.values()))
        return left

    def cuts(self, move: Move) -> bool:
        """Whether a move may take something away."""
        return bool(move.lit and move.mode) if self.beam else min(move.begin[2], move.end[2]) < 0

    def way(self, move: Move) -> NDArray[np.float64]:
        """Return the points that a move passes on the sheet, (n, 3)."""
        way = _way(move, self.thickness if self.beam else 0.0)
        way[:, :2] += self.plan.sheet.zero_mm
        return way

    def cut_by(self, name: str, moves: Iterable[Move], window: Window) -> Heights:
        """Return what moves of a program cut in a window, heights on the grid."""
        z = np.zeros(window.shape, dtype=np.float32)
        cutter = self.cutter(name)
        pointed = cutter.included_angle_deg > 0
        rise = 1 / math.tan(math.radians(cutter.included_angle_deg / 2)) if pointed else 0.0
        tip = cutter.tip_diameter_mm / 2 if pointed else cutter.diameter_mm / 2
        for move in moves:
            if self.cuts(move):
                way = self.way(move)
                box = _cells(way, cutter.diameter_mm / 2)
                if (box.low < window.high and box.high > window.low
                        and box.left < window.right and box.right > window.left):  # fmt: skip
                    radius = cutter.diameter_mm / 2
                    _stamp(z, window.left, window.low, way, radius, tip, rise, CELL_MM)
        # Where the sheet is cut through, how deep the spoil board is cut is no matter.
        return np.maximum(z, np.float32(-self.thickness))

    @cached_property
    def bounds(self) -> tuple[Heights, Heights]:
        """Between what cells of a surface that is as good may lie: lowest and highest."""
        # A wall or a slope may lie a cell to either side, as the edge of a part may.
        low = ndimage.minimum_filter(self.surface, 3) - np.float32(DEPTH_MM)
        return low, ndimage.maximum_filter(self.surface, 3) + np.float32(DEPTH_MM)

    def on_parts(self, by_mm: float) -> Mask:
        """Return the cells within the parts, grown by so much."""
        found = np.zeros(self.whole.shape, dtype=bool)
        for outline in self.outlines:
            found |= _contains(outline.buffer(by_mm) if by_mm else outline, *self.whole.centres)
        return found

    @cached_property
    def inner(self) -> Mask:
        """Cells on the parts, but those of their edges."""
        return self.on_parts(-EDGE_MM)

    @cached_property
    def near(self) -> Mask:
        """Cells on the parts and a millimetre beside them."""
        return self.on_parts(1.0)

    @cached_property
    def off(self) -> Mask:
        """Cells a millimetre beside the parts at most."""
        off: Mask = self.near & ~self.on_parts(0.0)
        return off

    @cached_property
    def drawn(self) -> Mask:
        """Cells beside drawn lines; those of a beam are the outlines."""
        lines = [ln for p in self.plan.sheet.parts for s in p.part.scribes for ln in s.lines]
        if self.beam:
            lines = [o.boundary for o in self.outlines]
        if not lines:
            return np.zeros(self.whole.shape, dtype=bool)
        return _contains(shapely.union_all(lines).buffer(0.3), *self.whole.centres)

    @property
    def held_mm(self) -> float:
        """What stands higher still holds."""
        return -self.thickness + 0.1

    @cached_property
    def tabs(self) -> tuple[NDArray[Any], NDArray[Any]]:
        """The number of the tab that stands at each cell beside the parts, and cells by tab."""
        numbers, count = ndimage.label(self.off & (self.surface > self.held_mm))
        return numbers, np.bincount(numbers.ravel(), minlength=count + 1)

    @cached_property
    def crowns(self) -> Heights:
        """How high the tab is that stands at each cell; below the sheet where none does."""
        numbers, sizes = self.tabs
        tops = ndimage.maximum(self.surface, numbers, np.arange(len(sizes)))
        tops[0] = -np.inf
        crowns: Heights = tops.astype(np.float32)[numbers]
        return crowns


def _contains(region: BaseGeometry, xs: NDArray[Any], ys: NDArray[Any]) -> Mask:
    """Return which places of a grid lie in a region."""
    found = np.zeros((len(ys), len(xs)), dtype=bool)
    left, low, right, high = region.bounds
    rows = slice(*np.searchsorted(ys, (low, high)) + (0, 1))
    columns = slice(*np.searchsorted(xs, (left, right)) + (0, 1))
    shapely.prepare(region)
    found[rows, columns] = shapely.contains_xy(region, *np.meshgrid(xs[columns], ys[rows]))
    return found


def _cells(way: NDArray[np.float64], radius: float) -> Window:
    """Return cells that a cutter on its way may reach, a cell more on every side."""
    (left, low), (right, high) = way[:, :2].min(axis=0) - radius, way[:, :2].max(axis=0) + radius
    return Window(*(math.floor(v / CELL_MM) + by
                    for v, by in ((low, -1), (high, 3), (left, -1), (right, 3))))  # fmt: skip


def surface(of: Base, texts: dict[str, str], window: Window | None = None) -> Heights:
    """Return what programs leave of a sheet, in a window of it."""
    window = window or of.whole
    cuts = [
        of.part(of.good_cuts[name], window)
        if texts.get(name) == text
        else of.cut_by(name, moves_of(texts[name]), window)
        for name, text in of.texts.items()
    ]
    left: Heights = np.minimum.reduce(cuts)
    return left


def touched(of: Base, texts: dict[str, str]) -> Window | None:
    """Return cells that moves could reach which the good programs have not, or have beside these.

    With as much round them as a corner may be away from what is cut; None where nothing changed.
    """
    boxes = []
    for name, good in of.texts.items():
        if texts[name] == good:
            continue
        changed, radius = Counter(moves_of(texts[name])), of.cutter(name).diameter_mm / 2
        differ = (changed - of.moves[name]) + (of.moves[name] - changed)
        boxes += [_cells(of.way(move), radius) for move in differ if of.cuts(move)]
    if not boxes:
        return None
    more = math.ceil((of.shop.detail_mm + CORNER_MM) / CELL_MM) + 2
    lows, highs, lefts, rights = zip(*boxes, strict=True)
    found = Window(min(lows), max(highs), min(lefts), max(rights)).grown(more, of.whole)
    return found if found.low < found.high and found.left < found.right else None


def harm(of: Base, texts: dict[str, str], *, everywhere: bool = False) -> str:
    """Return in what way changed programs spoil the parts; empty when they do not.

    All that is asked is asked of cells where what is left differs from what the good programs
    leave, and of what is cut so near to them as a corner may be: a window round what changed
    tells as much as all cells, which are looked at when it is said.
    """
    window = of.whole if everywhere else touched(of, texts)
    if window is None:
        return ""
    left, good = surface(of, texts, window), of.part(of.surface, window)
    low, high = (of.part(bound, window) for bound in of.bounds)
    inner, drawn = of.part(of.inner, window), of.part(of.drawn, window)
    deep = inner & (left < low)
    if deep.sum() * CELL_MM**2 > SPECK_MM2:
        return f"{deep.sum() * CELL_MM**2:.2f} mm2 of a part are too deep"
    stays = (inner | of.part(of.off, window)) & (left > high) & ~drawn
    # The ends of a tab may be steeper: what holds is its foot, and how high it is.
    stays &= left > of.part(of.crowns, window) + DEPTH_MM
    if stays.sum() * CELL_MM**2 > SPECK_MM2:
        cut = (good < -DEPTH_MM) & (left - good <= DEPTH_MM)
        behind = np.where(stays, ndimage.distance_transform_edt(~cut, sampling=CELL_MM), 0.0)
        if not cut.any() or behind.max() > of.shop.detail_mm + CORNER_MM:
            return f"{stays.sum() * CELL_MM**2:.2f} mm2 stay, {behind.max():.2f} mm behind or more"
    missing = drawn & (of.part(of.near, window) if of.beam else inner) & (left - good > DEPTH_MM)
    if missing.sum() * CELL_MM**2 > LINE_MM * LINE_WIDTH_MM:
        return f"{missing.sum() * CELL_MM**2:.2f} mm2 of lines are missing"
    return "" if of.beam else _let_go(of, left, window)


def _let_go(of: Base, left: Heights, window: Window) -> str:
    """Return what of tabs and skin is gone beside the parts."""
    numbers, sizes = of.tabs
    if of.plan.hold_down == "skin":
        gone = ((of.part(numbers, window) > 0) & (left < of.held_mm)).sum() * CELL_MM**2
        return f"{gone:.1f} mm2 of the skin are cut through" if gone > SKIN_MM2 else ""
    fallen = of.part(numbers, window)[left <= of.held_mm]
    kept = sizes - np.bincount(fallen, minlength=len(sizes))
    lost = (kept < HELD_SHARE * sizes) & (sizes * CELL_MM**2 > 1.0)
    return f"{lost[1:].sum()} tabs are gone" if lost[1:].any() else ""
