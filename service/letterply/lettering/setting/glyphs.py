"""Glyphs as clean regions at a size, kept for the next word: who types sets the same letters again.

A font, a glyph and a scale in, a region in mm about the glyph's origin out. The same glyph at the
same scale has the same region, so nobody can tell whether it was drawn before.
"""

from __future__ import annotations

import shapely

from letterply.lettering.fonts.font import Font
from letterply.memo import Memo
from letterply.shapes import Region, Tolerances, cleaned, flatten_segments, nonzero_union

__all__ = ["glyph_region"]

_KEPT_POINTS = 300_000
"""Corners of glyphs that a worker keeps, about 16 bytes each: some thousands of glyphs."""

_kept: Memo[tuple[object, ...], Region] = Memo(_KEPT_POINTS)


def glyph_region(font: Font, glyph: int, scale: float, tolerances: Tolerances) -> Region:
    """Return what a glyph fills, merged under the nonzero rule and cleaned; empty for a space.

    Args:
        font: at its place.
        glyph: its number.
        scale: mm a unit of the font.
        tolerances: for flattening and cleaning.

    Raises:
        FontError: as `Font.outline`.

    """
    key = font.digest, *font.location.items(), glyph, scale, tolerances
    return _kept.get(key, lambda: _drawn(font, glyph, scale, tolerances), _points_of)


def _drawn(font: Font, glyph: int, scale: float, tolerances: Tolerances) -> Region:
    drawn = nonzero_union(
        flatten_segments((points * scale, degrees), tolerances.flatten_mm)
        for points, degrees in font.outline(glyph)
    )
    return cleaned(drawn, tolerances.smallest_mm)


def _points_of(region: Region) -> int:
    return 1 + int(shapely.get_num_coordinates(region))
