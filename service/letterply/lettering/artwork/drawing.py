"""Artwork as a region: what its shapes fill and draw, at a scale, in mm, y up.

The drawing's origin stays the origin: x_mm = scale x_px, y_mm = -scale y_px. Curves are flattened
at the final size; shapes that overlap are merged, clips are cut away.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
import shapely
from numpy.typing import NDArray

from letterply.errors import GeometryError
from letterply.lettering.artwork.colours import luminance
from letterply.lettering.artwork.model import (
    ROOM,
    Artwork,
    ArtworkError,
    Bounds,
    Clip,
    Matrix,
    Shape,
    Stroke,
    Subpath,
)
from letterply.lettering.artwork.strokes import Chain, dashed, stroke_contours
from letterply.requests import WHITE
from letterply.shapes import (
    EMPTY,
    GRID_MM,
    GRID_PER_MM,
    ROUNDING,
    Contour,
    Region,
    as_region,
    chord_count,
    even_odd_union,
    flatten_segments,
    nonzero_union,
    normalise,
)

__all__ = ["box_px", "draw", "line_px", "paints_ground", "room_px", "shape_points"]

_GROUPS = frozenset({"g", "a", "svg", "switch", "symbol", "text"})

_MAX_POINTS = 500_000
"""Points of a whole drawing."""

_NEAR_MM = 10_000.0
"""Within this reach a contour may be taken as it is."""

_MAX_RIBBONS = 50_000
"""Pieces of the line of one shape."""


def draw(
    artwork: Artwork,
    scale_mm: float,
    tolerance_mm: float,
    only: Collection[str] = (),
    ground: str = WHITE,
) -> Region:
    """Return what a drawing fills.

    Args:
        artwork: the drawing.
        scale_mm: millimetres a pixel.
        tolerance_mm: how far chords may stray from curves.
        only: ids of elements or groups, and colours as `#rrggbb`, to be drawn; none for all. What
            a colour names is what is seen of it: paint of other colours on top is cut away.
        ground: the colour of the page, `#rrggbb`: paint of it covers what lies below and is
            not drawn itself, as a white eye on a black bird; empty for none. It counts as any
            other colour where `only` names colours, for shapes that `only` names themselves, and
            where nothing else is painted.

    Raises:
        ArtworkError: `artwork-too-complex`.
        GeometryError: `outline-out-of-reach` for what lies more than 20 m off.

    """
    pen = _Pen(scale_mm, tolerance_mm)
    wanted = frozenset(only)
    shapes = [s for s in artwork.shapes if ROOM not in s.names]
    by_colour = any(name.startswith("#") for name in wanted)
    if wanted and not by_colour:
        shapes = [s for s in shapes if wanted & set(s.names)]
    if not by_colour and not paints_ground(shapes, ground):
        return _merged([pen.shape(s) for s in shapes])
    # From the bottom up: runs of paint that is wanted, and of paint that covers it.
    seen = EMPTY
    paints = (p for s in shapes for p in pen.paints(s))

    chosen = frozenset(n for n in wanted if artwork.ids.get(n) not in _GROUPS)

    def wants(paint: _Paint) -> bool:
        if by_colour or paint.colour == ground:
            return paint.is_one_of(wanted if by_colour else chosen)
        return True

    for is_wanted, run in groupby(paints, wants):
        region = _merged([p.region for p in run])
        if is_wanted:
            seen = _merged([seen, region])
        elif not seen.is_empty:
            seen = normalise(shapely.difference(seen, region))
    return seen


def paints_ground(shapes: Iterable[Shape], ground: str) -> bool:
    """Tell whether some paint of shapes has the colour of the ground, and some has not."""
    colours = {
        colour
        for s in shapes
        for paint, colour in ((s.fill, s.fill_colour), (s.stroke, s.stroke_colour))
        if paint is not None
    }
    return bool(ground) and ground in colours and len(colours) > 1


def _merged(regions: Sequence[Region]) -> Region:
    inked = [r for r in regions if not r.is_empty]
    if len(inked) == 1:
        return inked[0]
    return normalise(shapely.union_all(np.array(inked, dtype=object))) if inked else EMPTY


@dataclass(frozen=True, slots=True, eq=False)
class _Paint:
    """The fill or the line of a shape."""

    region: Region
    colour: str
    names: frozenset[str]

    def is_one_of(self, wanted: frozenset[str]) -> bool:
        return self.colour in wanted or not wanted.isdisjoint(self.names)


class _Pen:
    """Draws shapes at one scale and tolerance, and keeps count."""

    def __init__(self, scale_mm: float, tolerance_mm: float) -> None:
        self._scale = scale_mm
        self._tolerance_mm = tolerance_mm
        self._points = 0
        self._clips: dict[int, Region] = {}

    def shape(self, shape: Shape) -> Region:
        """Return what a shape fills and draws."""
        return _merged([paint.region for paint in self.paints(shape)])

    def paints(self, shape: Shape) -> list[_Paint]:
        """Return the fill and the line of a shape, the line on top."""
        # How many mm a user unit is where it is largest: the tolerance holds there too.
        stretch = self._scale * _stretch(shape.matrix)
        if not stretch > 0:
            return []
        step = self._tolerance_mm / stretch
        names = frozenset(shape.names)
        found: list[_Paint] = []
        if shape.fill is not None:
            contours = [self._moved(points_of(s, step), shape.matrix) for s in shape.subpaths]
            filled = _filled(contours, even_odd=shape.fill == "evenodd")
            found.append(_Paint(filled, shape.fill_colour, names))
        if shape.stroke is not None:
            found.append(
                _Paint(self._stroke(shape, shape.stroke, step), shape.stroke_colour, names)
            )
        return [replace(p, region=self._clipped(p.region, shape)) for p in found]

    def _clipped(self, region: Region, shape: Shape) -> Region:
        for clip in shape.clips:
            if region.is_empty:
                break
            region = normalise(shapely.intersection(region, self._clip(clip)))
        return region

    def _stroke(self, shape: Shape, stroke: Stroke, step: float) -> Region:
        contours: list[Contour] = []
        for subpath in shape.subpaths:
            chain = _chain(subpath, step)
            self._count(len(chain.points))
            for dash in dashed(chain, stroke) if stroke.dashes else (chain,):
                contours += stroke_contours(dash, stroke, step)
                if len(contours) > _MAX_RIBBONS:
                    raise _too_fine()
        pieces = [shapely.Polygon(self._moved(c, shape.matrix)) for c in contours]
        return normalise(shapely.union_all(np.array(pieces, dtype=object), grid_size=GRID_MM))

    def _clip(self, clip: Clip) -> Region:
        found = self._clips.get(id(clip))
        if found is None:
            found = self._lit(clip) if clip.light else _merged([self.shape(s) for s in clip.shapes])
            for outer in clip.clips:
                found = normalise(shapely.intersection(found, self._clip(outer)))
            self._clips[id(clip)] = found
        return found

    def _lit(self, clip: Clip) -> Region:
        """Return what a mask lets through: black paint takes away what lies below it."""
        found = EMPTY
        paints = (p for s in clip.shapes for p in self.paints(s))
        for dark, run in groupby(paints, lambda p: bool(p.colour) and luminance(p.colour) == 0):
            region = _merged([p.region for p in run])
            if dark:
                found = normalise(shapely.difference(found, region))
            else:
                found = _merged([found, region])
        return found

    def _moved(self, points: Contour, matrix: Matrix) -> Contour:
        self._count(len(points))
        placed = _mapped(points, matrix) * (self._scale, -self._scale)
        if not np.isfinite(placed).all():
            raise GeometryError(
                "The drawing has a coordinate that is not a finite number.",
                code="outline-out-of-reach",
            )
        return placed

    def _count(self, points: int) -> None:
        self._points += points
        if self._points > _MAX_POINTS:
            raise _too_fine()


def _filled(contours: Sequence[Contour], *, even_odd: bool) -> Region:
    """Return what contours fill; one that does not cross itself fills itself, by any rule."""
    if len(contours) == 1 and len(contours[0]) >= 3 and np.abs(contours[0]).max() < _NEAR_MM:
        piece = shapely.Polygon(np.rint(contours[0] * GRID_PER_MM) / GRID_PER_MM)
        if piece.is_valid and piece.area > 0:
            return as_region(piece)
    return (even_odd_union if even_odd else nonzero_union)(contours)


def _too_fine() -> ArtworkError:
    return ArtworkError(
        "The drawing is too finely detailed for its size.",
        code="artwork-too-complex",
        expected="a simpler or smaller drawing",
    )


def _mapped(points: NDArray[np.float64], matrix: Matrix) -> NDArray[np.float64]:
    a, b, c, d, e, f = matrix
    placed: NDArray[np.float64] = points @ np.array([[a, b], [c, d]]) + (e, f)
    return placed


def _stretch(matrix: Matrix) -> float:
    """Return the largest factor by which a matrix stretches a length."""
    a, b, c, d, _, _ = matrix
    half = (a * a + b * b + c * c + d * d) / 2
    return math.sqrt(half + math.sqrt(max(half * half - (a * d - b * c) ** 2, 0.0)))


def points_of(subpath: Subpath, tolerance: float) -> Contour:
    """Return a subpath as points, user units; the end of an open one is among them.

    Raises:
        ArtworkError: `artwork-too-complex`.

    """
    if int(chord_count(*subpath.segments, tolerance).sum()) > _MAX_POINTS:
        raise _too_fine()
    points = flatten_segments(subpath.segments, tolerance)
    if subpath.closed:
        return points
    controls, degrees = subpath.segments
    return np.vstack((points, controls[-1, degrees[-1]][None]))


def _chain(subpath: Subpath, tolerance: float) -> Chain:
    points = points_of(subpath, tolerance)
    counts = chord_count(*subpath.segments, tolerance)
    corners = np.zeros(len(points), dtype=bool)
    starts = np.cumsum(counts) - counts
    corners[starts] = True
    tangents = np.full((len(points), 2, 2), np.nan)
    leaving, arriving = _end_tangents(*subpath.segments)
    tangents[starts, 1] = leaving
    tangents[starts[1:], 0] = arriving[:-1]
    if subpath.closed:
        tangents[0, 0] = arriving[-1]
    return Chain(points, corners, subpath.closed, tangents)


def _end_tangents(
    controls: NDArray[np.float64], degrees: NDArray[np.int8]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the unit directions in which each segment leaves and arrives, nan for none."""
    rows = np.arange(len(degrees))
    last = controls[rows, degrees]
    leaving = np.full((len(degrees), 2), np.nan)
    arriving = np.full((len(degrees), 2), np.nan)
    for step in (3, 2, 1):  # the nearest control point that lies apart counts
        there = step <= degrees
        out = controls[:, step] - controls[:, 0]
        back = last - controls[rows, np.maximum(degrees - step, 0)]
        for found, way in ((leaving, out), (arriving, back)):
            size = np.hypot(way[:, 0], way[:, 1])
            good = there & (size > 0)
            found[good] = way[good] / size[good, None]
    return leaving, arriving


def shape_points(shape: Shape) -> NDArray[np.float64]:
    """Return points `(n, 2)` round the outline of a shape, without its line, in user units.

    Flattened to a two-thousandth of its own size: for boxes.
    """
    controls = [s.segments[0][:, 0] for s in shape.subpaths]
    if not controls:
        return np.empty((0, 2))
    every = np.vstack(controls)
    step = max(float(np.ptp(every, axis=0).max()), ROUNDING) / 2000
    return np.vstack([points_of(s, step) for s in shape.subpaths])


def line_px(shape: Shape, tolerance_px: float) -> NDArray[np.float64]:
    """Return the first stretch of a shape as points `(n, 2)` in pixels, y down."""
    first = shape.subpaths[0]
    points = points_of(first, tolerance_px / max(_stretch(shape.matrix), ROUNDING))
    if first.closed:
        points = np.vstack((points, points[:1]))
    return _mapped(points, shape.matrix)


def box_px(shapes: Sequence[Shape]) -> Bounds | None:
    """Return the box of shapes without their lines and clips, in pixels, y down; None for none."""
    points = [p for s in shapes if len(p := _mapped(shape_points(s), s.matrix))]
    if not points:
        return None
    every = np.vstack(points)
    (left, top), (right, bottom) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    return left, top, right, bottom


def room_px(artwork: Artwork) -> Bounds | None:
    """Return the box of the room for words in pixels, y down; None for none."""
    return box_px([s for s in artwork.shapes if ROOM in s.names])
