"""Pinches: where an axis is narrower than on either side, or a ring is at its thinnest.

The radius over an axis is a landscape on a graph. Flooded from the highest node down, its hills
meet at passes (the merge tree of superlevel sets): a pass is where the ink would part first if it
were worn away from all sides. The first meeting of a hill with itself closes a ring at the ring's
thinnest place. What tapers away to a point has no hill behind it and is no pinch. All mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from letterply.checks.thin.zones import Cut, narrowest_cuts
from letterply.shapes import SAME_MM, MedialAxis

__all__ = ["Pinch", "find_pinches"]

_Ints = NDArray[np.int64]

_RISE = 1.1
"""By how much both sides of a pinch are wider at least: less is the waviness of a stroke, or that
of flattened curves."""


@dataclass(frozen=True, slots=True)
class Pinch:
    """A narrow place between wider ones.

    Attributes:
        at: where, mm.
        cut: the line across it.

    """

    at: tuple[float, float]
    cut: Cut

    def is_told(self, places: Iterable[tuple[float, float]]) -> bool:
        """Whether one of the places is this one: nearer than a quarter of its width."""
        return any(math.dist(self.at, place) <= self.cut.width_mm / 4 for place in places)


def find_pinches(axis: MedialAxis, limit_mm: float = np.inf) -> tuple[Pinch, ...]:
    """Return the pinches of a peeled axis narrower than the limit, narrowest first."""
    if not len(axis.edges):
        return ()
    least, where = axis.least_radii()
    # Where an axis reaches the outline there is a corner, and what is left of a piece that has no
    # strokes is its middle: no passages.
    passage = (least > SAME_MM) & (axis.lengths() > SAME_MM)
    low = np.flatnonzero((2 * least < limit_mm) & passage)
    found = _passes(axis, least, low)
    if not len(found):
        return ()
    found = found[np.argsort(least[found], kind="stable")]
    cuts = narrowest_cuts(axis, found, where[found])
    return tuple(
        Pinch((x, y), cut[0]) for (x, y), cut in zip(where[found].tolist(), cuts, strict=True)
    )


def _passes(axis: MedialAxis, least: NDArray[np.float64], low: _Ints) -> _Ints:
    """Return which of the low edges are pinches."""
    count = len(axis.points)
    high = np.ones(len(axis.edges), dtype=bool)
    high[low] = False
    a, b = axis.edges[high & (least > SAME_MM)].T
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(count, count))
    hills, hill = connected_components(graph, directed=False)
    tops = np.zeros(hills)
    np.maximum.at(tops, hill, axis.radii)
    order = low[np.argsort(-least[low], kind="stable")]
    # One edge after another: plain lists are several times faster.
    parent, top = list(range(hills)), tops.tolist()
    ends = hill[axis.edges[order]].tolist()
    found = []
    for edge, (one, other), radius in zip(order.tolist(), ends, least[order].tolist(), strict=True):
        while parent[one] != one:
            parent[one] = one = parent[parent[one]]
        while parent[other] != other:
            parent[other] = other = parent[parent[other]]
        if one == other:
            found.append(edge)
            continue
        lesser, higher = (one, other) if top[one] < top[other] else (other, one)
        if top[lesser] >= _RISE * radius:
            found.append(edge)
        parent[lesser] = higher
    return np.array(found, dtype=np.int64)
