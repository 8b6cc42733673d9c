"""How far two outlines are apart: the Hausdorff distance, within a stated precision. All mm.

The *farthest distance* from outline A to outline B is the largest distance of any point of A from
the nearest point of B; the Hausdorff distance is the larger of the two directions. Corners alone
do not give it: between two corners a side of A can pass a gap between sides of B. The distance to
a single straight side is convex along a straight piece, which bounds it from its ends; pieces
whose bound can beat what is known are halved until none can.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.shapes.nearness import NearSides
from letterply.shapes.regions import Region, rings
from letterply.shapes.tolerances import LEAST_DIVISOR

__all__ = ["OutlineIndex", "farthest_mm", "hausdorff_mm", "outline_index"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_PRECISION_MM = 1e-4
"""Default precision: a hundredth of the finest tolerance anyone cuts to."""


@dataclass(frozen=True, slots=True, eq=False)
class OutlineIndex:
    """The sides of an outline, ready to be asked for the nearest one.

    Attributes:
        starts: (n, 2) float64, first corner of each side, mm, ring by ring.
        following: (n,) int64, row of the corner that each side ends in.
        sides: the sides, in the same order.

    """

    starts: _Floats
    following: _Ints
    sides: NearSides

    @property
    def ends(self) -> _Floats:
        """Second corner of each side, (n, 2) mm."""
        return self.starts[self.following]

    def runs(self) -> list[tuple[int, int]]:
        """Return the first row of each ring, and the row after its last."""
        first = np.flatnonzero(np.diff(self.following, prepend=0) < 0)
        starts = [0, *(first + 1).tolist()]
        return [
            (s, e) for s, e in zip(starts, [*starts[1:], len(self.starts)], strict=True) if s < e
        ]

    def nearest(self, points: _Floats) -> tuple[_Floats, _Ints]:
        """Return the distance of each point (m, 2) to the outline, and the row of that side."""
        return self.sides.nearest(points)

    def within(self, points: _Floats, far_mm: float) -> tuple[_Ints, _Ints, _Floats]:
        """Return which points (m, 2) lie nearer to the outline than `far_mm`.

        Returns:
            their rows (k,), the rows of the sides nearest to them (k,), and how far those are (k,).

        """
        away, sides = self.nearest(points)
        near = np.flatnonzero(away < far_mm)
        return near, sides[near], away[near]

    def nearest_on(self, points: _Floats, sides: _Ints) -> _Floats:
        """Return the place (m, 2) on the side in the row given for it that is nearest to each."""
        a = self.starts[sides]
        d = self.starts[self.following[sides]] - a
        squared = np.einsum("ij,ij->i", d, d)
        along = np.einsum("ij,ij->i", points - a, d) / np.where(squared > 0, squared, 1)
        place: _Floats = a + d * np.clip(along, 0, 1)[:, None]
        return place

    def side_distance(self, points: _Floats, sides: _Ints) -> _Floats:
        """Return the distance of each point (m, 2) to the side in the row given for it, (m,)."""
        away = self.nearest_on(points, sides) - points
        distance: _Floats = np.hypot(away[:, 0], away[:, 1])
        return distance


def outline_index(region: Region) -> OutlineIndex:
    """Return the index of a region's outline, holes included.

    Raises:
        ValueError: the region is empty.

    """
    every = rings(region)
    if not every:
        raise ValueError("an empty region has no outline")
    following: list[_Ints] = []
    first = 0
    for ring in every:
        rows = np.arange(first, first + len(ring), dtype=np.int64)
        following.append(np.roll(rows, -1))
        first += len(ring)
    starts = np.vstack(every)
    after = np.concatenate(following)
    return OutlineIndex(starts, after, NearSides.of(np.hstack((starts, starts[after]))))


def farthest_mm(
    moved: _Floats,
    following: _Ints,
    place: OutlineIndex,
    *,
    precision_mm: float = _PRECISION_MM,
    stop_above_mm: float = np.inf,
) -> float:
    """Return the largest distance of a closed outline from another one, within the precision.

    `moved` are its corners, (n, 2) mm, `following` the row in which each side ends. The answer is
    never too large, and too small by at most `precision_mm`. Once it is known to be above
    `stop_above_mm`, the search ends with what it has: a lower bound above that.
    """
    d, side = place.nearest(moved)
    largest = float(d.max())
    a, da, sa = moved, d, side
    b, db, sb = moved[following], d[following], side[following]
    while largest <= stop_above_mm:
        open_ = _bound(place, a, da, sa, b, db, sb) > largest + precision_mm
        if not open_.any():
            break
        a, da, sa = a[open_], da[open_], sa[open_]
        b, db, sb = b[open_], db[open_], sb[open_]
        m = (a + b) / 2
        dm, sm = place.nearest(m)
        largest = max(largest, float(dm.max()))
        a, da, sa = np.vstack((a, m)), np.concatenate((da, dm)), np.concatenate((sa, sm))
        b, db, sb = np.vstack((m, b)), np.concatenate((dm, db)), np.concatenate((sm, sb))
    return largest


def _bound(
    place: OutlineIndex, a: _Floats, da: _Floats, sa: _Ints, b: _Floats, db: _Floats, sb: _Ints
) -> _Floats:
    """Return what the distance along each piece from a to b cannot exceed, (n,) mm.

    The distance to the side nearest to `a` rises no faster than the straight line to its value at
    `b`, and the other way round; the lesser of the two lines is highest where they cross.
    """
    rise = place.side_distance(b, sa) - db
    fall = place.side_distance(a, sb) - da
    share = fall / np.maximum(rise + fall, LEAST_DIVISOR)
    crossing = da + (db + rise - da) * share
    length = np.hypot(*(b - a).T)
    bound: _Floats = np.maximum(np.minimum(crossing, (da + db + length) / 2), np.maximum(da, db))
    return bound


def hausdorff_mm(a: Region, b: Region, *, precision_mm: float = _PRECISION_MM) -> float:
    """Return the Hausdorff distance of two regions' outlines, within the precision.

    Two empty regions are 0 apart; an empty one is infinitely far from one that is not.

    >>> import shapely
    >>> outer, inner = shapely.box(0, 0, 10, 10), shapely.box(1, 1, 9, 9)
    >>> from letterply.shapes.regions import as_region
    >>> round(hausdorff_mm(as_region(outer), as_region(inner)), 6)  # at the corners
    1.414214

    """
    if a.is_empty or b.is_empty:
        return 0.0 if a.is_empty and b.is_empty else float("inf")
    first, second = outline_index(a), outline_index(b)
    return max(
        farthest_mm(first.starts, first.following, second, precision_mm=precision_mm),
        farthest_mm(second.starts, second.following, first, precision_mm=precision_mm),
    )
