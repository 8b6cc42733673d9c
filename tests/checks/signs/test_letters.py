"""Measures of letters: by hand on letters of straight lines, and a second way on the others."""

import io

import numpy as np
import pytest
import shapely
from fontTools.ttLib import TTFont
from shapely import box

from letterply.checks.signs.letters import measure_letters
from letterply.lettering.fonts.library import FontLibrary, shipped_faces
from letterply.lettering.fonts.loading import load_font
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import DEFAULT_TOLERANCES

LIBRARY = FontLibrary()


def measured(text="CURLEW", font="archivo-black", cap=50.0, loaded=None, **more):
    spec = LetteringSpec(text, font, Size("cap_height", cap), **more)
    face = loaded or LIBRARY.load(font)
    lettering = set_lettering(spec, face, DEFAULT_TOLERANCES)
    return measure_letters(lettering, face, DEFAULT_TOLERANCES), lettering


def glyph_box(font, letter):
    """Bounds of a glyph in units, from the font's own table, and its units a cap height."""
    tables = TTFont(shipped_faces()[font].path)
    glyph = tables["glyf"][tables.getBestCmap()[ord(letter)]]
    return glyph, tables["OS/2"].sCapHeight


def test_height_proportion_and_stroke_are_those_of_the_fonts_tables():
    """Archivo Black's I is a plain bar: its box is its stem."""
    m, _ = measured()
    i, cap = glyph_box("archivo-black", "I")
    o, _ = glyph_box("archivo-black", "O")
    assert m.height_mm == pytest.approx(50 * i.yMax / cap, abs=1e-3)
    assert m.stroke_mm == pytest.approx(50 * (i.xMax - i.xMin) / cap, abs=1e-3)
    assert m.o_width_mm == pytest.approx(50 * (o.xMax - o.xMin) / cap, abs=1e-2)
    assert m.lean_deg == pytest.approx(0, abs=0.01)


@pytest.mark.parametrize("font", ["zilla-slab", "varela-round", "playfair-display", "nunito"])
def test_the_stem_of_an_i_is_as_wide_as_a_line_across_its_middle(font):
    """Serifs and round ends do not count."""
    m, _ = measured(font=font)
    (letter,) = set_lettering(
        LetteringSpec("I", font, Size("cap_height", 50)), LIBRARY.load(font), DEFAULT_TOLERANCES
    ).letters
    left, _, right, high = letter.region.bounds
    across = shapely.LineString([(left - 1, high / 2), (right + 1, high / 2)])
    assert m.stroke_mm == pytest.approx(across.intersection(letter.region).length, rel=0.02)


def test_a_slanted_stem_is_measured_square_to_itself():
    """The slant of its own table, and a stroke narrower than the level cut by its cosine."""
    font = "atkinson-hyperlegible-italic"
    m, _ = measured(font=font)
    angle = TTFont(shipped_faces()[font].path)["post"].italicAngle
    assert m.lean_deg == pytest.approx(abs(angle), abs=0.5)
    (letter,) = set_lettering(
        LetteringSpec("I", font, Size("cap_height", 50)), LIBRARY.load(font), DEFAULT_TOLERANCES
    ).letters
    left, _, right, high = letter.region.bounds
    level = shapely.LineString([(left - 9, high / 2), (right + 9, high / 2)])
    width = level.intersection(letter.region).length * np.cos(np.radians(m.lean_deg))
    assert m.stroke_mm == pytest.approx(width, rel=0.02)


def test_axes_of_the_lettering_are_those_of_the_measures():
    light, _ = measured(font="nunito", axes={"wght": 200})
    heavy, _ = measured(font="nunito", axes={"wght": 1000})
    assert heavy.stroke_mm > 3 * light.stroke_mm


def test_gaps_are_between_neighbours_on_a_line_without_a_space():
    m, lettering = measured("CUR LEW\nBAY", tracking_mm=2)
    assert [(g.before, g.after) for g in m.gaps] == [
        ("C", "U"), ("U", "R"), ("L", "E"), ("E", "W"), ("B", "A"), ("A", "Y"),
    ]  # fmt: skip
    letters = {x.text: x.region for x in lettering.letters}
    for gap in m.gaps:
        first, second = letters[gap.before], letters[gap.after]
        assert gap.width_mm == pytest.approx(first.distance(second), abs=1e-9)
        a, b = (shapely.Point(p) for p in gap.ends)
        assert a.distance(first) < 1e-9
        assert b.distance(second) < 1e-9
        assert a.distance(b) == pytest.approx(gap.width_mm, abs=1e-9)


def test_spaces_at_the_ends_and_letters_that_repeat_do_not_confuse_the_neighbours():
    m, _ = measured(" OO O ", tracking_mm=2)
    assert [(g.before, g.after) for g in m.gaps] == [("O", "O")]
    assert measured("I")[0].gaps == ()


def test_a_ligature_counts_as_one_character():
    m, lettering = measured("off", font="nunito")
    assert len(m.gaps) == len(lettering.letters) - 1


def test_touching_letters_have_a_gap_of_nothing():
    m, _ = measured("AV", tracking_mm=-20)
    assert m.gaps[0].width_mm == 0


def test_line_pitch_and_case():
    m, lettering = measured("BAY\nbay", line_gap=1.3)
    assert m.pitch_mm == pytest.approx(1.3 * lettering.em_mm)
    assert m.lower_case == ("b", "a", "y")
    assert measured("BAY")[0].pitch_mm is None
    assert measured("BAY 12")[0].lower_case == ()


def test_a_font_without_an_i_or_an_o_is_measured_as_far_as_it_goes():
    tables = TTFont(shipped_faces()["archivo-black"].path)
    for table in tables["cmap"].tables:
        for letter in "IO":
            table.cmap.pop(ord(letter), None)
    made = io.BytesIO()
    tables.save(made)
    m, _ = measured("CURLEW", "short", loaded=load_font("short", made.getvalue()))
    assert (m.height_mm, m.stroke_mm, m.lean_deg, m.o_width_mm) == (None, None, None, None)
    assert len(m.gaps) == 5


def test_a_stem_that_is_not_there_gives_no_stroke():
    """An I made of two bars above and below, as some stencils have, has no middle."""
    from letterply.checks.signs.letters import _stem
    from letterply.shapes.regions import as_region

    bars = as_region(shapely.union(box(0, 0, 10, 3), box(0, 30, 10, 33)))
    assert _stem(bars) == (None, None)
