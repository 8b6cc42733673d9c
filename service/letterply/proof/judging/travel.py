"""Moves and machine in, what is wrong with the way between cuts out.

Between cuts a cutter travels at the machine's safe height, over the sheet, and a program ends up
there: clamps, screws and parts that stand proud are lower. A beam travels at the face.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.proof.judging.reporting import BITE_MM, Judge
from letterply.shapes import SAME_MM
from letterply.sheets import work_zero
from letterply.units import about_mm, format_mm

__all__ = ["EDGE_MM", "Travel", "beyond_stock"]

EDGE_MM = 1.0
"""How far the side of a cutter may pass the edge of the sheet."""

_HEIGHT_MM = 0.01
"""Rounding of heights: an inch with four decimals."""

_INTO_MM = 0.02
"""Rounding, and the sagitta of a chord: how far a cutter may seem to be in a place."""

_AIR_MM = 0.05
"""Height over the face from which on a move at feed cuts nothing and is a way like any other."""


class Travel(Judge):
    """Judges heights and bounds of travel; see `letterply.proof.judging.conduct`."""

    def judge(self) -> None:
        """Find travel too low, at depth or outside the sheet, and programs that do not lift."""
        safe = self.machine.safe_height_mm
        heights = np.stack([self.moves.starts[:, 2], self.moves.ends[:, 2]])
        low = heights.min(axis=0)
        # From a place that is not known it may be any way.
        found = np.isnan(self.moves.starts[:, :2]) & np.isfinite(self.moves.ends[:, :2])
        with np.errstate(invalid="ignore"):
            sideways = (self.plane > SAME_MM) | found.any(axis=1)
            sideways &= ~self.beam & (low < safe - _HEIGHT_MM)
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
        self.places()
        out = np.maximum(self._outside(self.moves.starts), self._outside(self.moves.ends))
        self.report(
            "travel-outside",
            self.known & ~self.beam & (out > EDGE_MM) & ~(self.feed_move & self.below()),
            lambda i: f"the cutter travels {about_mm(out[i])} beyond the edge of the sheet",
            rank=out,
            limit=EDGE_MM,
        )

    def places(self) -> None:
        """Find cutters, and travel below the safe height, where clamps and screws are."""
        segments = self.toolpath.segments
        radii = self.toolpath.radii()
        low = np.minimum(segments.starts[:, 2], segments.ends[:, 2])
        down = np.flatnonzero(low < self.machine.safe_height_mm - _HEIGHT_MM)
        if self.machine.kind == "beam":
            down = np.flatnonzero(low < 0)
        ends = np.stack([segments.starts[down, :2], segments.ends[down, :2]], axis=1)
        lines = np.asarray(shapely.linestrings(ends), dtype=object)
        widest = float(radii.max(initial=0.0))

        def distances(area: BaseGeometry, margin_mm: float) -> NDArray[np.float64]:
            """Return how far lines are from an area, inf for those beyond all cutters' reach."""
            corners = np.array(area.bounds).reshape(2, 2)
            near = (ends.min(axis=1) <= corners[1] + margin_mm + widest).all(axis=1)
            near &= (ends.max(axis=1) >= corners[0] - margin_mm - widest).all(axis=1)
            away = np.full(len(lines), np.inf)
            away[near] = shapely.distance(area, lines[near])
            return away

        for place in self.stock.keep_clear:
            near = distances(place.area, 0.0)
            self._into(down, radii[down] - near, f"comes into {place.words}", _INTO_MM)
        margin = self.stock.margin_mm
        if self.blanks is not None:
            return
        edge = f"the edge of the left-over, within {format_mm(margin)} of which clamps may be"
        for area in self.stock.gone:
            near = distances(area, margin)
            into = np.where(low[down] < -BITE_MM, margin + radii[down] - near, 0.0)
            self._into(down, into, f"comes to {edge}", EDGE_MM / 10)
        if not margin:
            return
        size = np.array([self.stock.width_mm, self.stock.height_mm])
        inside = np.minimum(ends.min(axis=1), size - ends.max(axis=1)).min(axis=1)
        into = np.where(low[down] < -BITE_MM, margin - (inside - radii[down]), 0.0)
        over = [g for p in self.sheet.parts for g in p.part.overruns]
        if over:  # that work over an edge runs into the margin was told when it was planned
            reach = shapely.union_all(over)
            into[shapely.dwithin(reach, lines, widest)] = 0.0
        words = f"comes into the outer {format_mm(margin)} of the sheet, where clamps may be"
        self._into(down, into, words, EDGE_MM / 10)

    def _into(
        self, chosen: NDArray[np.int64], into: NDArray[np.float64], words: str, allowed_mm: float
    ) -> None:
        deep = np.zeros(len(self.moves))
        np.maximum.at(deep, self.toolpath.segments.moves[chosen], into)
        self.report(
            "clamp",
            deep > allowed_mm,
            lambda i: f"{self.named(i)} {words}, by {about_mm(deep[i])}",
            rank=deep,
            limit=0.0,
        )

    def _lifts(self, safe: float) -> None:
        """Find cutters that are still down when their program, or their turn in it, ends."""
        turns = np.stack([self.toolpath.program, self.moves.tools])
        last = np.ones(len(self.moves), dtype=np.bool_)
        last[:-1] = (turns[:, 1:] != turns[:, :-1]).any(axis=0)
        unread = [n for n, r in enumerate(self.toolpath.readings) if r.problems]
        last &= ~np.isin(self.toolpath.program, unread)
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
            np.isfinite(away) & ~self._parked(points), away - radii[self.toolpath.cutter], 0.0
        )
        return known

    def _parked(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell which points, (n, 3), are where the machine parks for its next cutter, (n,)."""
        if not self.machine.park_mm or self.machine.park_from != "zero":
            return np.zeros(len(points), dtype=np.bool_)
        zero = work_zero(self.sheet, self.machine)
        place = np.add(self.machine.park_mm, (zero.x_mm, zero.y_mm))
        with np.errstate(invalid="ignore"):
            there = (np.abs(points[:, :2] - place) <= _HEIGHT_MM).all(axis=1)
            high = points[:, 2] >= self.machine.safe_height_mm - _HEIGHT_MM
        parked: NDArray[np.bool_] = there & high
        return parked


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
