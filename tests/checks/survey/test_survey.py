"""Surveys: ranked, paged, repeatable, quick the second time, and fair to broken glyphs."""

import time

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.checks.survey import survey as module
from letterply.checks.survey.measures import clear_measures
from letterply.checks.survey.selection import ALL, Selection
from letterply.checks.survey.survey import compare_fonts, survey_findings, survey_font
from letterply.checks.survey.weakness import Terms
from letterply.errors import FontError
from letterply.findings import Severity
from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size

CATALOGUE = load_catalogue()
LIBRARY = FontLibrary()
PLAYFAIR = LIBRARY.load("playfair-display")


def terms(cutter="flat-1", supported=True):
    acrylic = CATALOGUE.material("acrylic-cast")
    return Terms(acrylic, 3.0, (CATALOGUE.cutter(cutter),), supported=supported)


def survey(selection, cap_height=30.0, font=PLAYFAIR, each=None, **more):
    return survey_font(font, selection, each or terms(), cap_height, **more)


def test_rows_come_worst_first_and_the_worst_are_confirmed():
    found = survey(Selection(characters="abcdefgHI"))
    sizes = [row.sizing.cap_height_mm for row in found.rows]
    assert sizes == sorted(sizes, reverse=True)
    assert all(row.sizing.confirmed for row in found.rows[:3])
    assert found.rows[-1].sizing.confirmed is None
    assert {row.label for row in found.rows} == set("abcdefgHI")


def test_what_is_blocked_at_the_size_asked_about_is_what_needs_a_larger_one():
    found = survey(Selection(characters="ABCDEGHKQRabdeghnopqsxyz25689"), 28.0)
    blocked = [row for row in found.rows if row.spots]
    assert 3 < len(blocked) < 25
    assert all(row.sizing.cap_height_mm > 28 for row in blocked)
    clear = [row for row in found.rows if not row.spots]
    assert all(row.sizing.cap_height_mm < 28 * 1.01 for row in clear)


def test_closing_counters_are_counted_at_the_size_asked_about():
    large = survey(Selection(characters="8eo"), 60.0, each=terms("flat-3175"))
    assert [row.closing for row in large.rows] == [0, 0, 0]
    small = survey(Selection(characters="8eo"), 6.0, each=terms("flat-3175"))
    closing = {row.label: (row.closing, row.counters) for row in small.rows}
    assert closing == {"8": (2, 2), "e": (1, 1), "o": (1, 1)}


def test_islands_are_counted_and_do_not_spoil_the_size():
    found = survey(Selection(characters="iä"), 40.0, each=terms(supported=False))
    assert {row.label: row.islands for row in found.rows} == {"i": 1, "ä": 2}
    assert all(row.sizing.cap_height_mm for row in found.rows)
    cautions = [f for f in survey_findings(found) if f.code == "island"]
    assert [f.severity for f in cautions] == [Severity.CAUTION]
    assert not [f for f in survey_findings(survey(Selection(characters="i"))) if f.code == "island"]


def test_a_survey_repeats_exactly():
    def plain(found):
        return [(r.glyph, r.sizing, r.spots, r.islands) for r in found.rows]

    first = survey(Selection(name="digits"))
    clear_measures()
    assert plain(first) == plain(survey(Selection(name="digits")))


def test_another_cutter_is_answered_from_what_was_measured(monkeypatch):
    monkeypatch.setattr(module, "_CONFIRMED", 0)  # real outlines are read again each time
    clear_measures()
    page = Selection(name=ALL, first=100, count=60)
    began = time.process_time()
    survey(page)
    first = time.process_time() - began
    began = time.process_time()
    again = survey(page, each=terms("flat-2"))
    assert time.process_time() - began < first / 8
    assert again.terms.cutter.key == "flat-2"


def test_pages_join_up_and_glyphs_without_ink_are_counted():
    pages, first = [], 0
    while first is not None:
        page = survey(Selection(name=ALL, first=first, count=20), font=LIBRARY.load("oswald"))
        pages.append(page)
        first = page.following if len(pages) < 4 else None
    glyphs = sorted(row.glyph for page in pages for row in page.rows)
    assert len(glyphs) + sum(page.blank for page in pages) == 80
    oswald = LIBRARY.load("oswald")
    space = oswald.harfbuzz.get_nominal_glyph(ord(" "))
    page = survey(Selection(name=ALL, first=space, count=1), font=oswald)
    assert (page.blank, page.rows) == (1, ())


def test_a_page_ends_early_at_a_number_of_points(monkeypatch):
    monkeypatch.setattr(module, "_MAX_POINTS", 300)
    page = survey(Selection(name="digits"))
    assert 0 < len(page.rows) < 10
    assert page.following == len(page.rows)


def test_a_glyph_that_cannot_be_read_is_a_row_and_the_rest_goes_on(monkeypatch):
    real = module.measure_glyph

    def broken(font, glyph):
        if font.glyph_name(glyph) == "three":
            raise FontError("A glyph has an open contour.", code="bad-outline")
        return real(font, glyph)

    monkeypatch.setattr(module, "measure_glyph", broken)
    found = survey(Selection(name="digits"))
    assert len(found.rows) == 10
    assert found.rows[0].label == "3"
    assert found.rows[0].problem == "A glyph has an open contour."
    assert found.rows[0].islands == 0


def test_a_text_is_sized_as_it_is_set():
    lobster = LIBRARY.load("lobster")
    spec = LetteringSpec("Curlew", "lobster", Size("em", 1.0), align="left")
    found = survey(Selection(text="Curlew"), font=lobster, spec=spec)
    assert found.text.confirmed
    assert {row.label for row in found.rows} == set("Curlew")


def test_blocked_glyphs_are_blockers_with_the_size_that_helps():
    found = survey(Selection(characters="*o"), 50.0)
    (blocker,) = survey_findings(found)
    assert blocker.severity is Severity.BLOCKER
    assert blocker.part == "*"
    (remedy,) = blocker.remedies
    assert remedy.value == found.rows[0].sizing.cap_height_mm > 50
    assert blocker.measured < blocker.limit


def test_fonts_are_compared_best_first_and_those_that_cannot_come_last():
    def entry(key, text="Godwit"):
        return LIBRARY.load(key), LetteringSpec(text, key, Size("em", 1.0), align="left")

    ranked = compare_fonts([entry(k) for k in ("great-vibes", "pacifico", "lobster")], terms())
    assert [c.font.key for c in ranked] == ["pacifico", "lobster", "great-vibes"]
    sizes = [c.sizing.cap_height_mm for c in ranked]
    assert sizes == sorted(sizes)
    lacking = compare_fonts([entry(k, "Đ漢") for k in ("oswald",)], terms())
    assert lacking[0].sizing is None
    assert "漢" in lacking[0].problem


@pytest.mark.parametrize("characters", ["A", "AB"])
def test_the_name_of_a_row_is_its_character(characters):
    assert {r.label for r in survey(Selection(characters=characters)).rows} == set(characters)
