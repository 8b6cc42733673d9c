"""Regions: areas with holes, in mm, y up; and how they become clean.

A *region* is a `shapely.MultiPolygon`: valid, interiors disjoint, exteriors counter-clockwise,
holes clockwise once normalised. An empty region is `EMPTY`. A *contour* is a closed ring of
points `(n, 2) float64`, first point not repeated. Raw outlines overlap and turn either way, so
every set of contours passes through `nonzero_union` before anything else looks at it.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import cast

import numpy as np
import pyclipper
import shapely
from numpy.typing import NDArray
from shapely import GeometryType, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from letterply.errors import GeometryError
from letterply.shapes.tolerances import GRID_MM, GRID_PER_MM

__all__ = [
    "EMPTY",
    "Contour",
    "Region",
    "as_lines",
    "as_region",
    "box_of",
    "cleaned",
    "diagonal",
    "digest",
    "even_odd_union",
    "nonzero_union",
    "normalise",
    "polygons",
    "rings",
    "thinned_out",
]

Region = MultiPolygon
Contour = NDArray[np.float64]

EMPTY: Region = MultiPolygon()


def box_of(geometry: BaseGeometry) -> tuple[float, float, float, float]:
    """Return the bounding box left, low, right, high; the origin of what is empty."""
    return (0.0, 0.0, 0.0, 0.0) if geometry.is_empty else geometry.bounds


_REACH_MM = 20_000.0
"""Largest coordinate: beyond it the 10 nm grid leaves 32-bit integers (±21 m)."""


def as_region(geometry: BaseGeometry) -> Region:
    """Return the areal part of any geometry as a region; lines and points are dropped.

    >>> as_region(shapely.Point(0, 0)).is_empty
    True

    """
    parts = shapely.get_parts(geometry)
    if (shapely.get_type_id(parts) == GeometryType.POLYGON).all():
        whole = parts[~shapely.is_empty(parts)]
        if len(whole) == len(parts) and isinstance(geometry, MultiPolygon):
            return geometry
        return _many(whole.tolist())
    flat: list[Polygon] = []
    for part in parts.tolist():
        if isinstance(part, Polygon):
            if not part.is_empty:
                flat.append(part)
        elif hasattr(part, "geoms"):
            flat.extend(as_region(part).geoms)
    return MultiPolygon(flat)


def _many(pieces: Sequence[Polygon]) -> Region:
    # Without the constructor, which looks at every piece once more.
    return shapely.multipolygons(list(pieces)) if pieces else EMPTY


def as_lines(ends: NDArray[np.float64]) -> MultiLineString:
    """Return straight runs (n, 2, 2), mm, as one geometry; it is empty without any."""
    if not len(ends):
        return MultiLineString()
    made = shapely.multilinestrings(np.asarray(shapely.linestrings(ends), dtype=object))
    assert isinstance(made, MultiLineString)
    return made


def polygons(region: BaseGeometry) -> tuple[Polygon, ...]:
    """Return the connected pieces of a region."""
    return tuple(as_region(region).geoms)


def rings(region: Region) -> list[Contour]:
    """Return all rings of a region as open contours, each exterior before its holes."""
    return [
        np.asarray(ring.coords, dtype=np.float64)[:-1, :2]
        for piece in region.geoms
        for ring in (piece.exterior, *piece.interiors)
    ]


def nonzero_union(contours: Iterable[Contour]) -> Region:
    """Return the region that the contours fill under the nonzero winding rule.

    The contours may overlap, cross themselves and turn either way; rings without area vanish.
    Coordinates are rounded to the 10 nm grid first.

    Raises:
        GeometryError: `outline-out-of-reach` for a coordinate beyond 20 m or not finite.

    """
    return _union(contours, pyclipper.PFT_NONZERO)


def even_odd_union(contours: Iterable[Contour]) -> Region:
    """Return the region that the contours fill under the even-odd rule; see `nonzero_union`."""
    return _union(contours, pyclipper.PFT_EVENODD)


def _union(contours: Iterable[Contour], rule: int) -> Region:
    clipper = pyclipper.Pyclipper()
    added = 0
    for contour in contours:
        if len(contour) < 3:
            continue
        if not np.isfinite(contour).all() or np.abs(contour).max() > _REACH_MM:
            raise GeometryError(
                "The outline reaches beyond 20 m or is not finite.",
                code="outline-out-of-reach",
                expected="coordinates within 20 m of the origin",
            )
        points = np.rint(contour * GRID_PER_MM).astype(np.int64)
        keep = np.any(points != np.roll(points, 1, axis=0), axis=1)
        points = points[keep]
        # Clipper refuses rings on one line. A figure of eight has no area in sum, but fills.
        if len(points) < 3 or _is_flat(points):
            continue
        clipper.AddPath(points.tolist(), pyclipper.PT_SUBJECT, True)
        added += 1
    if not added:
        return EMPTY
    tree = clipper.Execute2(pyclipper.CT_UNION, rule, rule)
    return normalise(MultiPolygon(_outer_pieces(tree.Childs)))


def _is_flat(points: NDArray[np.int64]) -> bool:
    """Whether all points lie on one line."""
    away = points - points[0]
    far = away[int(np.argmax(np.abs(away).sum(axis=1)))]
    return bool(np.all(away[:, 0] * far[1] == away[:, 1] * far[0]))


def _outer_pieces(nodes: Sequence[pyclipper.PyPolyNode]) -> list[Polygon]:
    pieces: list[Polygon] = []
    for node in nodes:
        holes = [np.asarray(h.Contour) / GRID_PER_MM for h in node.Childs if len(h.Contour) > 2]
        if len(node.Contour) > 2:
            pieces.append(Polygon(np.asarray(node.Contour) / GRID_PER_MM, holes))
        for hole in node.Childs:
            pieces.extend(_outer_pieces(hole.Childs))
    return pieces


def normalise(region: BaseGeometry) -> Region:
    """Return the region on the 10 nm grid, valid, in one fixed order of rings and vertices.

    Two regions that differ by less than the grid come out alike, so that bytes and digests
    agree. Exteriors turn counter-clockwise, holes clockwise; each ring starts at its lowest,
    then leftmost vertex. Slivers without area vanish.
    """
    flat = as_region(region)
    if flat.is_empty:
        return EMPTY
    pieces = [_fixed(p) for p in _on_grid(flat).geoms if p.area > GRID_MM * GRID_MM]
    pieces.sort(key=lambda p: (p.bounds, p.area))
    return _many(pieces)


def _on_grid(flat: Region) -> Region:
    # Nearly always the corners can be rounded each by itself: that takes a tenth of the time of
    # noding all edges anew.
    rounded = shapely.transform(flat, _rounded)
    with suppress(shapely.GEOSException):  # a sliver may come down to a line, which is no ring
        rounded = shapely.remove_repeated_points(rounded)
        if shapely.is_valid(rounded):
            return as_region(rounded)
    try:
        snapped = as_region(shapely.set_precision(flat, GRID_MM))
    except shapely.GEOSException:
        # Rings out of a union may touch or cross within a step of the grid.
        whole = shapely.make_valid(flat, method="structure", keep_collapsed=False)
        snapped = as_region(shapely.set_precision(whole, GRID_MM))
    if not snapped.is_valid:  # set_precision repairs; a second union repairs what it joined
        snapped = as_region(shapely.make_valid(snapped))
    return shapely.transform(snapped, _rounded)


def _rounded(points: Contour) -> Contour:
    return np.rint(points * GRID_PER_MM) / GRID_PER_MM


def thinned_out(region: Region, distance_mm: float) -> Region:
    """Return the region without points that it does not need, on the grid and in order.

    No point of the outline moves farther than the distance; holes and pieces stay.

    >>> square = shapely.box(0, 0, 1, 1).segmentize(0.1)
    >>> int(shapely.get_num_coordinates(thinned_out(as_region(square), 0.002)))
    5

    """
    return normalise(shapely.simplify(region, distance_mm))


def cleaned(region: Region, smallest_mm: float) -> Region:
    """Return the region without gaps, holes, spurs and pinches narrower than a length.

    A closing and an opening by a square-cornered tool of that width: what is wider everywhere comes
    back as it was, on the grid; corners stay sharp. Two strokes that abut or overlap by a hair are
    one after that, and no hair of ground or ink is left where outlines cross.

    >>> halves = as_region(shapely.union(shapely.box(0, 0, 1, 1), shapely.box(1.001, 0, 2, 1)))
    >>> len(halves.geoms), len(cleaned(halves, 0.02).geoms)
    (2, 1)

    """
    half = smallest_mm / 2
    grown = shapely.buffer(region, half, join_style="mitre", mitre_limit=_SHARP)
    shrunk = shapely.buffer(grown, -smallest_mm, join_style="mitre", mitre_limit=_SHARP)
    return normalise(shapely.buffer(shrunk, half, join_style="mitre", mitre_limit=_SHARP))


_SHARP = 100.0
"""Corners down to 2 asin(1 / 100), about 1 degree, stay as they are."""


def _fixed(piece: Polygon) -> Polygon:
    exterior = _fixed_ring(shapely.get_coordinates(piece.exterior)[:-1], counter_clockwise=True)
    holes = [
        _fixed_ring(shapely.get_coordinates(ring)[:-1], counter_clockwise=False)
        for ring in piece.interiors
    ]
    holes.sort(key=lambda h: tuple(h[0]))
    inner = np.array([shapely.linearrings(hole) for hole in holes], dtype=object)
    return cast(Polygon, shapely.polygons(exterior, inner if holes else None))


def _fixed_ring(points: Contour, *, counter_clockwise: bool) -> Contour:
    x, y = points[:, 0], points[:, 1]
    # Relative to the first vertex: far from the origin the shoelace sum would lose its sign.
    dx, dy = x - x[0], y - y[0]
    # The side back to the first vertex, which lies at nought, adds nothing.
    area = float(np.dot(dx[:-1], dy[1:]) - np.dot(dx[1:], dy[:-1]))
    if (area > 0) != counter_clockwise:
        points = points[::-1]
        x, y = points[:, 0], points[:, 1]
    lowest = np.flatnonzero(y == y.min())
    start = int(lowest[np.argmin(x[lowest])])
    return np.concatenate((points[start:], points[:start]))


def digest(region: Region) -> str:
    """Return a hex digest of a normalised region: equal regions, equal digests."""
    found = hashlib.blake2b(digest_size=16)
    for piece in region.geoms:
        for ring in (piece.exterior, *piece.interiors):
            grid = np.rint(np.asarray(ring.coords)[:, :2] * GRID_PER_MM).astype(np.int64)
            found.update(len(grid).to_bytes(8, "little"))
            found.update(np.ascontiguousarray(grid).tobytes())
        found.update(b"|")
    return found.hexdigest()


def diagonal(region: BaseGeometry) -> float:
    """Return the length of the diagonal of the bounding box, mm; 0 when empty."""
    if region.is_empty:
        return 0.0
    left, low, right, high = region.bounds
    return math.hypot(right - left, high - low)
