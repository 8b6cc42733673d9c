"""Glyphs are drawn once at a size; another size, place or tolerance is another glyph."""

import pytest

from letterply.lettering import FontLibrary
from letterply.lettering.setting.glyphs import glyph_region
from letterply.shapes import DEFAULT_TOLERANCES, Tolerances

FONT = FontLibrary().load("oswald")
GLYPH = FONT.harfbuzz.get_nominal_glyph(ord("R"))


def test_a_glyph_that_was_drawn_is_not_drawn_again():
    first = glyph_region(FONT, GLYPH, 0.03, DEFAULT_TOLERANCES)
    assert glyph_region(FONT, GLYPH, 0.03, DEFAULT_TOLERANCES) is first


@pytest.mark.parametrize(
    ("font", "scale", "tolerances"),
    [
        (FONT, 0.031, DEFAULT_TOLERANCES),
        (FONT.at({"wght": 700.0}), 0.03, DEFAULT_TOLERANCES),
        (FONT, 0.03, Tolerances(flatten_mm=0.05)),
        (FontLibrary().load("lobster"), 0.03, DEFAULT_TOLERANCES),
    ],
)
def test_what_differs_in_anything_is_drawn_for_itself(font, scale, tolerances):
    usual = glyph_region(FONT, GLYPH, 0.03, DEFAULT_TOLERANCES)
    assert glyph_region(font, GLYPH, scale, tolerances).wkb != usual.wkb


def test_a_space_is_empty():
    space = FONT.harfbuzz.get_nominal_glyph(ord(" "))
    assert glyph_region(FONT, space, 0.03, DEFAULT_TOLERANCES).is_empty
