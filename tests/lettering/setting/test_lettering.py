"""Lettering at its size: what is asked for is what is measured."""

import pytest
import shapely

from letterply.errors import GeometryError, GlyphMissing, InputError
from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import DEFAULT_TOLERANCES


@pytest.fixture(scope="module")
def library():
    return FontLibrary()


def lettering(library, text, font, size, **options):
    return set_lettering(
        LetteringSpec(text, font, size, **options), library.load(font), DEFAULT_TOLERANCES
    )


def extent(region):
    left, low, right, high = region.bounds
    return right - left, high - low


def test_cap_height_is_the_height_of_a_flat_capital(library):
    found = lettering(library, "H", "atkinson-hyperlegible", Size("cap_height", 60))
    assert extent(found.region)[1] == pytest.approx(60, abs=0.02)
    assert found.region.bounds[1] == pytest.approx(0, abs=0.02)


def test_x_height_is_the_height_of_a_flat_small_letter(library):
    found = lettering(library, "x", "zilla-slab", Size("x_height", 25))
    assert extent(found.region)[1] == pytest.approx(25, abs=0.05)


@pytest.mark.parametrize("tracking", [0.0, 2.5])
def test_width_is_the_width_of_the_ink_with_or_without_tracking(library, tracking):
    found = lettering(library, "Curlew", "archivo-black", Size("width", 210), tracking_mm=tracking)
    assert extent(found.region)[0] == pytest.approx(210, abs=0.02)


@pytest.mark.parametrize(("width", "height"), [(200, 20), (60, 200)])
def test_fit_touches_the_tighter_side_of_its_box(library, width, height):
    found = lettering(library, "Knot\nDunlin", "nunito", Size("fit", width, height))
    w, h = extent(found.region)
    assert w <= width + 0.02
    assert h <= height + 0.02
    assert w == pytest.approx(width, abs=0.02) or h == pytest.approx(height, abs=0.02)


def test_a_connected_script_word_is_one_piece_with_all_its_letters(library):
    found = lettering(library, "Avocet", "dancing-script", Size("cap_height", 60))
    assert len(found.region.geoms) == 1
    assert found.letters_on([found.region]) == [tuple(range(6))]


def test_overlapping_glyphs_fill_without_holes_where_they_cross(library):
    """The area of the union is what separate glyphs cover, not more and not less."""
    found = lettering(library, "oldest", "great-vibes", Size("em", 80))
    covered = shapely.union_all([x.region for x in found.letters])
    assert found.region.area == pytest.approx(covered.area, rel=1e-6)


def test_capitals_are_a_piece_each(library):
    found = lettering(library, "KNOT", "archivo-black", Size("cap_height", 40))
    on = found.letters_on(list(found.region.geoms))
    assert sorted(found.letters[i].text for (i,) in on) == ["K", "N", "O", "T"]


def test_kerning_pulls_pairs_together(library):
    pair = lettering(library, "AV", "playfair-display", Size("em", 100))
    plain = lettering(library, "AV", "playfair-display", Size("em", 100), features={"kern": 0})
    assert extent(pair.region)[0] < extent(plain.region)[0] - 1


def test_a_variable_axis_makes_strokes_heavier(library):
    light = lettering(library, "Godwit", "oswald", Size("em", 50), axes={"wght": 200})
    heavy = lettering(library, "Godwit", "oswald", Size("em", 50), axes={"wght": 700})
    assert heavy.region.area > 1.8 * light.region.area


@pytest.mark.parametrize(("align", "share"), [("left", 0.0), ("centre", 0.5), ("right", 1.0)])
def test_lines_align(library, align, share):
    found = lettering(library, "HHHHHH\nHH", "atkinson-hyperlegible", Size("em", 20), align=align)
    lines = [
        shapely.union_all([x.region for x in found.letters if x.line == n]).bounds for n in (0, 1)
    ]
    slack_left = lines[1][0] - lines[0][0]
    slack_right = lines[0][2] - lines[1][2]
    assert slack_left == pytest.approx(share * (slack_left + slack_right), abs=0.01)


def test_second_line_lies_a_line_gap_below(library):
    found = lettering(library, "H\nH", "zilla-slab", Size("em", 30), line_gap=1.5)
    tops = sorted(x.region.bounds[3] for x in found.letters)
    assert tops[1] - tops[0] == pytest.approx(45, abs=0.01)


def test_same_request_gives_the_same_bytes(library):
    a = lettering(library, "Whimbrel", "lobster", Size("em", 40))
    b = lettering(FontLibrary(), "Whimbrel", "lobster", Size("em", 40))
    assert shapely.to_wkb(a.region) == shapely.to_wkb(b.region)


def test_a_missing_glyph_names_the_character_and_its_place(library):
    with pytest.raises(GlyphMissing) as caught:
        lettering(library, "Knot\nAvo漢cet", "lobster", Size("em", 40))
    assert caught.value.data["character"] == "漢"
    assert caught.value.data["position"] == 8
    assert caught.value.field == "lettering.text"


@pytest.mark.parametrize("text", ["", "   ", "\n \n"])
def test_empty_text_is_refused(library, text):
    with pytest.raises(InputError) as caught:
        lettering(library, text, "lobster", Size("em", 40))
    assert caught.value.code == "empty-text"


def test_text_without_ink_is_refused(library):
    with pytest.raises(GeometryError) as caught:
        lettering(library, "\u200d\u200c", "nunito", Size("em", 40))
    assert caught.value.code == "nothing-to-cut"


def test_too_much_text_is_refused(library):
    with pytest.raises(InputError) as caught:
        lettering(library, "a" * 2001, "nunito", Size("em", 40))
    assert caught.value.code == "text-too-long"


@pytest.mark.parametrize("size", [Size("em", 0.01), Size("cap_height", 4900)])
def test_absurd_sizes_are_refused(library, size):
    with pytest.raises(InputError) as caught:
        lettering(library, "Knot", "nunito", size)
    assert caught.value.code == "bad-size"


def test_tracking_that_takes_all_the_room_is_refused(library):
    with pytest.raises(InputError) as caught:
        lettering(library, "Sanderling", "nunito", Size("width", 20), tracking_mm=10)
    assert caught.value.code == "bad-size"


def test_unknown_axis_and_value_out_of_range_are_refused(library):
    with pytest.raises(InputError) as caught:
        lettering(library, "Knot", "nunito", Size("em", 20), axes={"wdth": 100})
    assert caught.value.code == "unknown-axis"
    with pytest.raises(InputError) as caught:
        lettering(library, "Knot", "nunito", Size("em", 20), axes={"wght": 5000})
    assert caught.value.code == "axis-out-of-range"
