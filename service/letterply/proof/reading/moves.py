"""Moves of a program as arrays, and the straight segments that stand for them.

A *move* is one line or arc of a program. A *segment* is a straight piece of a move: a line is one
segment, an arc as many chords as its tolerance asks for. Positions are mm in the frame of the
program; NaN where a coordinate is not known, +inf where the cutter stands at the top of the
machine's travel, at a height that is not known but above everything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from letterply.proof.reading.arcs import chord_counts

__all__ = [
    "ARC_CCW",
    "ARC_CW",
    "FEED",
    "RAPID",
    "Boxed",
    "Moves",
    "Segments",
    "clip_below",
    "moves_of",
    "segments_of",
]

RAPID, FEED, ARC_CW, ARC_CCW = 0, 1, 2, 3


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """All moves of one program, in order.

    Attributes:
        starts, ends: (n, 3) float64, mm.
        kinds: (n,) int8: `RAPID`, `FEED`, `ARC_CW` or `ARC_CCW`.
        centres: (n, 2) float64, mm, NaN for lines.
        sweeps: (n,) float64, radians, counter-clockwise positive, 0 for lines.
        feeds: (n,) float64, mm/min; 0 for rapids.
        spindles: (n,) int8: 1 clockwise (M3), -1 counter-clockwise (M4), 0 stopped.
        rpms: (n,) float64, rev/min as set by S.
        tools: (n,) int32, number of the tool in the spindle, 0 while none was called.
        lines: (n,) int32, line of the text, from 1.

    """

    starts: NDArray[np.float64]
    ends: NDArray[np.float64]
    kinds: NDArray[np.int8]
    centres: NDArray[np.float64]
    sweeps: NDArray[np.float64]
    feeds: NDArray[np.float64]
    spindles: NDArray[np.int8]
    rpms: NDArray[np.float64]
    tools: NDArray[np.int32]
    lines: NDArray[np.int32]

    def __len__(self) -> int:
        """Return the number of moves."""
        return len(self.kinds)

    @property
    def lengths_mm(self) -> NDArray[np.float64]:
        """Length of each move in space, helices included, (n,); 0 where an end is not known."""
        d = self.ends - self.starts
        plane = np.hypot(d[:, 0], d[:, 1])
        arc = self.sweeps != 0
        if arc.any():
            out = self.starts[arc, :2] - self.centres[arc]
            plane[arc] = np.hypot(out[:, 0], out[:, 1]) * np.abs(self.sweeps[arc])
        length = np.hypot(plane, d[:, 2])
        return np.where(np.isfinite(length), length, 0.0)


def moves_of(rows: Sequence[tuple[float, ...]]) -> Moves:
    """Return moves of a row each: the attributes of `Moves`, in their order."""
    table = np.array(rows, dtype=np.float64).reshape(len(rows), 15)
    return Moves(
        starts=np.ascontiguousarray(table[:, 0:3]),
        ends=np.ascontiguousarray(table[:, 3:6]),
        kinds=table[:, 6].astype(np.int8),
        centres=np.ascontiguousarray(table[:, 7:9]),
        sweeps=table[:, 9].copy(),
        feeds=table[:, 10].copy(),
        spindles=table[:, 11].astype(np.int8),
        rpms=table[:, 12].copy(),
        tools=table[:, 13].astype(np.int32),
        lines=table[:, 14].astype(np.int32),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Segments:
    """Straight pieces of moves, in order.

    Attributes:
        starts, ends: (m, 3) float64, mm.
        moves: (m,) int64, index of the move that each belongs to.

    """

    starts: NDArray[np.float64]
    ends: NDArray[np.float64]
    moves: NDArray[np.int64]

    def __len__(self) -> int:
        """Return the number of segments."""
        return len(self.moves)

    def take(self, chosen: NDArray[np.bool_] | NDArray[np.int64]) -> Segments:
        """Return the chosen segments, by mask or index."""
        return Segments(self.starts[chosen], self.ends[chosen], self.moves[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class Boxed:
    """Segments with their boxes in the plane, for quick picks.

    Attributes:
        segments: the segments.
        low, high: (m, 2) float64, corners of the box of each, mm.

    """

    segments: Segments
    low: NDArray[np.float64]
    high: NDArray[np.float64]

    @classmethod
    def of(cls, segments: Segments) -> Boxed:
        """Measure the boxes of segments."""
        a, b = segments.starts[:, :2], segments.ends[:, :2]
        return cls(segments, np.minimum(a, b), np.maximum(a, b))

    def near(
        self, bounds: tuple[float, float, float, float], margin_mm: float
    ) -> NDArray[np.int64]:
        """Return the indices of segments whose box comes within a margin of another box."""
        left, low, right, high = bounds
        near = (self.low[:, 0] <= right + margin_mm) & (self.high[:, 0] >= left - margin_mm)
        near &= (self.low[:, 1] <= high + margin_mm) & (self.high[:, 1] >= low - margin_mm)
        return np.flatnonzero(near)


def segments_of(moves: Moves, *, sagitta_mm: float) -> Segments:
    """Return the straight segments of all moves; chords keep within `sagitta_mm` of their arc.

    The ends of chords lie on the arc; the last one is the programmed end exactly.
    """
    n = len(moves)
    counts = np.ones(n, dtype=np.int64)
    arc = np.flatnonzero(moves.sweeps != 0)
    out = moves.starts[arc, :2] - moves.centres[arc]
    radii = np.hypot(out[:, 0], out[:, 1])
    counts[arc] = chord_counts(radii, moves.sweeps[arc], sagitta_mm)
    owner = np.repeat(np.arange(n), counts)
    first = np.concatenate([[0], np.cumsum(counts)[:-1]]) if n else np.zeros(0, dtype=np.int64)
    ends = moves.ends[owner].copy()
    starts = moves.starts[owner].copy()
    inner = np.arange(len(owner)) - first[owner] + 1 < counts[owner]
    if inner.any():
        o = owner[inner]
        share = (np.flatnonzero(inner) - first[o] + 1) / counts[o]
        centres = moves.centres[o]
        from_centre = moves.starts[o, :2] - centres
        angle = np.arctan2(from_centre[:, 1], from_centre[:, 0]) + share * moves.sweeps[o]
        near = np.hypot(from_centre[:, 0], from_centre[:, 1])
        to_end = moves.ends[o, :2] - centres
        # Start and end may differ by the arc tolerance: the radius runs from one to the other.
        radius = near + share * (np.hypot(to_end[:, 0], to_end[:, 1]) - near)
        ends[inner, 0] = centres[:, 0] + radius * np.cos(angle)
        ends[inner, 1] = centres[:, 1] + radius * np.sin(angle)
        ends[inner, 2] = moves.starts[o, 2] + share * (moves.ends[o, 2] - moves.starts[o, 2])
        later = np.flatnonzero(inner) + 1
        starts[later] = ends[inner]
    return Segments(starts, ends, owner)


def clip_below(segments: Segments, level_mm: float) -> Segments:
    """Return the pieces of segments that lie at or below a height; the rest is dropped.

    A vertical segment is kept from the level down. Unknown heights are dropped.
    """
    za, zb = segments.starts[:, 2], segments.ends[:, 2]
    with np.errstate(invalid="ignore"):
        keep = np.minimum(za, zb) <= level_mm
    kept = segments.take(keep)
    starts, ends = kept.starts.copy(), kept.ends.copy()
    drop = ends - starts
    with np.errstate(divide="ignore", invalid="ignore"):
        at = (level_mm - starts[:, 2]) / drop[:, 2]
        crossing = starts + at[:, None] * drop
    down = starts[:, 2] > level_mm
    up = ends[:, 2] > level_mm
    starts[down] = crossing[down]
    ends[up] = crossing[up]
    return Segments(starts, ends, kept.moves)
