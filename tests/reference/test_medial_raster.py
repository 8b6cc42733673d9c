"""Radii of the medial axis and widths of necks against an exact distance transform.

The other method: the outline is painted on cells of 0.01 mm by scan lines (a cell is ink when its
middle is inside), and scipy's exact Euclidean distance transform (Maurer, Qi and
Raghavan 2003, by its documentation) gives every ink cell its distance to the nearest cell without
ink. That distance is to a cell's middle, so it may differ from the distance to the outline by up
to 0.71 cells, and again by 0.71 for where the axis lies in its cell: 1.5 cells in all.

Glyphs are set small (em 4 mm) to keep the pictures small: what is measured has no scale.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from letterply.checks.thin.zones import thin_zones
from letterply.lettering.fonts.library import FontLibrary
from letterply.shapes.flatten import flatten_segments
from letterply.shapes.medial.axis import medial_axis
from letterply.shapes.regions import as_region, nonzero_union
from reference.raster_judge import painted

CELL_MM = 0.01
ALLOWED_MM = 1.5 * CELL_MM
EM_MM = 4.0
FONTS = ("playfair-display", "great-vibes", "oswald", "noto-sans-devanagari", "lobster")
GLYPHS_EACH = 40


@cache
def glyphs(key):
    """Return regions of glyphs with ink, spread over the font, and their raster distances, mm."""
    font = FontLibrary().load(key)
    scale = EM_MM / font.units_per_em
    step = max(font.glyph_count // (GLYPHS_EACH * 2), 1)
    found = []
    for number in range(1, font.glyph_count, step):
        contours = [flatten_segments((p * scale, d), 0.0005) for p, d in font.outline(number)]
        region = nonzero_union(contours)
        if region.is_empty or region.area < 0.05:
            continue
        ink, origin = painted(region, CELL_MM)
        away = distance_transform_edt(ink).astype(np.float32) * CELL_MM
        # A cell without ink begins half a cell before its middle, on average.
        found.append((number, region, away, origin))
        if len(found) == GLYPHS_EACH:
            break
    return found


def at(away, origin, points):
    cells = np.floor((points - origin) / CELL_MM).astype(int)
    return away[cells[:, 1], cells[:, 0]]


@pytest.mark.parametrize("key", FONTS)
def test_radii_agree_with_the_distance_transform(key):
    worst, count = 0.0, 0
    for _, region, away, origin in glyphs(key):
        axis = medial_axis(region).strokes(40)
        points, radii, _, _ = axis.sample(0.001)
        raster = at(away, origin, points)
        off = np.abs(radii - raster)
        worst = max(worst, float(off.max()))
        count += len(points)
        assert off.max() <= ALLOWED_MM, (key, off.max())
    assert len(glyphs(key)) == GLYPHS_EACH
    print(f"\n{key}: {count} places, worst {worst / CELL_MM:.2f} cells")


@pytest.mark.parametrize("key", FONTS)
def test_neck_widths_agree_with_the_distance_transform(key):
    """A neck's width is twice the least distance along its axis: read off the picture there."""
    necks, worst = 0, 0.0
    for number, region, away, origin in glyphs(key):
        for piece in region.geoms:
            axis = medial_axis(as_region(piece)).strokes(40)
            for zone in thin_zones(axis, 0.3, 0.0005):
                if zone.exits < 2:
                    continue
                # The ridge of the picture near the place: the largest distance across the neck.
                (x0, y0), (x1, y1) = zone.feet
                share = np.linspace(0, 1, 101)[:, None]
                across = np.array([[x0, y0]]) + share * np.array([[x1 - x0, y1 - y0]])
                width = 2 * float(at(away, origin, across).max())
                off = abs(width - zone.width_mm) / 2
                worst = max(worst, off)
                necks += 1
                assert off <= ALLOWED_MM, (key, number, zone.width_mm, width)
    assert necks >= 5
    print(f"\n{key}: {necks} necks, worst {worst / CELL_MM:.2f} cells of the radius")
