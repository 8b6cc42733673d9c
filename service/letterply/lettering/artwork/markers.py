"""Markers: arrow heads and their like, drawn at the vertices of a shape (SVG 2, 13.7)."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from letterply.lettering.artwork.clipping import Walk, viewport_clip
from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import Matrix, Shape, Subpath, compose
from letterply.lettering.artwork.scene import Place, Scene
from letterply.lettering.artwork.transforms import angle
from letterply.lettering.artwork.values import numbers, view_box, view_matrix

__all__ = ["Vertex", "marker_shapes", "vertices"]

_ENDS = ("start", "mid", "end")
_MAX_NESTED = 8
_MOVE = re.compile(r"[Mm]([^A-DF-Za-df-z]*)(?=[Mm]|$)")
_SHARES = {"left": 0.0, "top": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0}


@dataclass(frozen=True, slots=True)
class Vertex:
    """A vertex of a shape in user units, and the direction of the path there, degrees."""

    x: float
    y: float
    turn: float


def vertices(subpaths: tuple[Subpath, ...]) -> list[Vertex]:
    """Return the vertices of a shape with the directions that markers take (SVG 2, 9.5.1).

    A path without extent goes along x.
    """
    found: list[Vertex] = []
    for subpath in subpaths:
        own = list(_of_subpath(subpath))
        found += own[1:] if subpath.goes_on else own
    return found


def _of_subpath(subpath: Subpath) -> Iterator[Vertex]:
    controls, degrees = subpath.segments
    steps = subpath.steps or (1,) * len(degrees)
    points = [controls[0, 0]]
    leaving: list[NDArray[np.float64] | None] = []
    arriving: list[NDArray[np.float64] | None] = []
    row = 0
    for rows in steps:
        way = [
            d
            for r in range(row, row + rows)
            for d in np.diff(controls[r, : degrees[r] + 1], axis=0)
        ]
        way = [d for d in way if np.any(d)]
        leaving.append(way[0] if way else None)
        arriving.append(way[-1] if way else None)
        row += rows
        points.append(controls[row - 1, degrees[row - 1]] if row else points[0])
    # A step without extent begins as the one before it ends, and ends as the one behind begins.
    bare = [way is None for way in leaving]
    for at in range(1, len(steps)):
        if bare[at]:
            leaving[at] = arriving[at - 1] if not bare[at - 1] else leaving[at - 1]
    for at in range(len(steps) - 1, -1, -1):
        if bare[at]:
            behind = leaving[at + 1] if at + 1 < len(steps) else None
            if behind is not None and at + 1 < len(steps) and bare[at + 1]:
                behind = arriving[at + 1]
            arriving[at] = leaving[at] if behind is None else behind
            leaving[at] = arriving[at] if leaving[at] is None else leaving[at]
    ways = [(_degrees(a), _degrees(b)) for a, b in zip(leaving, arriving, strict=True)]
    last = len(points) - 1
    for at, (x, y) in enumerate(points):
        into = ways[at - 1][1] if at or subpath.closed else ways[0][0]
        out = ways[at % len(ways)][0] if at < last or subpath.closed else ways[-1][1]
        yield Vertex(float(x), float(y), _between(into, out))


def _degrees(way: NDArray[np.float64] | None) -> float:
    return 0.0 if way is None else math.degrees(math.atan2(way[1], way[0]))


def _between(into: float, out: float) -> float:
    """Return the direction half way from one to the other, by the shorter turn."""
    turned = (out - into + 180.0) % 360.0 - 180.0
    return into + (180.0 if turned == -180.0 else turned) / 2


def marker_shapes(
    element: Element,
    place: Place,
    subpaths: tuple[Subpath, ...],
    stroke_width: float,
    scene: Scene,
    walk: Walk,
) -> list[Shape]:
    """Return the shapes of a shape's markers, in the order in which they are painted.

    `walk` draws what is inside a marker; `place` is that inside the shape, its context set.
    """
    written = [place.style.get(f"marker-{end}", "none").strip() for end in _ENDS]
    if _lone_moves(place.style.get("d") or element.attributes.get("d", "")):
        scene.notes.add("lone vertex", element.place)
    if not subpaths:
        return []
    every = vertices(subpaths)
    found: list[Shape] = []
    for end, address in zip(_ENDS, written, strict=True):
        if address.lower() in ("none", ""):
            continue
        marker = scene.referred(address, "marker", "marker", element.place)
        if marker is None:
            continue
        if marker in place.uses or len(place.uses) >= _MAX_NESTED:
            scene.notes.add("reference to itself", element.place)
            continue
        where = {"start": every[:1], "mid": every[1:-1], "end": every[-1:]}[end]
        found += [
            s
            for vertex in where
            for s in _one(marker, place, vertex, stroke_width, end == "start", scene, walk)
        ]
    return found


def _lone_moves(data: str) -> bool:
    """Whether some move of a path is not followed by a line or curve."""
    return any(len(numbers(m[1]) or ()) == 2 for m in _MOVE.finditer(data))


def _one(
    marker: Element,
    place: Place,
    vertex: Vertex,
    stroke_width: float,
    is_start: bool,
    scene: Scene,
    walk: Walk,
) -> list[Shape]:
    scene.visit()
    inner = scene.standing(marker, place)
    read = scene.lengths(marker, replace(inner, style={}))
    width, height = read("markerWidth", "x"), read("markerHeight", "y")
    width, height = 3.0 if width is None else width, 3.0 if height is None else height
    box = view_box(marker.attributes.get("viewBox"))
    if width <= 0 or height <= 0 or (box is not None and not (box[2] and box[3])):
        return []
    size = 1.0
    if marker.attributes.get("markerUnits", "").strip() != "userSpaceOnUse":
        size = stroke_width
    turn = math.radians(_turn(marker.attributes, vertex, is_start, scene, marker.place))
    cos, sin = size * math.cos(turn), size * math.sin(turn)
    placed = compose(place.matrix, (cos, sin, -sin, cos, vertex.x, vertex.y))
    view: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    if box is not None:
        view = view_matrix(box, width, height, marker.attributes.get("preserveAspectRatio", ""))
    extent = box or (0.0, 0.0, width, height)
    inner = replace(inner, width=extent[2], height=extent[3])
    x = _reference(marker, "refX", extent[0], extent[2], inner, scene)
    y = _reference(marker, "refY", extent[1], extent[3], inner, scene)
    shift: Matrix = (1.0, 0.0, 0.0, 1.0, -view[0] * x - view[4], -view[3] * y - view[5])
    corner = compose(placed, shift)
    shapes = walk(marker, replace(inner, matrix=compose(corner, view)))
    if inner.style.get("overflow", "hidden") in ("visible", "auto"):
        return shapes
    clip = viewport_clip(width, height, corner)
    return [replace(s, clips=(*s.clips, clip)) for s in shapes]


def _reference(
    marker: Element, name: str, least: float, extent: float, place: Place, scene: Scene
) -> float:
    text = marker.attributes.get(name, "0").strip()
    if text in _SHARES:
        return least + _SHARES[text] * extent
    found = place.length(text, "x" if name == "refX" else "y")
    if found is None:
        scene.notes.add("length", marker.place)
    return found or 0.0


def _turn(
    attributes: Mapping[str, str], vertex: Vertex, is_start: bool, scene: Scene, place: str
) -> float:
    orient = attributes.get("orient", "0").strip()
    if orient == "auto":
        return vertex.turn
    if orient == "auto-start-reverse":
        return vertex.turn + (180.0 if is_start else 0.0)
    found = angle(orient)
    if found is None:
        scene.notes.add("length", place)
    return found or 0.0
