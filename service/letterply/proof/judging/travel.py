"""Moves and machine in, what is wrong with the way between cuts out.

Between cuts a cutter travels at the machine's safe height, over the sheet, and a program ends up
there: clamps, screws and parts that stand proud are lower. A beam travels at the face.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.proof.judging.reporting import BITE_MM, Judge
from letterply.shapes import SAME_MM
from letterply.units import about_mm, format_mm

__all__ = ["EDGE_MM", "Travel", "beyond_stock"]

EDGE_MM = 1.0
"""How far the side of a cutter may pass the edge of the sheet."""

_HEIGHT_MM = 0.01
"""Rounding of heights: an inch with four decimals."""

_AIR_MM = 0.05
"""Height over the face from which on a move at feed cuts nothing and is a way like any other."""


class Travel(Judge):
    """Judges heights and bounds of travel; see `letterply.proof.judging.conduct`."""

    def judge(self) -> None:
        """Find travel too low, at depth or outside the sheet, and programs that do not lift."""
        safe = self.machine.safe_height_mm
        heights = np.stack([self.moves.starts[:, 2], self.moves.ends[:, 2]])
        low = heights.min(axis=0)
        with np.errstate(invalid="ignore"):
            sideways = (self.plane > SAME_MM) & ~self.beam & (low < safe - _HEIGHT_MM)
            deep = sideways & ~self.feed_move & (low < -BITE_MM)
            through_air = sideways & self.feed_move & (low > _AIR_MM)
        self.report(
            "rapid-at-depth",
            deep,
            lambda i: (
                f"the machine travels sideways at rapid speed {about_mm(-low[i])} below the face"
            ),
            rank=-low,
            limit=0.0,
        )
        self.report(
            "low-travel",
            (sideways & ~self.feed_move & ~deep) | through_air,
            lambda i: (
                f"the cutter travels {about_mm(max(low[i], 0.0))} over the sheet; it clears what "
                f"holds the sheet from {format_mm(safe)} on"
            ),
            rank=-low,
            limit=-safe,
        )
        self._lifts(safe)
        out = np.maximum(self._outside(self.moves.starts), self._outside(self.moves.ends))
        self.report(
            "travel-outside",
            self.known & ~self.beam & (out > EDGE_MM) & ~(self.feed_move & self.below()),
            lambda i: f"the cutter travels {about_mm(out[i])} beyond the edge of the sheet",
            rank=out,
            limit=EDGE_MM,
        )

    def _lifts(self, safe: float) -> None:
        """Find cutters that are still down when their program, or their turn in it, ends."""
        turns = np.stack([self.toolpath.program, self.moves.tools])
        last = np.ones(len(self.moves), dtype=np.bool_)
        last[:-1] = (turns[:, 1:] != turns[:, :-1]).any(axis=0)
        height = self.moves.ends[:, 2]
        with np.errstate(invalid="ignore"):
            down = last & ~self.beam & (height < safe - _HEIGHT_MM)
        self.report(
            "no-lift",
            down,
            lambda i: (
                f"the program leaves the cutter at {format_mm(round(float(height[i]), 3))}, and "
                f"not at the height of {format_mm(safe)} over the sheet"
            ),
        )

    def _outside(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far the side of the cutter reaches beyond the sheet or the blanks, (n,)."""
        radii = np.array([p.radius_mm for p in self.toolpath.profiles] + [0.0])
        away = beyond_stock(self, points)
        known: NDArray[np.float64] = np.where(
            np.isfinite(away), away - radii[self.toolpath.cutter], 0.0
        )
        return known


def beyond_stock(judge: Judge, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far points, (n, 3), lie beyond the sheet or the hull of its blanks, mm."""
    if judge.blanks is None:
        size = np.array([judge.stock.width_mm, judge.stock.height_mm])
        beside = np.maximum(np.maximum(-points[:, :2], points[:, :2] - size), 0)
        away: NDArray[np.float64] = np.hypot(beside[:, 0], beside[:, 1])
        return away
    hull = shapely.convex_hull(judge.blanks)
    known = np.isfinite(points[:, :2]).all(axis=1)
    found = np.full(len(points), np.nan)
    found[known] = shapely.distance(hull, shapely.points(points[known, :2]))
    return found
