"""Which findings a picture marks, and where their numbers go. All mm, y up.

Findings that say the same of the same layer share the number of the first of them. No more than
`MOST_MARKS` marks are set: one for every finding, gravest first, then the further places of the
gravest. What is grave is large.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.exports.primitives.numbers import number
from letterply.findings import Finding, Place, Severity
from letterply.shapes import SAME_MM

__all__ = ["MOST_MARKS", "Group", "Mark", "badge_size", "grouped", "marks_of", "set_apart"]

MOST_MARKS = 12
"""More than these an eye does not take in at once; common practice, no source."""

_LARGE, _PLAIN, _SMALL = 1.4, 1.0, 0.7
_SIZES = {Severity.BLOCKER: _LARGE, Severity.CAUTION: _PLAIN, Severity.NOTE: _SMALL}
"""Sizes of numbers, in sizes of the text."""

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Group:
    """Findings that say the same.

    Attributes:
        label: number of the first in the findings document.
        finding: the first.
        count: how many they are.
        places: where, without repeats, that of the first before the others.

    """

    label: int
    finding: Finding
    count: int
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A number at a place.

    Attributes:
        group: what it stands for.
        place: what is marked.
        size: how large, in sizes of the text.

    """

    group: Group
    place: Place
    size: float


def grouped(ordered: Sequence[Finding]) -> list[Group]:
    """Return findings, worst first, with equal ones as one: same kind, layer and figures."""
    found: dict[tuple[object, ...], list[tuple[int, Finding]]] = {}
    for label, finding in enumerate(ordered, start=1):
        told = None if finding.measured is None else number(finding.measured, 2)
        key: tuple[object, ...] = (finding.code, finding.severity, finding.layer, told,
                                   finding.limit, finding.unit)  # fmt: skip
        if told is None:  # nothing but words to compare
            key = (*key, finding.why)
        found.setdefault(key, []).append((label, finding))
    return [
        Group(same[0][0], same[0][1], len(same), _places(f for _, f in same))
        for same in found.values()
    ]


def _places(findings: Iterable[Finding]) -> tuple[Place, ...]:
    places: list[Place] = []
    further: list[Place] = []
    for finding in findings:
        if finding.where is not None:
            places.append(finding.where)
        more = dict(finding.data).get("places", ())
        further += [Place("point", ((float(x), float(y)),)) for x, y in more]
    for place in further:
        away = [np.hypot(*np.subtract(place.anchor, p.anchor)) for p in places]
        if not away or min(away) > SAME_MM:
            places.append(place)
    return tuple(places)


def marks_of(groups: Sequence[Group], *, large: int = 0) -> list[Mark]:
    """Return the marks of a picture, gravest first; the first `large` are large, too."""
    placed = [g for g in groups if g.places]
    first = [
        Mark(g, g.places[0], _LARGE if n < large else _SIZES[g.finding.severity])
        for n, g in enumerate(placed[:MOST_MARKS])
    ]
    more = [Mark(g, place, _SMALL) for g in placed for place in g.places[1:]]
    return first + more[: MOST_MARKS - len(first)]


def badge_size(label_width: float, unit: float) -> tuple[float, float]:
    """Return half the width and half the height of a number's shape for text of size `unit`."""
    return max(0.95 * unit, label_width / 2 + 0.4 * unit), 0.85 * unit


_TURNS = np.deg2rad([60, 120, 20, 160, 90, -60, -120, -20, -160, -90, 0, 180, 40, 140, -40, -140])
_AROUND = np.column_stack((np.cos(_TURNS), np.sin(_TURNS)))
_FAR = (2.0, 2.7, 3.5, 4.5, 6.0, 8.0, 10.5, 13.5)


def set_apart(
    anchors: Sequence[tuple[float, float]],
    halves: Sequence[tuple[float, float]],
    within: tuple[float, float, float, float],
    ink: BaseGeometry,
    unit: float,
) -> list[tuple[float, float]]:
    """Return the middles of boxes beside places, none over another one, all within bounds.

    Args:
        anchors: the places.
        halves: half the width and half the height of each box.
        within: left, low, right, high.
        ink: what boxes leave free where they can, after the places themselves.
        unit: size of the text.

    Near goes before far; where nothing is free, the box goes where it covers least of others.
    """
    shapely.prepare(ink)
    left, low, right, high = within
    taken = np.empty((0, 4))
    found: list[tuple[float, float]] = []
    spots = np.array(anchors, dtype=np.float64).reshape(-1, 2)
    for anchor, (wide, tall) in zip(spots, halves, strict=True):
        reach = np.array(_FAR)[:, None, None] * unit + max(tall, wide) - unit
        at = (anchor + reach * _AROUND).reshape(-1, 2)
        edge = np.array([wide, tall])
        at = np.clip(at, np.array([left, low]) + edge, np.array([right, high]) - edge)
        boxes = np.hstack((at - edge, at + edge))
        far = np.hypot(*(at - anchor).T) / unit
        covered = _overlaps(boxes, taken, 0.15 * unit)
        marks = np.hstack((spots, spots))
        hidden = (_overlaps(boxes, marks, 0.8 * unit) > 0).astype(np.float64)
        own = (np.abs(at - anchor) < edge + 0.8 * unit).all(axis=1)
        on_ink = shapely.intersects(shapely.box(*boxes.T), ink)
        cost = 1e4 * covered + 40 * hidden + 60 * own + 5 * on_ink + far
        best = int(np.argmin(cost))
        taken = np.vstack((taken, boxes[best]))
        found.append((float(at[best, 0]), float(at[best, 1])))
    return found


def _overlaps(boxes: _Floats, others: _Floats, apart: float) -> _Floats:
    """Return by how much each box, set off by a distance, covers others, in all."""
    if not len(others):
        return np.zeros(len(boxes))
    low = np.maximum(boxes[:, None, :2] - apart, others[None, :, :2] - SAME_MM)
    high = np.minimum(boxes[:, None, 2:] + apart, others[None, :, 2:] + SAME_MM)
    sides = np.maximum(high - low, 0)
    shared: _Floats = sides.prod(axis=2).sum(axis=1)
    return shared
