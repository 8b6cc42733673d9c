"""Counters: which of a part's holes are waste, and which part lies in whose counter. All mm.

A *counter* here is a hole of a part whose slug drops out once its edge is cut. A *nested part* is
cut out of another's slug; that other part is its *container*. Everything about a nested part has to
be cut before the counter that it lies in, and the counter before its container's outline.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from letterply.sheets.model import PlacedPart
from letterply.stacks import Part

__all__ = ["containers_by_mark", "find_containers", "waste_counters"]


_TOUCH_MM = 0.01


def waste_counters(part: Part) -> tuple[Polygon, ...]:
    """Return the counters of a part that are waste and nothing else, as filled rings.

    Left out are round holes, which a drill may bore in one go, and holes over which a pocket, a
    groove or a scribed line runs: the cutter works on the slug too. A blank has none, for it is
    not cut.
    """
    if part.ready_made:
        return ()
    bored = [shapely.Point(h.x_mm, h.y_mm) for h in part.holes]
    worked: list[BaseGeometry] = [p.whole for p in part.pockets]
    worked += [g.whole for g in part.grooves]
    worked += [line for s in part.scribes for line in s.whole]
    found = []
    for ring in part.outline.interiors:
        counter = Polygon(ring)
        if any(counter.contains(centre) for centre in bored):
            continue
        # Work that only touches the edge, as a pocket that ends there, stays off the slug.
        inner = counter.buffer(-_TOUCH_MM)
        if inner.is_empty or any(inner.intersects(work) for work in worked):
            continue
        found.append(counter)
    return tuple(found)


def find_containers(outlines: Sequence[Polygon]) -> list[int | None]:
    """Return for each outline in which other's counter it lies, the innermost; None for none.

    Outlines do not cross: one that has a point in a counter lies in it whole.
    """
    rings = [(n, Polygon(ring)) for n, outline in enumerate(outlines) for ring in outline.interiors]
    containers: list[int | None] = [None] * len(outlines)
    if not rings:
        return containers
    counters = [counter for _, counter in rings]
    points = [outline.representative_point() for outline in outlines]
    inner, around = shapely.STRtree(counters).query(points, predicate="within")
    area = shapely.area(counters)
    # The smallest comes last and stays.
    for k in np.lexsort((around, -area[around])):
        containers[inner[k]] = rings[around[k]][0]
    return containers


def containers_by_mark(parts: Sequence[PlacedPart]) -> dict[str, str]:
    """Return the container of each part of a sheet that lies in a counter, by their marks."""
    containers = find_containers([p.part.outline for p in parts])
    return {
        part.mark: parts[container].mark
        for part, container in zip(parts, containers, strict=True)
        if container is not None
    }
