"""Scale-free measures: what an outline is like at any size, from one reading of it.

Outlines in, at an em of `REFERENCE_EM_MM`; measures out, each a length on that em. At an em of
E mm every length is E / `REFERENCE_EM_MM` times as long, so a limit of L mm there is a limit of
L · `REFERENCE_EM_MM` / E here: sizes, materials and cutters are questions to one set of measures,
and the outline is read once. Glyphs and regions that were measured are kept, up to a bound.

A piece is read in a frame of its own, its lower left at the origin, so that the letter under an
accent, or one that comes twice in a word, is read once wherever it stands.

Terms: a *piece* is one connected piece of ink; a *counter* is one of its holes; an *island* is a
piece that belongs to a letter and touches nothing of it. All mm, y up.

Accuracy: curves are flattened to `REFERENCE_TOLERANCE_MM`, so widths are off by at most about
twice that, two hundredths of a percent of the em.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import Polygon

from letterply.checks.thin.branches import Branch, find_branches
from letterply.checks.thin.intervals import WidthInterval, find_width_intervals, pinch_intervals
from letterply.checks.thin.strength import levers
from letterply.checks.thin.zones import Cut, spread_cuts
from letterply.lettering import Font, Lettering
from letterply.memo import Memo
from letterply.requests import DEFAULT_RULES
from letterply.shapes import (
    MedialAxis,
    Region,
    Tolerances,
    as_region,
    both_axes,
    digest,
    flatten_segments,
    nonzero_union,
    normalise,
    polygons,
)

__all__ = [
    "REFERENCE_EM_MM",
    "REFERENCE_TOLERANCES",
    "REFERENCE_TOLERANCE_MM",
    "Counter",
    "GlyphMeasures",
    "PieceMeasures",
    "TextMeasures",
    "clear_measures",
    "measure_glyph",
    "measure_piece",
    "measure_text",
]

REFERENCE_EM_MM = 100.0
REFERENCE_TOLERANCE_MM = 0.01
REFERENCE_TOLERANCES = Tolerances(flatten_mm=REFERENCE_TOLERANCE_MM)

_MARGIN_MM = 20.0
"""How far around a piece the outer axis reaches."""

_KEPT_BYTES = 200_000_000
"""How much memory the measures of glyphs that are kept may take, a shared piece counted each time;
those of pieces may take half of it, mostly the same ones."""

Point = tuple[float, float]
Levers = tuple[tuple[Cut, float], ...]


@dataclass(frozen=True, slots=True)
class Counter:
    """A hole in a piece.

    Attributes:
        at: centre of the largest disc that fits in.
        width_mm: diameter of that disc: a wider cutter does not enter.

    """

    at: Point
    width_mm: float


_ASKED = 256
"""Answers kept a piece and kind of question: more than a survey asks."""


class _Asked:
    """What was found of a piece when first asked for; moved copies of it share this."""

    def __init__(self) -> None:
        self.levers: Memo[tuple[int, tuple[Cut, ...]], Levers] = Memo(_ASKED)
        self.branches: Memo[None, tuple[Branch, ...]] = Memo(1)


@dataclass(frozen=True, slots=True, eq=False)
class PieceMeasures:
    """One connected piece, in a frame of its own.

    Attributes:
        outline: the piece.
        inner: its interior axis without corners.
        intervals: thin zones of the inside at every limit.
        counters: its holes, largest disc first.
        origin: where that frame lies in the glyph or the lettering.

    """

    outline: Polygon
    inner: MedialAxis
    intervals: tuple[WidthInterval, ...]
    counters: tuple[Counter, ...]
    origin: Point = (0.0, 0.0)
    _asked: _Asked = field(default_factory=_Asked, repr=False)

    @property
    def branches(self) -> tuple[Branch, ...]:
        """The branches of its inside by what they are, narrowest first; found when asked for."""
        return self._asked.branches.get(
            None, lambda: find_branches(self.inner, REFERENCE_TOLERANCE_MM)
        )

    @property
    def placed(self) -> Polygon:
        """The piece where it lies in the glyph or the lettering."""
        return _shifted(self.outline, self.origin)

    def levers(self, interval: WidthInterval) -> Levers:
        """Return the cuts across a width interval that free a piece, each with its reach in mm.

        A piece that is thin throughout is cut all over. Found when first asked for.
        """

        def find() -> Levers:
            cuts = interval.cuts
            if not interval.exits:
                cuts += spread_cuts(self.inner, np.arange(len(self.inner.edges)))
            return levers(self.outline, cuts)

        return self._asked.levers.get((interval.exits, interval.cuts), find)

    @property
    def size_bytes(self) -> int:
        """About how much memory it takes."""
        axis = self.inner
        arrays = (axis.points, axis.radii, axis.edges, axis.kinds, axis.sites)
        corners = int(shapely.get_num_coordinates(self.outline))
        return sum(a.nbytes for a in arrays) + 32 * corners + 700 * len(self.intervals) + 2000


@dataclass(frozen=True, slots=True, eq=False)
class GlyphMeasures:
    """One glyph at the reference em, in the glyph's frame.

    Attributes:
        name: its name in the font.
        pieces: largest area first; none for a glyph without ink.
        cap_height_mm: height of a flat capital of the font.

    """

    name: str
    pieces: tuple[PieceMeasures, ...]
    cap_height_mm: float

    @property
    def islands(self) -> int:
        """How many pieces float free of the largest one."""
        return max(len(self.pieces) - 1, 0)

    @property
    def region(self) -> Region:
        """All pieces."""
        return shapely.MultiPolygon([p.placed for p in self.pieces])


@dataclass(frozen=True, slots=True, eq=False)
class TextMeasures:
    """A text, set and merged.

    Attributes:
        lettering: as set.
        pieces: largest area first.
        letters_on: for each piece the places of the letters on it in `lettering.letters`.
        islands: number of each piece that is an island, in `pieces`.

    """

    lettering: Lettering
    pieces: tuple[PieceMeasures, ...]
    letters_on: tuple[tuple[int, ...], ...]
    islands: tuple[int, ...]

    @property
    def cap_height_mm(self) -> float:
        """Height of a flat capital as set."""
        return self.lettering.cap_height_mm


_glyphs: Memo[tuple[object, ...], GlyphMeasures] = Memo(_KEPT_BYTES)
_pieces: Memo[str, PieceMeasures] = Memo(_KEPT_BYTES // 2)


def clear_measures() -> None:
    """Forget what was measured."""
    _glyphs.clear()
    _pieces.clear()


def measure_glyph(font: Font, glyph: int) -> GlyphMeasures:
    """Return the measures of a glyph; kept by the font's bytes, place in its design space, glyph.

    Raises:
        FontError: `bad-outline`; GeometryError: an outline out of reach.

    """
    key = (font.digest, tuple(font.location.items()), glyph, REFERENCE_TOLERANCE_MM)

    def make() -> GlyphMeasures:
        scale = REFERENCE_EM_MM / font.units_per_em
        contours = [
            flatten_segments((points * scale, degrees), REFERENCE_TOLERANCE_MM)
            for points, degrees in font.outline(glyph)
        ]
        region = nonzero_union(contours)
        return GlyphMeasures(
            name=font.glyph_name(glyph),
            pieces=_sorted(_kept_piece(p) for p in region.geoms),
            cap_height_mm=font.cap_height * scale,
        )

    def weigh(found: GlyphMeasures) -> int:
        return sum(p.size_bytes for p in found.pieces) + 500

    return _glyphs.get(key, make, weigh)


def measure_text(lettering: Lettering) -> TextMeasures:
    """Return the measures of lettering as it is set; its pieces are kept by their outlines."""
    pieces = _sorted(_kept_piece(outline) for outline in polygons(lettering.region))
    on = lettering.letters_on([as_region(p.placed) for p in pieces])
    islands = tuple(
        k
        for k, mine in enumerate(on)
        if len(mine) == 1 and any(mine[0] in larger for larger in on[:k])
    )
    return TextMeasures(lettering, pieces, tuple(on), islands)


def _kept_piece(outline: Polygon) -> PieceMeasures:
    """Return the measures of a piece, those of an equal one moved to where this one lies."""
    x, y, _, _ = outline.bounds
    own = normalise(as_region(_shifted(outline, (-x, -y))))
    found = _pieces.get(
        digest(own), lambda: measure_piece(polygons(own)[0]), lambda piece: piece.size_bytes
    )
    return replace(found, origin=(x, y))


def _shifted(outline: Polygon, by: Point) -> Polygon:
    moved: Polygon = shapely.transform(outline, lambda points: points + by)
    return moved


def _sorted(pieces: Iterable[PieceMeasures]) -> tuple[PieceMeasures, ...]:
    return tuple(sorted(pieces, key=lambda p: (-p.outline.area, p.origin)))


def measure_piece(outline: Polygon) -> PieceMeasures:
    """Return the measures of a clean polygon on the 10 nm grid."""
    corner = DEFAULT_RULES.tip_angle_deg
    inner, outer = both_axes(as_region(outline), _MARGIN_MM, is_normal=True)
    inner, outer = inner.strokes(corner), outer.strokes(corner)
    intervals = find_width_intervals(inner)
    every = sorted((*intervals, *pinch_intervals(inner)), key=lambda i: i.low_mm)
    return PieceMeasures(outline, inner, tuple(every), _counters(outline, outer))


def _counters(outline: Polygon, outer: MedialAxis) -> tuple[Counter, ...]:
    """Return the holes of a piece with the largest disc in each."""
    if not outline.interiors or not len(outer.points):
        return ()
    # The axis of a hole is one connected piece, so the centre of its largest disc tells where
    # it lies: that is well inside.
    label = _components(outer)
    order = np.lexsort((outer.radii, label))
    largest = order[np.append(np.flatnonzero(np.diff(label[order])), len(order) - 1)]
    found: list[Counter] = []
    for ring in outline.interiors:
        hole = Polygon(ring)
        shapely.prepare(hole)
        mine = largest[shapely.contains_xy(hole, *outer.points[largest].T)]
        if len(mine):
            best = mine[int(np.argmax(outer.radii[mine]))]
            x, y = outer.points[best].tolist()
            found.append(Counter((x, y), 2 * float(outer.radii[best])))
    return tuple(sorted(found, key=lambda c: (-c.width_mm, c.at)))


def _components(axis: MedialAxis) -> NDArray[np.int64]:
    n = len(axis.points)
    pairs = (np.ones(len(axis.edges)), (axis.edges[:, 0], axis.edges[:, 1]))
    _, label = connected_components(coo_array(pairs, shape=(n, n)), directed=False)
    return np.asarray(label, dtype=np.int64)
