"""Walking along a chain of lines and arcs while the depth changes: what makes toolpaths.

A *loop* or open *chain* is measured by the length walked along it. A depth profile is given as
break points (length, z); between them z runs straight, so an arc becomes a helix. All mm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from letterply.cutting.toolpath import Rate, Toolpath
from letterply.shapes import LEAST_DIVISOR, ArcChain

__all__ = ["ParametricPath", "polyline_path", "vertical_path"]

_Floats = NDArray[np.float64]


class ParametricPath:
    """A chain with its lengths.

    Args:
        chain: lines and arcs; for a loop the last move ends at the start.
        closed: whether one may walk on past its end.

    """

    def __init__(self, chain: ArcChain, *, closed: bool) -> None:
        self.chain = chain
        self.closed = closed
        starts = np.vstack((chain.start[None], chain.ends[:-1]))
        self._starts = starts
        a, b = starts - chain.centres, chain.ends - chain.centres
        arc = chain.senses != 0
        chord = chain.ends - starts
        lengths = np.hypot(chord[:, 0], chord[:, 1])
        turn = np.zeros(len(chain))
        cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        dot = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]
        turn[arc] = np.arctan2(cross[arc], dot[arc])
        self._radii = np.where(arc, np.hypot(a[:, 0], a[:, 1]), 0.0)
        self._turn = turn
        lengths[arc] = np.abs(turn[arc]) * self._radii[arc]
        self._ends = np.cumsum(lengths)
        self.lengths = lengths
        self.length = float(self._ends[-1]) if len(lengths) else 0.0

    def at(self, s: _Floats) -> _Floats:
        """Return the points at the given lengths, (n, 2); on a loop lengths wrap round."""
        s = np.mod(s, self.length) if self.closed else np.clip(s, 0, self.length)
        k = np.minimum(np.searchsorted(self._ends, s, side="left"), len(self.lengths) - 1)
        share = (s - (self._ends[k] - self.lengths[k])) / np.maximum(self.lengths[k], LEAST_DIVISOR)
        share = np.clip(share, 0, 1)
        line = self._starts[k] + (self.chain.ends[k] - self._starts[k]) * share[:, None]
        centre = np.nan_to_num(self.chain.centres[k])
        first = np.arctan2(*(self._starts[k] - centre).T[::-1])
        angle = first + self._turn[k] * share
        on_arc = centre + self._radii[k][:, None] * np.column_stack((np.cos(angle), np.sin(angle)))
        found: _Floats = np.where((self.chain.senses[k] != 0)[:, None], on_arc, line)
        return found

    def turning(self, s: _Floats, window_mm: float) -> _Floats:
        """Return by how many degrees the walk turns within a window round each length, (n,)."""
        offsets = np.linspace(-window_mm / 2, window_mm / 2, 9)
        points = self.at((s[:, None] + offsets).ravel()).reshape(len(s), 9, 2)
        steps = np.diff(points, axis=1)
        heading = np.unwrap(np.arctan2(steps[..., 1], steps[..., 0]), axis=1)
        total: _Floats = np.degrees(np.abs(np.diff(heading, axis=1)).sum(axis=1))
        return total

    def path(self, lengths: _Floats, depths: _Floats, corners: _Floats | None = None) -> Toolpath:
        """Return the toolpath that walks from the first to the last of the lengths.

        `lengths` rises (on a loop beyond one turn, if need be), `depths` are the z there. Between
        the two lengths of a row of `corners`, (m, 2), it goes at the rate for corners.
        """
        lengths = np.asarray(lengths, dtype=np.float64)
        slow = np.empty((0, 2)) if corners is None else corners
        breaks = self._ends_between(self._ends, lengths[0], lengths[-1])
        turns = self._ends_between(slow.ravel(), lengths[0], lengths[-1])
        s = np.unique(np.concatenate((breaks, lengths, turns)))
        # Break points closer than a hundredth of a micron are one.
        s = s[np.concatenate(([True], np.diff(s) > 1e-5))]
        s[-1] = lengths[-1]
        z = np.interp(s, lengths, depths)
        middle = (s[:-1] + s[1:]) / 2
        wrapped: _Floats = np.mod(middle, self.length) if self.closed else middle
        k = np.minimum(np.searchsorted(self._ends, wrapped, side="left"), len(self.lengths) - 1)
        points = self.at(s)
        # Where the walk passes the end of a move exactly, take that end itself.
        return Toolpath(
            start=np.array([points[0, 0], points[0, 1], depths[0]]),
            ends=np.column_stack((points[1:], z[1:])),
            centres=self.chain.centres[k].copy(),
            senses=self.chain.senses[k].copy(),
            rates=np.where(_within(wrapped, slow), Rate.CORNER, Rate.FEED).astype(np.int8),
        )

    def _ends_between(self, ends: _Floats, first: float, last: float) -> _Floats:
        """Return which lengths, on a loop in every turn, lie between first and last."""
        if self.closed:
            turns = np.arange(np.floor(first / self.length), np.floor(last / self.length) + 1)
            ends = (turns[:, None] * self.length + ends[None, :]).ravel()
        return ends[(ends > first) & (ends < last)]


def _within(lengths: _Floats, stretches: _Floats) -> NDArray[np.bool_]:
    """Return which lengths lie in one of the stretches, (m, 2)."""
    after, before = lengths[:, None] > stretches[:, 0], lengths[:, None] < stretches[:, 1]
    inside: NDArray[np.bool_] = np.any(after & before, axis=1)
    return inside


def polyline_path(points: _Floats, *, plunge_first: bool = True) -> Toolpath:
    """Return the toolpath along points (n, 3), starting with a plunge from the face.

    The cutter comes down at the plunge rate over the first point, then follows at the feed.
    """
    n = len(points)
    face = max(0.0, float(points[0, 2]))
    start = np.array([points[0, 0], points[0, 1], face])
    ends = points if plunge_first else points[1:]
    path = Toolpath.straight(start, np.asarray(ends, dtype=np.float64))
    if plunge_first and n:
        path.rates[0] = Rate.PLUNGE
    return path


def vertical_path(x_mm: float, y_mm: float, levels_mm: _Floats) -> Toolpath:
    """Return the toolpath that goes straight down and up through the levels, all plunging."""
    ends = np.column_stack(
        (np.full(len(levels_mm), x_mm), np.full(len(levels_mm), y_mm), levels_mm)
    )
    return Toolpath.straight(np.array([x_mm, y_mm, 0.0]), ends, Rate.PLUNGE)
