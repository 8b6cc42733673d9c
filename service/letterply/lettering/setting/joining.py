"""Misses of whole lines: found on placed letters, and closed by moving letters together."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely
from shapely.affinity import affine_transform, translate

from letterply.lettering.setting.clusters import Cluster, Line
from letterply.lettering.setting.joins import Miss, Neighbours, find_misses, shift_to_join
from letterply.lettering.setting.placing import Places, place_lines
from letterply.lettering.setting.spec import LetteringSpec
from letterply.shapes import Region, as_region
from letterply.units import about_mm, counted

__all__ = ["close_misses", "miss_lines"]

Draw = Callable[[Cluster], Region]

_ROUNDS = 3
"""Closing one miss may open another on a bent baseline; a few rounds settle it."""


def miss_lines(
    lines: Sequence[Line],
    spec: LetteringSpec,
    scale: float,
    em_mm: float,
    draw: Draw,
    places: Places,
) -> list[Miss]:
    """Return the misses of all lines; places count clusters line after line in the order seen."""
    if spec.baseline.kind == "vertical":
        return []
    found: list[Miss] = []
    first = 0
    for line in lines:
        found.extend(find_misses(_neighbours(line, first, scale, draw, places), em_mm))
        first += len(line.clusters)
    return found


def close_misses(
    lines: Sequence[Line],
    spec: LetteringSpec,
    scale: float,
    em_mm: float,
    draw: Draw,
    places: Places,
) -> tuple[Places, list[str]]:
    """Return places at which misses are closed by moving letters together, and what was done."""
    nudges = [np.zeros(len(line.clusters)) for line in lines]
    closed, farthest = 0, 0.0
    for _ in range(_ROUNDS):
        moved = False
        first = 0
        for number, line in enumerate(lines):
            pairs = _neighbours(line, first, scale, draw, places)
            for miss in find_misses(pairs, em_mm):
                pair = next(p for p in pairs if p.before == miss.before)
                angle = float(places.angles[miss.after])
                by = shift_to_join(pair, miss, (math.cos(angle), math.sin(angle)))
                if by is None:
                    continue
                nudges[number][miss.after - first :] -= by
                closed, farthest, moved = closed + 1, max(farthest, by), True
            first += len(line.clusters)
        if not moved:
            break
        places = place_lines(lines, spec, scale, em_mm, nudges)
    if not closed:
        return places, []
    gaps = f"{counted(closed, 'gap')} between letters"
    return places, [f"closed {gaps}, letters moved by up to {about_mm(farthest)}"]


def _neighbours(
    line: Line, first: int, scale: float, draw: Draw, places: Places
) -> list[Neighbours]:
    """Return the pairs of letters that stand side by side within a word."""
    found: list[Neighbours] = []
    for i in range(len(line.clusters) - 1):
        a, b = line.clusters[i], line.clusters[i + 1]
        if a.is_space or b.is_space or not (_is_word(a) and _is_word(b)):
            continue
        left, right = draw(a), draw(b)
        if left.is_empty or right.is_empty:
            continue
        step = (line.design[i + 1] - line.design[i]) * scale
        before, after = first + i, first + i + 1
        found.append(
            Neighbours(
                before,
                after,
                (_put(left, places, before), _put(right, places, after)),
                (left, as_region(translate(right, step, 0.0))),
                bool(line.joining[i] and line.joining[i + 1]),
            )
        )
    return found


def _is_word(cluster: Cluster) -> bool:
    return any(c.isalpha() for c in cluster.text)


def _put(region: Region, places: Places, number: int) -> Region:
    x, y = places.points[number].tolist()
    angle = float(places.angles[number])
    cos, sin = math.cos(angle), math.sin(angle)
    found = as_region(affine_transform(region, (cos, -sin, sin, cos, x, y)))
    shapely.prepare(found)
    return found
