"""Optical kerning, and the joins of connected scripts."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from lettering.words import LIBRARY, lettering
from letterply.lettering.setting.optical import side_profiles


def whites(found, font):
    """Return the white between neighbours over the height of a capital, at most so deep a side."""
    em = found.em_mm
    lines = np.linspace(0.0015, found.cap_height_mm - 0.0015, 200)
    deep = 0.18 * em
    sides = []
    for letter in found.letters:
        left, right = [], []
        for y in lines:
            cut = letter.region.intersection(shapely.LineString([(-9e3, y), (9e3, y)]))
            left.append(np.inf if cut.is_empty else cut.bounds[0])
            right.append(-np.inf if cut.is_empty else cut.bounds[2])
        sides.append((np.array(left), np.array(right), letter.region.bounds))
    found_whites = []
    for a, b in pairwise(sides):
        between = b[0].min() - a[1].max()
        back_a = np.minimum(a[1].max() - a[1], deep).mean()
        back_b = np.minimum(b[0] - b[0].min(), deep).mean()
        found_whites.append(between + back_a + back_b)
    return np.array(found_whites)


@pytest.mark.parametrize("font", ["archivo-black", "oswald", "nunito"])
def test_optical_kerning_evens_out_the_white(font):
    word = "HOLIVER"
    off = whites(lettering(word, font, kerning="off"), font)
    optical = whites(lettering(word, font, kerning="optical"), font)
    assert optical.std() < 0.35 * off.std()


def test_optical_kerning_does_not_let_letters_touch():
    found = lettering("LTAVTA", "oswald", kerning="optical")
    assert len(found.region.geoms) == 6


def test_optical_kerning_leaves_spaces_and_signs_alone():
    off = lettering("A - V", kerning="off")
    optical = lettering("A - V", kerning="optical")
    assert [x.x_mm for x in optical.letters] == pytest.approx([x.x_mm for x in off.letters])


def test_letters_that_the_font_joins_stay_joined():
    assert len(lettering("vocet", "dancing-script", kerning="optical").region.geoms) == 1


def test_a_profile_has_the_extent_of_its_letter():
    font = LIBRARY.load("oswald")
    glyph = font.harfbuzz.get_nominal_glyph(ord("H"))
    profile = side_profiles([(0, glyph, 0.0, 0.0)], [font])
    hull = font.hull(glyph)
    assert profile.bounds == pytest.approx((hull[:, 0].min(), hull[:, 0].max()), abs=1)
    assert profile.white == pytest.approx((0, 0), abs=1)
    assert side_profiles([(0, font.harfbuzz.get_nominal_glyph(ord(" ")), 0.0, 0.0)], [font]) is None


@pytest.fixture(scope="module")
def parted():
    """Return a word of a connected script whose letters tracking parts by a hair."""
    return lettering("minimum", "dancing-script", tracking_mm=0.45)


def test_a_hair_between_letters_that_should_join_is_found(parted):
    assert parted.misses
    for miss in parted.misses:
        before, after = parted.letters[miss.before], parted.letters[miss.after]
        assert 0 < miss.gap_mm <= 0.5
        assert miss.gap_mm == pytest.approx(before.region.distance(after.region), abs=1e-6)
        assert miss.by_design


def test_joined_letters_and_capitals_of_plain_fonts_miss_nothing():
    assert not lettering("minimum", "dancing-script").misses
    assert not lettering("minimum", "oswald", tracking_mm=0.3).misses
    assert not lettering("MINIMUM", "nunito").misses


@pytest.mark.parametrize("repair", ["bridge", "close"])
def test_a_repair_joins_the_word(parted, repair):
    repaired = lettering("minimum", "dancing-script", tracking_mm=0.45, joins=repair)
    assert len(repaired.region.geoms) < len(parted.region.geoms)
    assert not repaired.misses
    assert repaired.history


def test_a_bridge_adds_little_and_moves_nothing(parted):
    repaired = lettering("minimum", "dancing-script", tracking_mm=0.45, joins="bridge")
    added = repaired.region.difference(parted.region)
    assert parted.region.difference(repaired.region).area < 1e-4
    assert added.area < 0.03 * parted.region.area


def test_closing_moves_letters_by_hairs_only(parted):
    repaired = lettering("minimum", "dancing-script", tracking_mm=0.45, joins="close")
    moved = [a.x_mm - b.x_mm for a, b in zip(parted.letters, repaired.letters, strict=True)]
    assert all(b >= a - 1e-9 for a, b in pairwise(moved))
    assert max(moved) < 6 * 1.0
