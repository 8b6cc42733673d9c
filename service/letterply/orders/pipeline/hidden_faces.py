"""Hidden faces: where a mark may be scribed so that nobody sees it once the stack is glued.

A layer cut from its back has its whole back for marks. A layer cut from its front has what the
layer above covers. Kept clear are edges, holes and everything that is worked into the face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from letterply.orders.pipeline.stroke_letters import stroke_lines, stroke_width
from letterply.shapes import EMPTY, Region, as_region
from letterply.stacks import Layer, Part, Scribe, rigid

__all__ = ["MARK_MM", "hidden_faces", "with_mark"]

_CLEAR_MM = 1.5
"""From edges of the hidden face and from what is worked into it; common practice, no source."""

_HEIGHTS_MM = (6.0, 5.0, 4.0, 3.0, 2.5)
"""Heights of a mark, largest first: below 2.5 mm a scribed line is hard to read."""

MARK_MM = 0.15
_PLACES = 14
"""Places a side that are tried for a mark."""


def hidden_faces(layers: Sequence[Layer]) -> dict[tuple[int, int], Region]:
    """Return (number of the layer, number of the part) -> region of its hidden face."""
    found: dict[tuple[int, int], Region] = {}
    for at, layer in enumerate(layers):
        above = layers[at + 1] if at + 1 < len(layers) else None
        cover = None if layer.from_back else (above.footprint if above is not None else EMPTY)
        for number, part in enumerate(layer.parts):
            face = as_region(part.outline)
            if cover is not None:
                face = as_region(shapely.intersection(face, cover))
            found[at, number] = _cleared(face, part)
    return found


def _cleared(face: Region, part: Part) -> Region:
    if face.is_empty:
        return EMPTY
    worked: list[BaseGeometry] = [
        shapely.Point(h.x_mm, h.y_mm).buffer(h.diameter_mm / 2) for h in part.holes
    ]
    worked += [p.region for p in part.pockets]
    worked += [g.region for g in part.grooves]
    worked += [line for s in part.scribes for line in s.lines]
    inner: BaseGeometry = shapely.buffer(face, -_CLEAR_MM, quad_segs=4)
    if worked:
        inner = shapely.difference(inner, shapely.buffer(shapely.union_all(worked), _CLEAR_MM))
    return as_region(shapely.simplify(inner, 0.1)) if not inner.is_empty else EMPTY


def with_mark(part: Part, hidden: Region, mark: str, *, from_back: bool) -> Part:
    """Return the part, as the cutter sees it, with its mark scribed; as it is without room.

    Args:
        part: in the frame of its stack.
        hidden: its hidden face in the same frame.
        mark: what is written.
        from_back: True when the part is cut from its back; the mark reads right on the back.

    """
    seen = part.cut_view(from_back=from_back)
    if hidden.is_empty:
        return seen
    if from_back:
        left, _, right, _ = part.outline.bounds
        hidden = as_region(affine_transform(hidden, (-1, 0, 0, 1, left + right, 0)))
    place = _place(hidden, mark)
    if place is None:
        return seen
    height, turn, x, y = place
    matrix = rigid(turn, x, y)
    lines = tuple(affine_transform(line, matrix) for line in stroke_lines(mark, height))
    scribe = Scribe(lines, MARK_MM, purpose="mark")
    return replace(seen, scribes=(*seen.scribes, scribe))


def _place(region: Region, mark: str) -> tuple[float, float, float, float] | None:
    """Return height, turn and lower left of the largest mark that fits, level before upright."""
    shapely.prepare(region)
    left, low, right, high = region.bounds
    for height in _HEIGHTS_MM:
        long = stroke_width(mark, height)
        for turn, width, tall in ((0.0, long, height), (90.0, height, long)):
            if width > right - left or tall > high - low:
                continue
            xs = np.linspace(left, right - width, _PLACES)
            ys = np.linspace(low, high - tall, _PLACES)
            x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
            boxes = shapely.box(x, y, x + width, y + tall)
            inside = np.flatnonzero(shapely.covers(region, boxes))
            if not len(inside):
                continue
            middle = ((left + right - width) / 2, (low + high - tall) / 2)
            nearest = inside[np.argmin(np.hypot(x[inside] - middle[0], y[inside] - middle[1]))]
            at = float(x[nearest]), float(y[nearest])
            # Turned by a quarter about its lower left, the text runs up from its lower right.
            return (height, 0.0, *at) if turn == 0.0 else (height, 90.0, at[0] + width, at[1])
    return None
