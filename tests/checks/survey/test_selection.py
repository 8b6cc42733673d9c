"""Which glyphs are looked at."""

import pytest

from letterply.checks.survey.selection import ALL, GLYPH_SETS, Selection, choose_glyphs
from letterply.errors import GlyphMissing, InputError, UnknownName
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests import GLYPH_SET_NAMES
from letterply.requests.survey import MAX_GLYPHS

LIBRARY = FontLibrary()
OSWALD = LIBRARY.load("oswald")


def test_the_sets_hold_what_their_names_say():
    assert GLYPH_SETS["digits"] == "0123456789"
    assert (*GLYPH_SETS, ALL) == GLYPH_SET_NAMES
    basic = GLYPH_SETS["latin-basic"]
    assert len(basic) == 94
    assert set("AZaz09&@") <= set(basic)
    assert set(basic) < set(GLYPH_SETS["latin-extended"])
    assert set("äßŁø") <= set(GLYPH_SETS["latin-extended"])


def test_a_set_gives_each_glyph_once_with_its_character():
    chosen = choose_glyphs(OSWALD, Selection(name="digits"))
    assert [text for _, text in chosen.glyphs] == list("0123456789")
    assert len({glyph for glyph, _ in chosen.glyphs}) == 10
    assert chosen.total == 10
    assert chosen.missing == ()


def test_characters_that_the_font_lacks_are_told_and_left_out():
    chosen = choose_glyphs(OSWALD, Selection(characters="A 漢B漢A"))
    assert [text for _, text in chosen.glyphs] == ["A", "B"]
    assert chosen.missing == ("漢",)


def test_a_text_gives_the_glyphs_that_shaping_chooses():
    chosen = choose_glyphs(LIBRARY.load("lobster"), Selection(text="Curlew\nKnot"))
    names = [LIBRARY.load("lobster").glyph_name(g) for g, _ in chosen.glyphs]
    assert names[0] == "C"
    assert len(names) == len(set(names))
    assert [text for _, text in chosen.glyphs][-1] == "t"
    with pytest.raises(GlyphMissing):
        choose_glyphs(OSWALD, Selection(text="漢"))


def test_every_glyph_comes_page_by_page():
    pages = [choose_glyphs(OSWALD, Selection(name=ALL, first=f, count=400)) for f in (0, 400, 800)]
    numbers = [glyph for page in pages for glyph, _ in page.glyphs]
    assert numbers == list(range(OSWALD.glyph_count))
    assert {page.total for page in pages} == {OSWALD.glyph_count}
    assert choose_glyphs(OSWALD, Selection(name=ALL, first=100_000)).glyphs == ()


def test_too_many_and_unknown_sets_are_refused_by_name():
    with pytest.raises(InputError) as many:
        choose_glyphs(OSWALD, Selection(name=ALL, count=MAX_GLYPHS + 1))
    assert (many.value.code, many.value.field) == ("too-many-glyphs", "count")
    with pytest.raises(UnknownName) as unknown:
        choose_glyphs(OSWALD, Selection(name="runes"), field="survey")
    assert (unknown.value.code, unknown.value.field) == ("unknown-set", "survey.set")
