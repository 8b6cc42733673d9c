"""A survey as JSON and CSV: complete, readable back, safe in a spreadsheet."""

import csv
import dataclasses
import io
import json

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.checks.survey.selection import Selection
from letterply.checks.survey.survey import SurveyRow, compare_fonts, survey_font
from letterply.checks.survey.weakness import Terms
from letterply.exports.documents.documents import (
    comparison_csv,
    survey_csv,
    survey_document,
    to_json,
)
from letterply.lettering import describe
from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size

CATALOGUE = load_catalogue()
LIBRARY = FontLibrary()
TERMS = Terms(
    CATALOGUE.material("acrylic-cast"), 3.0, (CATALOGUE.cutter("flat-1"),), supported=True
)


def spec(text, font):
    return LetteringSpec(text, font, Size("em", 1.0), align="left")


@pytest.fixture(scope="module")
def survey():
    return survey_font(
        LIBRARY.load("playfair-display"), Selection(characters="=+@*eio漢"), TERMS, 40.0
    )


@pytest.fixture(scope="module")
def compared():
    fonts = [(LIBRARY.load(k), spec("Knot", k)) for k in ("oswald", "lobster")]
    return compare_fonts(fonts, TERMS)


def test_the_document_reads_back_and_begins_with_a_summary(survey, compared):
    document = survey_document(survey, compared)
    again = json.loads(to_json(document))
    assert next(iter(again)) == "summary"
    assert again == json.loads(json.dumps(document))
    assert "7 glyphs for 3 mm cast acrylic and a cutter of 1 mm" in again["summary"]
    assert again["selection"]["missing"] == ["漢"]
    assert again["terms"]["least_width_mm"] == 3.0
    assert [row["rank"] for row in again["glyphs"]] == list(range(1, 8))


def test_the_licence_is_told_with_the_caution_for_goods_made_for_sale(survey):
    licence = survey_document(survey)["licence"]
    assert "Open Font License" in licence["licence"]
    assert licence["embedding"]
    assert "goods made for sale" in licence["licence_caution"].lower()


def test_a_row_says_where_how_wide_and_how_strong(survey):
    row = survey_document(survey)["glyphs"][0]
    assert row["text"] == "*"
    assert row["codepoints"] == ["U+002A"]
    x, y = row["at_em"]
    assert 0 < x < 0.6
    assert 0.3 < y < 0.9
    assert row["load_n"] == pytest.approx(1.0, rel=0.05)
    assert row["blocked"] is True
    assert row["smallest_cap_height_mm"] > 40


def test_the_table_has_a_row_a_glyph_and_holds_no_formula(survey):
    rows = list(csv.DictReader(io.StringIO(survey_csv(survey).decode())))
    assert len(rows) == 7
    for row in rows:
        for cell in row.values():
            assert not cell.startswith(("=", "+", "-", "@"))
    by_name = {row["name"]: row for row in rows}
    assert by_name["at"]["text"] == "'@"
    assert by_name["i"]["islands"] == "1"
    document = survey_document(survey)
    sizes = [str(r["smallest_cap_height_mm"]) for r in document["glyphs"]]
    assert [r["smallest_cap_height_mm"] for r in rows] == sizes


def test_fonts_compared_are_a_table_of_their_own(survey, compared):
    rows = list(csv.DictReader(io.StringIO(comparison_csv(compared).decode())))
    assert [r["font"] for r in rows] == [c.font.key for c in compared]
    document = survey_document(survey, compared)
    best = describe(compared[0].font)
    assert f"{best['family']} {best['style']} can be cut smallest" in document["summary"]


def test_an_outline_that_cannot_be_read_is_a_row(survey):
    broken = SurveyRow(9, "three", "3", None, None, problem="A glyph has an open contour.")

    with_it = dataclasses.replace(survey, rows=(broken, *survey.rows))
    document = survey_document(with_it)
    assert document["glyphs"][0]["problem"] == "A glyph has an open contour."
    assert document["glyphs"][0]["smallest_cap_height_mm"] is None
    assert "1 outline cannot be read." in document["summary"]


def test_the_weakest_are_told_branch_by_branch(survey):
    glyphs = survey_document(survey)["glyphs"]
    assert all(glyph["branches"] for glyph in glyphs[:100])
    for glyph in glyphs:
        for kind, told in glyph["branches"].items():
            assert kind in {"spur", "tip", "neck", "uniform", "serif", "through"}
            assert told["count"] >= 1
            assert 0 <= told["least_em"] < 1
