"""The medial axis of a region: centres and radii of its largest inscribed discs.

Built from the Voronoi diagram of the outline's segments on the 10 nm grid
(`letterply.shapes.medial.voronoi`). An axis edge is one of three kinds, by the two pieces of
outline that it is equally far from:

    LINE       two segments: straight, and the radius grows evenly along it
    PARABOLA   a vertex (focus) and a segment (directrix): a parabolic arc
    BISECTOR   two vertices: straight, but the radius is a hyperbola

On the last two, a straight line between samples of the radius lies above the true radius, so a
groove carved that way is too deep: `sample` puts in as many points as the tolerance demands.

Accuracy: exact on straight outlines; a curve that was flattened moves the axis by at most about
twice its flattening tolerance (measured in the tests on annuli and ellipses). Reference: D. T.
Lee, "Medial axis transformation of a planar shape", IEEE Trans. PAMI 4(4), 1982 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, Polygon

from letterply.errors import GeometryError
from letterply.shapes.medial.peeling import peeled, pruned
from letterply.shapes.medial.voronoi import segment_diagram
from letterply.shapes.regions import Region, as_region, normalise
from letterply.shapes.tolerances import LEAST_DIVISOR, ROUNDING

__all__ = [
    "BISECTOR",
    "LINE",
    "PARABOLA",
    "MedialAxis",
    "both_axes",
    "largest_disc",
    "medial_axis",
]

LINE, PARABOLA, BISECTOR = 0, 1, 2

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class MedialAxis:
    """Nodes and edges of an axis.

    Attributes:
        points: (n, 2) float64, nodes, mm.
        radii: (n,) float64, distance of each node to the outline, mm.
        edges: (m, 2) int64, pairs of nodes.
        kinds: (m,) int8, LINE, PARABOLA or BISECTOR.
        sites: (m, 2, 4) float64, what each edge is equally far from: two pieces of outline as
            x0, y0, x1, y1; a vertex repeats its point. A parabola's focus comes first.

    """

    points: _Floats
    radii: _Floats
    edges: _Ints
    kinds: NDArray[np.int8]
    sites: _Floats

    def lengths(self) -> _Floats:
        """Return the straight length of each edge, (m,) mm."""
        a, b = self.points[self.edges[:, 0]], self.points[self.edges[:, 1]]
        return np.hypot(b[:, 0] - a[:, 0], b[:, 1] - a[:, 1])

    def least_radii(self) -> tuple[_Floats, _Floats]:
        """Return the least radius on each edge, (m,), and where it is, (m, 2).

        It can lie inside an edge: at a parabola's apex, or where a bisector crosses the line
        between its two vertices.
        """
        least, where, _ = self.dips()
        return least, where

    def dips(self) -> tuple[_Floats, _Floats, _Floats]:
        """Return the least radius on each edge, where it is, and the h of curved edges, (m,).

        Parabola: r = (t² + h²) / 2h at t along its directrix; bisector: r² = t² + h². For
        straight edges with an even radius h is 0.
        """
        ra, rb = self.radii[self.edges[:, 0]], self.radii[self.edges[:, 1]]
        pa, pb = self.points[self.edges[:, 0]], self.points[self.edges[:, 1]]
        least = np.minimum(ra, rb)
        where = np.where((ra <= rb)[:, None], pa, pb)
        heights = np.zeros(len(self.edges))
        rows = np.flatnonzero(self.kinds != LINE)
        if len(rows):
            origin, along, h = self._frames(rows)
            heights[rows] = h
            ta = np.einsum("ij,ij->i", pa[rows] - origin, along)
            tb = np.einsum("ij,ij->i", pb[rows] - origin, along)
            inside = ta * tb < 0
            low, origin, h = rows[inside], origin[inside], h[inside]
            parabola = self.kinds[low] == PARABOLA
            least[low] = np.where(parabola, h / 2, h)
            apex = (origin + self.sites[low, 0, :2]) / 2
            where[low] = np.where(parabola[:, None], apex, origin)
        return least, where, heights

    def _frames(self, rows: _Ints) -> tuple[_Floats, _Floats, _Floats]:
        """Return for curved edges an origin, a unit direction and a half distance.

        Parabola: foot of the focus on the directrix, the directrix's direction, the distance
        between focus and directrix. Bisector: the middle of the two vertices, the direction at
        right angles to their line, half their distance.
        """
        first, second = self.sites[rows, 0], self.sites[rows, 1]
        origin, along = np.empty((len(rows), 2)), np.empty((len(rows), 2))
        h = np.empty(len(rows))
        parabola = self.kinds[rows] == PARABOLA
        focus, a, b = first[:, :2], second[:, :2], second[:, 2:]
        d = b - a
        length = np.hypot(*d.T)
        unit = d / np.where(length > 0, length, 1)[:, None]
        t = np.einsum("ij,ij->i", focus - a, unit)
        foot = a + unit * t[:, None]
        origin[parabola], along[parabola] = foot[parabola], unit[parabola]
        h[parabola] = np.hypot(*(focus - foot).T)[parabola]
        other = ~parabola
        gap = second[:, :2] - first[:, :2]
        wide = np.hypot(*gap.T)
        across = gap / np.where(wide > 0, wide, 1)[:, None]
        origin[other] = (first[:, :2] + gap / 2)[other]
        along[other] = np.column_stack((-across[:, 1], across[:, 0]))[other]
        h[other] = (wide / 2)[other]
        return origin, along, h

    def sample(self, tolerance_mm: float) -> tuple[_Floats, _Floats, _Ints, _Ints]:
        """Return points along every edge, so that chords and radii between them are true.

        Returns:
            points (k, 2), radii (k,), and for each edge where its run starts (m,) and how many
            points it has (m,), first and last being its nodes. Between neighbours neither the
            point nor the radius strays by more than the tolerance from a straight line.

        """
        m = len(self.edges)
        counts = np.ones(m, dtype=np.int64)
        pa, pb = self.points[self.edges[:, 0]], self.points[self.edges[:, 1]]
        curved = np.flatnonzero(self.kinds != LINE)
        origin, along, h = self._frames(curved)
        ta = np.einsum("ij,ij->i", pa[curved] - origin, along)
        tb = np.einsum("ij,ij->i", pb[curved] - origin, along)
        # Parabola y = (x² + h²) / 2h bends by 1/h; the bisector's radius sqrt(x² + h²) by at
        # most 1/h: a chord over dx strays by at most dx² / 8h on both.
        step = np.sqrt(8 * np.maximum(h, ROUNDING) * tolerance_mm)
        counts[curved] = np.clip(np.ceil(np.abs(tb - ta) / step), 1, 10_000).astype(np.int64)
        sizes = counts + 1
        starts = np.cumsum(sizes) - sizes
        which = np.repeat(np.arange(m), sizes)
        share = (np.arange(sizes.sum()) - starts[which]) / counts[which]
        points = pa[which] + (pb - pa)[which] * share[:, None]
        ra, rb = self.radii[self.edges[:, 0]], self.radii[self.edges[:, 1]]
        radii = ra[which] + (rb - ra)[which] * share
        place = np.full(m, -1)
        place[curved] = np.arange(len(curved))
        rows = np.flatnonzero((self.kinds[which] != LINE) & (share > 0) & (share < 1))
        k = place[which[rows]]
        t = ta[k] + (tb - ta)[k] * share[rows]
        parabola = self.kinds[which[rows]] == PARABOLA
        height = (t * t + h[k] * h[k]) / (2 * np.maximum(h[k], LEAST_DIVISOR))
        up = (self.sites[which[rows], 0, :2] - origin[k]) / np.maximum(h[k], LEAST_DIVISOR)[:, None]
        on_line = origin[k] + along[k] * t[:, None]
        points[rows] = np.where(parabola[:, None], on_line + up * height[:, None], on_line)
        radii[rows] = np.where(parabola, height, np.sqrt(t * t + h[k] * h[k]))
        return points, radii, starts, sizes

    def separations(self) -> _Floats:
        """Return for each edge the angle in degrees under which it sees its two sites.

        Seen from the edge's middle: 180 between parallel walls, small along a spur that a
        shallow corner throws.
        """
        middle = (self.points[self.edges[:, 0]] + self.points[self.edges[:, 1]]) / 2
        to_first = _nearest_on(self.sites[:, 0], middle) - middle
        to_second = _nearest_on(self.sites[:, 1], middle) - middle
        cross = to_first[:, 0] * to_second[:, 1] - to_first[:, 1] * to_second[:, 0]
        dot = np.einsum("ij,ij->i", to_first, to_second)
        seen: _Floats = np.degrees(np.abs(np.arctan2(cross, dot)))
        return seen

    def keep(self, wanted: NDArray[np.bool_]) -> MedialAxis:
        """Return the axis with the edges marked True, nodes that are left over dropped."""
        edges = self.edges[wanted]
        used, renumbered = np.unique(edges, return_inverse=True)
        return MedialAxis(
            self.points[used],
            self.radii[used],
            renumbered.reshape(edges.shape).astype(np.int64),
            self.kinds[wanted],
            self.sites[wanted],
        )

    def peel(self, angle_deg: float) -> MedialAxis:
        """Return the axis without the spurs of shallow corners.

        Leaves are taken off, one after another, where the separation angle is below the limit
        and the radius falls towards the leaf: without the second rule the end of a bar that
        carries a disc would be eaten.
        """
        return self.keep(peeled(self.edges, self.radii, self.separations() < angle_deg)[0])

    def prune(self, tolerance_mm: float) -> MedialAxis:
        """Return the axis without the branches that its discs can do without, to a tolerance.

        The vertices of flattened curves have such branches, whatever the radius; corners that are
        seen keep theirs. See `letterply.shapes.medial.peeling.pruned`.
        """
        away = self.points[self.edges[:, 1]] - self.points[self.edges[:, 0]]
        lengths = np.hypot(away[:, 0], away[:, 1])
        return self.keep(pruned(self.edges, self.radii, lengths, tolerance_mm))

    def strokes(self, corner_deg: float) -> MedialAxis:
        """Return the axis of the strokes alone: no branch runs out into a corner.

        A corner is where the walls meet at `corner_deg` or more. What is all corners (a disc, a
        triangle, a square) is left as its centre: one edge without length, at its largest disc.
        """
        alive, centres = peeled(self.edges, self.radii, self.separations() < 180 - corner_deg)
        if not len(centres):
            return self.keep(alive)
        nodes, edges = centres.T
        return MedialAxis(
            self.points,
            self.radii,
            np.vstack((self.edges[alive], np.column_stack((nodes, nodes)))),
            np.concatenate((self.kinds[alive], np.full(len(nodes), LINE, dtype=np.int8))),
            np.concatenate((self.sites[alive], self.sites[edges])),
        ).keep(np.ones(int(alive.sum()) + len(nodes), dtype=bool))


def medial_axis(region: Region) -> MedialAxis:
    """Return the axis inside a region; an empty region has none.

    Raises:
        GeometryError: `outline-crosses-itself` when the outline is not simple.

    """
    clean = _cleaned(region)
    if clean.is_empty:
        return _empty_axis()
    inner, _ = _axes(clean, np.empty((0, 4)))
    return inner


def both_axes(
    region: Region, margin_mm: float, *, is_normal: bool = False
) -> tuple[MedialAxis, MedialAxis]:
    """Return the axis inside a region and the one around it, from one construction.

    A frame `margin_mm` outside the bounding box closes the space around; edges that belong to the
    frame are left out. It shows gaps, slots and counters: a counter's axis is exterior too. A
    region that is known to be normalised (`is_normal`) is taken as it is.
    """
    clean = region if is_normal else _cleaned(region)
    if clean.is_empty:
        return _empty_axis(), _empty_axis()
    left, low, right, high = clean.bounds
    frame = shapely.box(left - margin_mm, low - margin_mm, right + margin_mm, high + margin_mm)
    return _axes(clean, _sides(frame.exterior))


def _cleaned(region: Region) -> Region:
    clean = normalise(region)
    if not clean.is_valid:
        raise GeometryError(
            "The outline crosses or touches itself.",
            code="outline-crosses-itself",
            expected="a region that went through the nonzero clean-up",
        )
    return clean


def _empty_axis() -> MedialAxis:
    return MedialAxis(
        np.empty((0, 2)),
        np.empty(0),
        np.empty((0, 2), dtype=np.int64),
        np.empty(0, dtype=np.int8),
        np.empty((0, 2, 4)),
    )


def _sides(ring: LinearRing) -> _Floats:
    """Return every side of a ring as (n, 4), in its order."""
    points = np.asarray(ring.coords)[:, :2]
    return np.hstack((points[:-1], points[1:]))


def _axes(region: Region, frame: _Floats) -> tuple[MedialAxis, MedialAxis]:
    """Return the axes inside and outside of a clean region, the frame's own edges left out.

    Without a frame (0, 4) the outer one is cut off where it leaves the convex hull.
    """
    # The region lies on the left of its sides: exteriors counter-clockwise, holes clockwise.
    rings = [r for piece in region.geoms for r in (piece.exterior, *piece.interiors)]
    segments = np.vstack([frame, *(_sides(r) for r in rings)])
    # A local origin keeps the integers of the construction small, and its results fine.
    origin = np.rint(segments[-1, :2])
    diagram = segment_diagram(segments - np.tile(origin, 2))
    own = (diagram.owners >= len(frame)).all(axis=1)
    first, second = diagram.sites[:, 0], diagram.sites[:, 1]
    # A parabola's focus comes first.
    swap = (~diagram.are_ends[:, 0] & diagram.are_ends[:, 1])[:, None]
    sites = np.stack((np.where(swap, second, first), np.where(swap, first, second)), axis=1)
    kinds = diagram.are_ends.sum(axis=1).astype(np.int8)
    radii = np.full(len(diagram.vertices), np.nan)
    used = diagram.edges.ravel()
    some = np.empty(len(radii), dtype=np.int64)
    some[used] = np.repeat(np.arange(len(sites)), 2)  # any of its edges will do
    mine = np.unique(used)
    radii[mine] = _distance(sites[some[mine], 0], diagram.vertices[mine])
    axis = MedialAxis(diagram.vertices, radii, diagram.edges, kinds, sites)
    inside = _is_inside(region, origin, axis)
    return _shifted(axis.keep(own & inside), origin), _shifted(axis.keep(own & ~inside), origin)


def _shifted(axis: MedialAxis, by: _Floats) -> MedialAxis:
    return MedialAxis(
        axis.points + by, axis.radii, axis.edges, axis.kinds, axis.sites + np.tile(by, 2)
    )


def _is_inside(region: Region, origin: _Floats, axis: MedialAxis) -> NDArray[np.bool_]:
    """Tell which edges lie inside: by the side of a segment, or by containment."""
    middle = (axis.points[axis.edges[:, 0]] + axis.points[axis.edges[:, 1]]) / 2
    side = axis.sites[:, 1]
    d = side[:, 2:] - side[:, :2]
    away = middle - side[:, :2]
    inside = d[:, 0] * away[:, 1] - d[:, 1] * away[:, 0] > 0
    add_finding = np.flatnonzero(axis.kinds == BISECTOR)
    if len(add_finding):
        shapely.prepare(region)
        at = middle[add_finding] + origin
        inside[add_finding] = shapely.contains_xy(region, at[:, 0], at[:, 1])
    flags: NDArray[np.bool_] = inside
    return flags


def _nearest_on(site: _Floats, point: _Floats) -> _Floats:
    """Return the point of each site that is nearest to each point, (n, 2)."""
    a, d = site[:, :2], site[:, 2:] - site[:, :2]
    squared = np.einsum("ij,ij->i", d, d)
    t = np.einsum("ij,ij->i", point - a, d) / np.where(squared > 0, squared, 1)
    nearest: _Floats = a + d * np.clip(t, 0, 1)[:, None]
    return nearest


def _distance(site: _Floats, point: _Floats) -> _Floats:
    away = _nearest_on(site, point) - point
    return np.hypot(away[:, 0], away[:, 1])


def largest_disc(piece: Polygon) -> tuple[tuple[float, float], float]:
    """Return centre and radius of the largest disc inside a polygon, mm."""
    axis = medial_axis(as_region(piece))
    best = int(np.argmax(axis.radii))
    x, y = axis.points[best]
    return (float(x), float(y)), float(axis.radii[best])
