"""Measures: what turning, moving, mirroring and scaling must not change, and what is kept."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import rotate, scale, translate

from letterply.checks.survey.measures import (
    REFERENCE_EM_MM,
    REFERENCE_TOLERANCE_MM,
    REFERENCE_TOLERANCES,
    clear_measures,
    measure_glyph,
    measure_piece,
    measure_text,
)
from letterply.checks.thin.zones import thin_zones
from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.flatten import circle, flatten_segments
from letterply.shapes.regions import as_region, nonzero_union, normalise

LIBRARY = FontLibrary()
MEASURE_PIECE = "letterply.checks.survey.measures.measure_piece"


def glyph_of(font, character):
    return font.harfbuzz.get_nominal_glyph(ord(character))


def clean(shape):
    return max(normalise(as_region(shape)).geoms, key=lambda p: p.area)


@st.composite
def shapes(draw):
    """Draw a star of bars and discs round the origin, with a hole: always one piece."""
    arms = draw(st.integers(2, 4))
    parts = [Polygon(circle(0, 0, draw(st.floats(4, 8)), 0.01))]
    for k in range(arms):
        turn = 360 * k / arms + draw(st.floats(-20, 20))
        width, length = draw(st.floats(1, 5)), draw(st.floats(15, 40))
        arm = box(0, -width / 2, length, width / 2)
        if draw(st.booleans()):
            arm = arm.union(Polygon(circle(length, 0, draw(st.floats(2, 6)), 0.01)))
        parts.append(rotate(arm, turn, origin=(0, 0)))
    hole = Polygon(circle(draw(st.floats(-1, 1)), 0, draw(st.floats(0.5, 2.5)), 0.01))
    return clean(shapely.union_all(parts).difference(hole))


def facts(piece, factor=1.0):
    """Return what must not change: zones under some limits, and counters."""
    found = []
    for limit in (2.0137, 3.7211, 6.1173):  # on no width that is likely to be drawn
        zones = thin_zones(piece.inner, limit * factor, REFERENCE_TOLERANCE_MM)
        found.append(sorted((z.exits, round(z.width_mm / factor, 2)) for z in zones))
    found.append([round(c.width_mm / factor, 2) for c in piece.counters])
    return found


def close(one, other):
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        assert np.ravel(a).tolist() == pytest.approx(np.ravel(b).tolist(), abs=0.021)


@settings(max_examples=25)
@given(shapes(), st.floats(0, 360), st.floats(-200, 200), st.booleans())
def test_turning_moving_and_mirroring_change_no_measure(shape, turn, shift, mirrored):
    moved = translate(rotate(shape, turn, origin=(0, 0)), shift, -shift)
    if mirrored:
        moved = scale(moved, -1, 1, origin=(0, 0))
    close(facts(measure_piece(shape)), facts(measure_piece(clean(moved))))


@settings(max_examples=15)
@given(shapes(), st.floats(0.5, 3))
def test_scaling_scales_every_measure(shape, factor):
    grown = clean(scale(shape, factor, factor, origin=(0, 0)))
    close(facts(measure_piece(shape)), facts(measure_piece(grown), factor))


def test_counters_are_the_largest_discs_in_the_holes():
    square = box(0, 0, 60, 60)
    holes = [circle(15, 15, 4, 0.001), np.array([(30, 30), (50, 30), (30, 50)])]
    piece = measure_piece(clean(Polygon(square.exterior, holes)))
    triangle, disc = piece.counters
    assert triangle.width_mm == pytest.approx(2 * (20 - 20 / 2**0.5), rel=1e-3)
    assert disc.width_mm == pytest.approx(8, abs=0.01)
    assert disc.at == pytest.approx((15, 15), abs=0.1)


def test_a_glyph_is_measured_once_whatever_it_is_asked(monkeypatch):
    clear_measures()
    font = LIBRARY.load("oswald")
    number = font.harfbuzz.get_nominal_glyph(ord("ä"))
    first = measure_glyph(font, number)
    monkeypatch.setattr(MEASURE_PIECE, lambda outline: pytest.fail("measured again"))
    assert measure_glyph(font, number) is first
    assert measure_glyph(FontLibrary().load("oswald"), number) is first  # the same bytes
    assert len(first.pieces) == 3
    assert first.islands == 2
    assert first.cap_height_mm == pytest.approx(font.cap_height / font.units_per_em * 100)


def test_another_place_of_the_design_space_is_another_measure():
    font = LIBRARY.load("oswald")
    number = font.harfbuzz.get_nominal_glyph(ord("l"))
    light, bold = (measure_glyph(font.at({"wght": w}), number) for w in (200.0, 700.0))
    widths = [p.pieces[0].outline.bounds[2] - p.pieces[0].outline.bounds[0] for p in (light, bold)]
    assert widths[0] < 0.7 * widths[1]


def test_a_text_knows_its_islands_and_its_letters():
    spec = LetteringSpec("Godwit", "pacifico", Size("em", REFERENCE_EM_MM), align="left")
    lettering = set_lettering(spec, LIBRARY.load("pacifico"), REFERENCE_TOLERANCES)
    text = measure_text(lettering)
    assert len(text.pieces) == 2
    assert text.islands == (1,)
    assert [lettering.letters[i].text for i in text.letters_on[1]] == ["i"]
    assert len(text.letters_on[0]) == 6
    again = measure_text(lettering)
    assert again.pieces[0].inner is text.pieces[0].inner


def test_a_glyph_without_ink_has_no_pieces():
    font = LIBRARY.load("oswald")
    space = measure_glyph(font, font.harfbuzz.get_nominal_glyph(ord(" ")))
    assert space.pieces == ()
    assert space.islands == 0
    assert space.region.is_empty


def test_a_letter_under_an_accent_is_read_once():
    font = LIBRARY.load("nunito")
    plain, accented = (measure_glyph(font, glyph_of(font, name)) for name in ("A", "Á"))
    letter = max(accented.pieces, key=lambda piece: piece.outline.area)
    assert letter.intervals is plain.pieces[0].intervals
    assert len(accented.pieces) == 2
    region = accented.region
    assert region.bounds[3] > plain.region.bounds[3]
    assert region.area == pytest.approx(sum(p.outline.area for p in accented.pieces))
    by_hand = nonzero_union(
        [
            flatten_segments((points * 0.1, degrees), 0.01)
            for points, degrees in font.outline(glyph_of(font, "Á"))
        ]
    )
    assert shapely.symmetric_difference(region, by_hand).area < 1e-3
