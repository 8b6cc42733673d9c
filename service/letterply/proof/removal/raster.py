"""Regions and lines in, masks and exact distances at the centres of cells out.

A cell belongs to a region when its centre does (even-odd over all rings; regions are clean, so
that is their inside). Distances are Euclidean, exact at the centres, found through a grid of
buckets of edges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.proof.model import HeightField
from letterply.proof.removal.kernels import Grid, kernel

__all__ = [
    "Bucketed",
    "Window",
    "bucketed",
    "distances",
    "edges_of",
    "fill",
    "sides_near",
    "window_of",
]

_BUCKET_MM = 1.0
_MAX_BUCKETS = 4_000_000


@dataclass(frozen=True, slots=True)
class Window:
    """A rectangle of cells of a field.

    Attributes:
        left, low: corner of the window, mm.
        cell_mm: width of a cell.
        rows, columns: slices of the field's array.

    """

    left: float
    low: float
    cell_mm: float
    rows: slice
    columns: slice

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows.stop - self.rows.start, self.columns.stop - self.columns.start

    @property
    def grid(self) -> Grid:
        """The window's cells for compiled code."""
        return Grid(self.left, self.low, self.cell_mm)


def window_of(
    field: HeightField, bounds: tuple[float, float, float, float], margin_mm: float = 0.0
) -> Window:
    """Return the cells that a box and a margin touch; empty when it lies outside the field."""
    ny, nx = field.z.shape
    left, low = field.origin
    cell = field.cell_mm
    x0 = min(max(math.floor((bounds[0] - margin_mm - left) / cell), 0), nx)
    y0 = min(max(math.floor((bounds[1] - margin_mm - low) / cell), 0), ny)
    x1 = max(min(math.ceil((bounds[2] + margin_mm - left) / cell), nx), x0)
    y1 = max(min(math.ceil((bounds[3] + margin_mm - low) / cell), ny), y0)
    return Window(left + x0 * cell, low + y0 * cell, cell, slice(y0, y1), slice(x0, x1))


def edges_of(geometry: BaseGeometry) -> NDArray[np.float64]:
    """Return all edges of the rings or lines of a geometry, (n, 4) float64: x, y to x, y."""
    lines = shapely.get_parts(shapely.boundary(geometry) if geometry.area > 0 else geometry)
    coords, index = shapely.get_coordinates(lines, return_index=True)
    same = index[1:] == index[:-1]
    edges: NDArray[np.float64] = np.hstack([coords[:-1], coords[1:]])[same]
    return edges


def fill(window: Window, region: BaseGeometry) -> NDArray[np.bool_]:
    """Return which cells of a window have their centre inside a region, in the window's shape."""
    ny, nx = window.shape
    parity = np.zeros((ny, nx + 1), dtype=np.uint8)
    if ny and nx and not region.is_empty:
        _toggle(parity, window.grid, edges_of(region))
    return parity[:, :nx].view(np.bool_)


@kernel
def _toggle(parity: NDArray[np.uint8], grid: Grid, edges: NDArray[np.float64]) -> None:
    ny, nx = parity.shape[0], parity.shape[1] - 1
    for i in range(edges.shape[0]):
        xa, ya, xb, yb = edges[i, 0], edges[i, 1], edges[i, 2], edges[i, 3]
        if ya > yb:
            xa, ya, xb, yb = xb, yb, xa, ya
        # Half open: an end that two edges share counts once, whatever its rounding.
        first = max(0, math.ceil((ya - grid.low) / grid.cell - 0.5))
        stop = min(ny, math.ceil((yb - grid.low) / grid.cell - 0.5))
        for j in range(first, stop):
            y = grid.low + (j + 0.5) * grid.cell
            x = xa + (y - ya) / (yb - ya) * (xb - xa)
            k = math.ceil((x - grid.left) / grid.cell - 0.5)
            parity[j, min(max(k, 0), nx)] ^= 1
    for j in range(ny):
        state = 0
        for k in range(nx):
            state ^= parity[j, k]
            parity[j, k] = state


def distances(
    window: Window,
    mask: NDArray[np.bool_],
    edges: NDArray[np.float64],
    *,
    cap_mm: float,
) -> NDArray[np.float32]:
    """Return the distance of the masked cells to the nearest edge, never more than a cap.

    Args:
        window: the cells.
        mask: cells to measure, in the window's shape; the others get 0.
        edges: (n, 4) float64, mm; none gives the cap.
        cap_mm: distance beyond which nothing more is asked; may be infinite when there are edges.

    """
    out = np.zeros(window.shape, dtype=np.float32)
    if not mask.any():
        return out
    if not len(edges):
        out[mask] = cap_mm
        return out
    _measure(out, mask, window.grid, edges, bucketed(edges).buckets, float(cap_mm))
    return out


def bucketed(edges: NDArray[np.float64]) -> Bucketed:
    """Return edges, (n, 4) float64, one at least, by the squares that they touch."""
    x, y = edges[:, 0::2], edges[:, 1::2]
    x0, y0, x1, y1 = x.min(), y.min(), x.max(), y.max()
    size = max(_BUCKET_MM, math.sqrt((x1 - x0 + 1) * (y1 - y0 + 1) / _MAX_BUCKETS))
    nbx, nby = int((x1 - x0) / size) + 1, int((y1 - y0) / size) + 1
    return Bucketed(edges, _into_buckets(edges, x0, y0, size, nbx, nby))


def sides_near(
    starts: NDArray[np.float64], ends: NDArray[np.float64], edges: Bucketed, limit_mm: float
) -> NDArray[np.bool_]:
    """Return which segments, (m, 2 or more) from start to end, come so near to an edge, (m,)."""
    near: NDArray[np.bool_] = np.zeros(len(starts), dtype=np.bool_)
    lines = np.ascontiguousarray(np.hstack((starts[:, :2], ends[:, :2])))
    _sides_near(near, lines, edges.edges, edges.buckets, float(limit_mm))
    return near


class _Buckets(NamedTuple):
    """Edges by the squares that their boxes touch.

    Attributes:
        x0, y0: corner of the first square.
        size: width of a square.
        nbx, nby: columns and rows of squares.
        begins: (nbx * nby + 1,) where each square begins among the members.
        members: numbers of edges.

    """

    x0: float
    y0: float
    size: float
    nbx: int
    nby: int
    begins: NDArray[np.int64]
    members: NDArray[np.int64]


class Bucketed(NamedTuple):
    """Edges, (n, 4) float64, and where they lie."""

    edges: NDArray[np.float64]
    buckets: _Buckets


@kernel
def _into_buckets(
    edges: NDArray[np.float64], x0: float, y0: float, size: float, nbx: int, nby: int
) -> _Buckets:
    begins = np.zeros(nbx * nby + 1, dtype=np.int64)
    members = np.zeros(0, dtype=np.int64)
    nexts = begins
    for placing in (False, True):  # counted first, so that each bucket has its room
        for i in range(edges.shape[0]):
            xa, ya, xb, yb = edges[i, 0], edges[i, 1], edges[i, 2], edges[i, 3]
            for q in range(int((min(ya, yb) - y0) / size), int((max(ya, yb) - y0) / size) + 1):
                for p in range(int((min(xa, xb) - x0) / size), int((max(xa, xb) - x0) / size) + 1):
                    b = q * nbx + p
                    if placing:
                        members[nexts[b]] = i
                        nexts[b] += 1
                    else:
                        begins[b + 1] += 1
        if not placing:
            begins = np.cumsum(begins)
            nexts = begins.copy()
            members = np.zeros(begins[-1], dtype=np.int64)
    return _Buckets(x0, y0, size, nbx, nby, begins, members)


@kernel
def _squared(x: float, y: float, xa: float, ya: float, xb: float, yb: float) -> float:
    dx, dy = xb - xa, yb - ya
    long2 = dx * dx + dy * dy
    t = 0.0
    if long2 > 0:
        t = min(max(((x - xa) * dx + (y - ya) * dy) / long2, 0.0), 1.0)
    ex, ey = x - xa - t * dx, y - ya - t * dy
    return ex * ex + ey * ey


@kernel
def _measure(
    out: NDArray[np.float32],
    mask: NDArray[np.bool_],
    grid: Grid,
    edges: NDArray[np.float64],
    buckets: _Buckets,
    cap: float,
) -> None:
    x0, y0, size, nbx, nby, begins, members = buckets
    near = 0
    for j in range(out.shape[0]):
        y = grid.low + (j + 0.5) * grid.cell
        for k in range(out.shape[1]):
            if not mask[j, k]:
                continue
            x = grid.left + (k + 0.5) * grid.cell
            # The edge nearest to the cell before bounds the search at once.
            best = _squared(x, y, edges[near, 0], edges[near, 1], edges[near, 2], edges[near, 3])
            best = min(best, cap * cap)
            r = math.sqrt(best)
            p0 = max(0, math.floor((x - r - x0) / size))
            p1 = min(nbx - 1, math.floor((x + r - x0) / size))
            q0 = max(0, math.floor((y - r - y0) / size))
            q1 = min(nby - 1, math.floor((y + r - y0) / size))
            for q in range(q0, q1 + 1):
                gap_y = max(0.0, y0 + q * size - y, y - (y0 + (q + 1) * size))
                for p in range(p0, p1 + 1):
                    begin, end = begins[q * nbx + p], begins[q * nbx + p + 1]
                    if begin == end:
                        continue
                    gap_x = max(0.0, x0 + p * size - x, x - (x0 + (p + 1) * size))
                    if gap_x * gap_x + gap_y * gap_y > best:
                        continue
                    for m in range(begin, end):
                        i = members[m]
                        d = _squared(x, y, edges[i, 0], edges[i, 1], edges[i, 2], edges[i, 3])
                        if d < best:
                            best = d
                            near = i
            out[j, k] = math.sqrt(best)


@kernel
def _cross(lines: NDArray[np.float64], i: int, edges: NDArray[np.float64], e: int) -> bool:
    """Whether the ends of each lie on different sides of the other, or one on it."""
    ax, ay, bx, by = lines[i, 0], lines[i, 1], lines[i, 2], lines[i, 3]
    px, py, qx, qy = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
    p = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
    q = (bx - ax) * (qy - ay) - (by - ay) * (qx - ax)
    a = (qx - px) * (ay - py) - (qy - py) * (ax - px)
    b = (qx - px) * (by - py) - (qy - py) * (bx - px)
    cross: bool = p * q <= 0 and a * b <= 0
    return cross


@kernel
def _sides_near(
    near: NDArray[np.bool_],
    lines: NDArray[np.float64],
    edges: NDArray[np.float64],
    buckets: _Buckets,
    limit: float,
) -> None:
    x0, y0, size, nbx, nby, begins, members = buckets
    most = limit * limit
    for i in range(lines.shape[0]):
        ax, ay, bx, by = lines[i, 0], lines[i, 1], lines[i, 2], lines[i, 3]
        p0 = max(0, math.floor((min(ax, bx) - limit - x0) / size))
        p1 = min(nbx - 1, math.floor((max(ax, bx) + limit - x0) / size))
        q0 = max(0, math.floor((min(ay, by) - limit - y0) / size))
        q1 = min(nby - 1, math.floor((max(ay, by) + limit - y0) / size))
        for q in range(q0, q1 + 1):
            for p in range(p0, p1 + 1):
                if near[i]:
                    break
                for m in range(begins[q * nbx + p], begins[q * nbx + p + 1]):
                    e = members[m]
                    xa, ya, xb, yb = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
                    # Two lines that do not cross are nearest at an end of one of them.
                    if (
                        _squared(ax, ay, xa, ya, xb, yb) <= most
                        or _squared(bx, by, xa, ya, xb, yb) <= most
                        or _squared(xa, ya, ax, ay, bx, by) <= most
                        or _squared(xb, yb, ax, ay, bx, by) <= most
                        or _cross(lines, i, edges, e)
                    ):
                        near[i] = True
                        break
