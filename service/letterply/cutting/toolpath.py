"""Toolpaths: one stay of the cutter in the stock each.

The cutter travels at safe height to above the first point of a path, goes down, follows it, and
lifts. All coordinates are in the sheet's frame (`letterply.sheets.model`): mm, y up, z = 0 at the
top face, negative into the stock.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from letterply.shapes import ROUNDING
from letterply.stacks import rigid

__all__ = ["EntryOptions", "Rate", "Toolpath"]


class Rate(IntEnum):
    """How fast a move goes: along the cut, down, where more is cut than usual, down through air."""

    FEED = 0
    PLUNGE = 1
    CORNER = 2
    SINK = 3


@dataclass(frozen=True, slots=True, eq=False)
class EntryOptions:
    """Ways to take a path, as good as each other: the order of work decides between them.

    Attributes:
        entries: (k, 2) float64, where the cutter goes down by each.
        exits: (k, 2) float64, where it lifts.
        make: from the number of a way to its path.

    """

    entries: NDArray[np.float64]
    exits: NDArray[np.float64]
    make: Callable[[int], Toolpath]

    def moved(self, angle_deg: float, x_mm: float, y_mm: float) -> EntryOptions:
        """Return the ways turned about the origin in the plane, then shifted."""
        return EntryOptions(
            _moved(self.entries, angle_deg, x_mm, y_mm),
            _moved(self.exits, angle_deg, x_mm, y_mm),
            lambda way: self.make(way).moved(angle_deg, x_mm, y_mm),
        )


def _moved(
    points: NDArray[np.float64], angle_deg: float, x_mm: float, y_mm: float
) -> NDArray[np.float64]:
    a, b, c, d, e, f = rigid(angle_deg, x_mm, y_mm)
    made = points.copy()
    made[..., :2] = points[..., :2] @ np.array([[a, b], [c, d]]).T + (e, f)
    return made


@dataclass(frozen=True, slots=True, eq=False)
class Toolpath:
    """One stay of the cutter in the stock.

    Attributes:
        start: (3,) float64, where the cutter goes down; its z is the face or higher.
        ends: (n, 3) float64, end of each move.
        centres: (n, 2) float64, centre of an arc in the plane; NaN for a line.
        senses: (n,) int8, 0 line, +1 counter-clockwise arc, -1 clockwise arc.
        rates: (n,) int8, the `Rate` of each move.
        entry_options: while the order of work is open, ways to take the path, this one first; None
            where it is the only one.

    """

    start: NDArray[np.float64]
    ends: NDArray[np.float64]
    centres: NDArray[np.float64]
    senses: NDArray[np.int8]
    rates: NDArray[np.int8]
    entry_options: EntryOptions | None = None

    @classmethod
    def joined(
        cls, pieces: Sequence[Toolpath], *, start: NDArray[np.float64] | None = None
    ) -> Toolpath:
        """Return the moves of all pieces as one path, from `start` or where the first begins."""
        return cls(
            start=pieces[0].start if start is None else start,
            ends=np.vstack([p.ends for p in pieces]),
            centres=np.vstack([p.centres for p in pieces]),
            senses=np.concatenate([p.senses for p in pieces]),
            rates=np.concatenate([p.rates for p in pieces]),
        )

    @classmethod
    def straight(
        cls, start: NDArray[np.float64], ends: NDArray[np.float64], rate: Rate = Rate.FEED
    ) -> Toolpath:
        """Return straight moves to each of `ends`, (n, 3), at one rate."""
        n = len(ends)
        return cls(
            start=start,
            ends=ends,
            centres=np.full((n, 2), np.nan),
            senses=np.zeros(n, dtype=np.int8),
            rates=np.full(n, rate, dtype=np.int8),
        )

    @property
    def plunging(self) -> NDArray[np.bool_]:
        """Which moves go straight down, (n,)."""
        plunging: NDArray[np.bool_] = (self.rates == Rate.PLUNGE) | (self.rates == Rate.SINK)
        return plunging

    @property
    def length_mm(self) -> float:
        """Length in space, arcs by their radius and turn."""
        if not len(self):
            return 0.0
        starts = np.vstack((self.start, self.ends[:-1]))
        moves = self.ends - starts
        flat = np.hypot(moves[:, 0], moves[:, 1])
        arc = self.senses != 0
        if arc.any():
            centres = self.centres[arc]
            first, last = starts[arc, :2] - centres, self.ends[arc, :2] - centres
            turn = np.arctan2(last[:, 1], last[:, 0]) - np.arctan2(first[:, 1], first[:, 0])
            turn = np.mod(turn * self.senses[arc], 2 * np.pi)
            whole = np.hypot(*(last - first).T) < ROUNDING  # a full circle ends where it starts
            flat[arc] = np.hypot(first[:, 0], first[:, 1]) * np.where(whole, 2 * np.pi, turn)
        return float(np.hypot(flat, moves[:, 2]).sum())

    def __len__(self) -> int:
        """Return the number of moves."""
        return len(self.ends)

    def moved(self, angle_deg: float, x_mm: float, y_mm: float) -> Toolpath:
        """Return the path turned about the origin in the plane, then shifted."""
        return replace(
            self,
            start=_moved(self.start, angle_deg, x_mm, y_mm),
            ends=_moved(self.ends, angle_deg, x_mm, y_mm),
            centres=_moved(self.centres, angle_deg, x_mm, y_mm),
            entry_options=self.entry_options and self.entry_options.moved(angle_deg, x_mm, y_mm),
        )

    def taken(self, way: int) -> Toolpath:
        """Return the path taken by one of its ways, the only one then."""
        if self.entry_options is None:
            return self
        return replace(self if way == 0 else self.entry_options.make(way), entry_options=None)
