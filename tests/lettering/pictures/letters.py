"""Letters as FreeType draws them, and the outlines it draws them from: pixels, y down."""

import itertools
import re

import freetype
import numpy as np
import shapely
from shapely import LinearRing, LineString, MultiLineString, Polygon, unary_union

from letterply.lettering import shipped_faces

PAD = 8


def rendered(face, letter, px):
    """Return how dark each pixel of a letter is, and its edge."""
    font = freetype.Face(str(shipped_faces()[face].path))
    font.set_pixel_sizes(0, px)
    font.load_char(letter, freetype.FT_LOAD_NO_HINTING | freetype.FT_LOAD_NO_BITMAP)
    contours = _contours(font.glyph.outline)
    font.load_char(letter, freetype.FT_LOAD_RENDER | freetype.FT_LOAD_NO_HINTING)
    bitmap = font.glyph.bitmap
    dark = np.array(bitmap.buffer, dtype=float).reshape(bitmap.rows, bitmap.pitch)
    dark = np.pad(dark[:, : bitmap.width] / 255, PAD)
    left, top = font.glyph.bitmap_left - PAD, font.glyph.bitmap_top + PAD
    rings = [LinearRing([(x - left, top - y) for x, y in c]) for c in contours if len(c) > 2]
    turned = [
        unary_union([Polygon(r).buffer(0) for r in rings if r.is_ccw == way])
        for way in (True, False)
    ]
    ink, holes = sorted(turned, key=lambda g: -g.area)
    return dark, ink.difference(holes).boundary


def _contours(outline):
    found = []

    def point(p):
        return np.array((p.x / 64, p.y / 64))

    def curve(*points, steps=24):
        start = found[-1][-1]
        for t in np.linspace(0, 1, steps + 1)[1:]:
            row = [np.asarray(start), *map(point, points)]
            while len(row) > 1:
                row = [(1 - t) * a + t * b for a, b in itertools.pairwise(row)]
            found[-1].append(tuple(row[0]))

    outline.decompose(
        None,
        lambda a, _: found.append([tuple(point(a))]),
        lambda a, _: found[-1].append(tuple(point(a))),
        lambda c, a, _: curve(c, a),
        lambda c, d, a, _: curve(c, d, a),
    )
    return found


def outline_of(svg):
    """Return the outlines of a traced drawing."""
    path = re.search(r' d="(.*?)"', svg)[1]
    rings = [
        [tuple(map(float, p.split(","))) for p in part.removesuffix("Z").split()]
        for part in path.split("M")[1:]
    ]
    return MultiLineString([LineString([*r, r[0]]) for r in rings])


def drawn(svg):
    """Return the area of a traced drawing."""
    area = Polygon()
    for ring in outline_of(svg).geoms:
        area = area.symmetric_difference(Polygon(ring.coords).buffer(0))
    return area


def distances(found, truth):
    """Return the largest distance of two outlines both ways, the 95th of 100, and the mean."""

    def one(a, b):
        return shapely.distance(shapely.points(shapely.get_coordinates(a.segmentize(0.25))), b)

    both = np.concatenate((one(found, truth), one(truth, found)))
    return float(both.max()), float(np.percentile(both, 95)), float(both.mean())
