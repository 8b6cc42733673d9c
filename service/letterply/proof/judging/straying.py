"""Cuts in the waste that no outline, hole or feature asks for.

Round a part a cutter runs beside its edge, and may go down by a helix in the waste that touches
its path: its axis then comes no farther from the edge than three of its radii. What lies farther
out, or leads from one part's edge to another's in one stay, is asked for by nothing.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from letterply.proof.judging.reporting import BITE_MM, Judge
from letterply.proof.judging.target import Target
from letterply.proof.removal.swept import Bites
from letterply.units import about_mm

__all__ = ["Straying"]

_CELL_MM = 0.5
_SLACK_MM = 0.8
"""What a distance on cells so wide may be wrong by, and what clearances add."""

_RADII = 3.0
_LEAD_MM = 3.0
"""How far from an edge a beam is lit, so that the mark it leaves lies in the waste."""

_ALONG_MM = 0.1
"""A cutter whose side comes so near to an edge runs along it."""


class Straying(Judge):
    """Judges where cuts in the waste lie; see `letterply.proof.judging.conduct`."""

    def judge(self, bites: Bites, target: Target) -> None:
        """Find cuts too far from what is asked for, and such as join two parts."""
        segments = self.toolpath.segments
        cutting = np.flatnonzero(bites.most > BITE_MM)
        if not (len(cutting) and self.sheet.parts):
            return
        a, b = segments.starts[cutting, :2], segments.ends[cutting, :2]
        radii = self.toolpath.radii()[cutting]
        away, part = self._nearest((a + b) / 2, target)
        ends = [self._nearest(points, target)[0] for points in (a, b)]
        # The nearest place of a long segment is no measure for its ends, nor they for its middle.
        farthest = np.maximum(away, np.maximum(*ends))
        far = np.zeros(len(self.moves))
        lead = _LEAD_MM if self.machine.kind == "beam" else 0.0
        np.maximum.at(
            far, segments.moves[cutting], farthest - np.maximum(_RADII * radii, lead) - _SLACK_MM
        )
        self.report(
            "stray",
            far > 0,
            lambda i: (
                f"a cut runs {about_mm(far[i])} beside all that is asked for, through the waste"
            ),
            rank=far,
            limit=0.0,
        )
        self._joining(cutting, radii, away, part)

    def _joining(
        self,
        cutting: NDArray[np.int64],
        radii: NDArray[np.float64],
        away: NDArray[np.float64],
        part: NDArray[np.int64],
    ) -> None:
        """Find stays that cut along the edges of two parts: between them they cross the waste."""
        segments, stays = self.toolpath.segments, self.toolpath.stays[cutting]
        near = (away > 0) & (away < radii + _SLACK_MM) & (part >= 0) & (stays >= 0)
        joining = np.zeros(len(self.moves), dtype=np.bool_)
        pairs = np.unique(np.column_stack((stays[near], part[near])), axis=0)
        numbers, counts = np.unique(pairs[:, 0], return_counts=True)
        for stay in numbers[counts > 1].tolist():
            mine = np.flatnonzero(near & (stays == stay))
            lines = shapely.linestrings(
                np.stack(
                    [segments.starts[cutting[mine], :2], segments.ends[cutting[mine], :2]], axis=1
                )
            )
            along = np.full(len(mine), -1)
            for number in np.unique(part[mine]).tolist():
                gap = np.asarray(shapely.distance(self.sheet.parts[number].part.outline, lines))
                along[gap <= radii[mine] + _ALONG_MM] = number
            known = mine[along >= 0]
            owners = along[along >= 0]
            changed = np.flatnonzero(owners[1:] != owners[:-1])
            if len(changed):
                joining[segments.moves[cutting[known[changed[0] + 1]]]] = True
        self.report(
            "stray", joining, lambda i: "one cut leads from the edge of a part to that of another"
        )

    def _nearest(
        self, points: NDArray[np.float64], target: Target
    ) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Return how far points, (n, 2), lie from the nearest part, 0 on it, and which it is."""
        if not hasattr(self, "_field"):
            self._field = self._measured(target)
        away, part, left, low, cell = self._field
        rows = np.clip(((points[:, 1] - low) / cell).astype(int), 0, away.shape[0] - 1)
        columns = np.clip(((points[:, 0] - left) / cell).astype(int), 0, away.shape[1] - 1)
        return away[rows, columns], part[rows, columns]

    def _measured(
        self, target: Target
    ) -> tuple[NDArray[np.float64], NDArray[np.int64], float, float, float]:
        grid = target.wanted
        step = max(1, round(_CELL_MM / grid.cell_mm))
        # A wide cell has what any of its own has: a tip may be narrower than it.
        rows, columns = (-(-n // step) for n in target.owner.shape)
        wide = np.zeros((rows * step, columns * step), dtype=target.owner.dtype)
        wide[: target.owner.shape[0], : target.owner.shape[1]] = target.owner
        owner = wide.reshape(rows, step, columns, step).max(axis=(1, 3))
        parts = np.array([f.part for f in target.features])[owner]
        cell = step * grid.cell_mm
        left, low = grid.origin
        over = [g for p in self.sheet.parts for g in p.part.overruns]
        over += [
            shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2)
            for p in self.sheet.parts
            for h in p.part.holes
        ]
        asked = owner > 0
        if over:  # work over an edge is asked for too, and holes in what falls out
            reach = shapely.union_all([shapely.buffer(g, _CELL_MM) for g in over])
            shapely.prepare(reach)
            ny, nx = owner.shape
            xs, ys = np.meshgrid(
                left + (np.arange(nx) + 0.5) * cell, low + (np.arange(ny) + 0.5) * cell
            )
            asked |= np.asarray(shapely.contains_xy(reach, xs, ys))
        away, at = ndimage.distance_transform_edt(~asked, sampling=cell, return_indices=True)
        return away, parts[at[0], at[1]], left, low, cell
