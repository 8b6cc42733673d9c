"""Outlines of whole fonts against FreeType, an independent library.

FreeType rounds implied on-curve points in NO_SCALE mode, so glyphs are loaded scaled (1024 px an
em, unhinted). Its area is integrated exactly over its Bezier segments by Green's theorem; ours is
the shoelace area of the flattened contours. Both are signed, before any union.
"""

from importlib.util import find_spec
from pathlib import Path

import freetype
import numpy as np
import pytest

from letterply.lettering.fonts.library import shipped_faces
from letterply.lettering.fonts.loading import load_font
from letterply.shapes.flatten import flatten_segments
from reference.shaping import font_file

PX = 1024


def cff_font() -> Path:
    package = find_spec("font_source_serif_pro")
    return Path(package.origin).parent / "files" / "SourceSerifPro-Regular.otf"


# A font, and which of its glyphs: every one, or every so many.
FONTS = {
    "TrueType": (shipped_faces()["zilla-slab"].path, 1),
    "CFF": (cff_font(), 1),
    "variable": (shipped_faces()["playfair-display"].path, 1),
    "Hebrew": (shipped_faces()["frank-ruhl-libre"].path, 3),
    "Arabic": (shipped_faces()["noto-sans-arabic"].path, 7),
    "Devanagari": (shipped_faces()["noto-sans-devanagari"].path, 5),
    "Bengali": (shipped_faces()["hind-siliguri"].path, 3),
    "Tamil": (shipped_faces()["noto-sans-tamil"].path, 2),
    "Telugu": (shipped_faces()["noto-sans-telugu"].path, 5),
    "Thai": (shipped_faces()["noto-sans-thai"].path, 3),
    "Khmer": (shipped_faces()["noto-sans-khmer"].path, 3),
    "Greek, Cyrillic": (shipped_faces()["noto-sans"].path, 31),
    "Japanese": (font_file("noto-cjk-sans-jp-regular"), 331),
    "connected script": (shipped_faces()["great-vibes"].path, 5),
}


def exact_area_and_bounds(outline):
    """Signed area by Green's theorem on each Bezier segment, and bounds of a dense sampling."""
    segments = []
    current = [None]

    def move(to, _):
        current[0] = np.array([to.x, to.y], float)

    def line(to, _):
        end = np.array([to.x, to.y], float)
        segments.append((current[0], end))
        current[0] = end

    def conic(c, to, _):
        a, b, end = current[0], np.array([c.x, c.y], float), np.array([to.x, to.y], float)
        segments.append((a, a + 2 / 3 * (b - a), end + 2 / 3 * (b - end), end))
        current[0] = end

    def cubic(c1, c2, to, _):
        points = [np.array([p.x, p.y], float) for p in (c1, c2, to)]
        segments.append((current[0], *points))
        current[0] = points[-1]

    outline.decompose(None, move_to=move, line_to=line, conic_to=conic, cubic_to=cubic)
    # Gauss-Legendre with 4 nodes integrates x dy - y dx of a cubic (degree 5) exactly.
    nodes, weights = np.polynomial.legendre.leggauss(4)
    t, w = (nodes + 1) / 2, weights / 2
    dense = np.linspace(0, 1, 65)
    area, points = 0.0, []
    for s in segments:
        if len(s) == 2:
            a, b = s
            area += (a[0] * b[1] - b[0] * a[1]) / 2
            points.append(np.array(s))
            continue
        p = np.array(s)

        def at(u, p=p):
            v = 1 - u
            return (
                np.outer(v**3, p[0])
                + np.outer(3 * v * v * u, p[1])
                + np.outer(3 * v * u * u, p[2])
                + np.outer(u**3, p[3])
            )

        def slope(u, p=p):
            v = 1 - u
            return 3 * (
                np.outer(v * v, p[1] - p[0])
                + np.outer(2 * v * u, p[2] - p[1])
                + np.outer(u * u, p[3] - p[2])
            )

        xy, d = at(t), slope(t)
        area += float(np.sum(w * (xy[:, 0] * d[:, 1] - xy[:, 1] * d[:, 0]))) / 2
        points.append(at(dense))
    return area, np.vstack(points)


@pytest.mark.parametrize("kind", FONTS)
def test_every_glyph_of_a_font_has_freetypes_area_and_bounds(kind):
    path, every = FONTS[kind]
    font = load_font(kind, path.read_bytes())
    face = freetype.Face(str(path))
    face.set_char_size(PX * 64, PX * 64, 72, 72)
    unit = font.units_per_em / (PX * 64)
    tolerance = font.units_per_em / 20_000
    compared = 0
    glyphs = range(0, font.glyph_count, every)
    for glyph in glyphs:
        face.load_glyph(glyph, freetype.FT_LOAD_NO_HINTING | freetype.FT_LOAD_NO_BITMAP)
        tables = font.outline(glyph)
        outline = face.glyph.outline
        if not outline.n_points or not tables:
            # A glyph without ink may still carry contours of no area.
            assert sum(abs(shoelace(flatten_segments(c, tolerance))) for c in tables) == 0
            continue
        area, points = exact_area_and_bounds(outline)
        ours = [flatten_segments(c, tolerance) for c in tables]
        mine = sum(shoelace(c) for c in ours)
        perimeter = sum(float(np.hypot(*(np.roll(c, -1, axis=0) - c).T).sum()) for c in ours)
        # FreeType's grid is 1/64 px: each side of a contour may be off by half a step.
        assert mine == pytest.approx(area * unit**2, abs=perimeter * (unit + tolerance)), glyph
        box = np.concatenate((np.vstack(ours).min(axis=0), np.vstack(ours).max(axis=0)))
        theirs = np.concatenate((points.min(axis=0), points.max(axis=0))) * unit
        assert box == pytest.approx(theirs, abs=2 * (unit + tolerance)), glyph
        compared += 1
    assert compared > 0.9 * len(glyphs) - 20


def shoelace(points):
    x, y = points.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2
