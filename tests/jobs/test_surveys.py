"""Surveys as jobs: one form of a request, every mistake named, the same bytes each time."""

import json

import pytest

from jobs.whole import all_files
from letterply.errors import GlyphMissing, InputError
from letterply.jobs.headline import DOCUMENTS, headline_of
from letterply.jobs.resources import Resources
from letterply.jobs.run import normalise_request
from letterply.lettering.fonts.library import font_digest, shipped_faces

SIZE = {"cap_height": "30 mm", "material": "acrylic-cast", "thickness": "3 mm"}
DIGITS = {"font": "oswald", "set": "digits", **SIZE}


def normal(**request):
    return normalise_request("survey", request)


def ran(request, **resources):
    return all_files("survey", request, Resources(**resources))


def test_a_request_has_one_form_however_it_is_written():
    one = normal(font="oswald", thickness="1/8 in", cutters="flat-1")
    two = normal(cutters=["flat-1"], thickness=3.175, font="oswald", set="latin-basic")
    assert one == two
    assert one["thickness"] == 3.175
    assert normalise_request("survey", one) == one
    json.dumps(one)


@pytest.mark.parametrize(
    ("request_", "code", "field"),
    [
        ({}, "missing-field", "font"),
        ({"font": ""}, "empty-value", "font"),
        ({"font": 7}, "bad-value", "font"),
        ({"font": "oswald", "glyphs": "all"}, "unknown-field", "glyphs"),
        ({"font": "oswald", "set": "runes"}, "unknown-set", "set"),
        ({"font": "oswald", "set": ["digits"]}, "bad-value", "set"),
        ({"font": "oswald", "set": "digits", "text": "27"}, "bad-value", "text"),
        ({"font": "oswald", "text": "   "}, "bad-value", "text"),
        ({"font": "oswald", "text": "A" * 2001}, "too-long", "text"),
        ({"font": "oswald", "characters": "".join(map(chr, range(0x4E00, 0x4E00 + 2001)))},
         "too-many-glyphs", "characters"),
        ({"font": "oswald", "count": 2001}, "too-many-glyphs", "count"),
        ({"font": "oswald", "count": 10**30}, "too-many-glyphs", "count"),
        ({"font": "oswald", "count": 0}, "out-of-range", "count"),
        ({"font": "oswald", "count": True}, "bad-value", "count"),
        ({"font": "oswald", "first": -1}, "out-of-range", "first"),
        ({"font": "oswald", "compare": ["lobster"]}, "missing-field", "text"),
        ({"font": "oswald", "text": "K", "compare": ["lobster"] * 21}, "too-long", "compare"),
        ({"font": "oswald", "text": "K", "compare": [7]}, "bad-value", "compare.0"),
        ({"font": "oswald", "thickness": "3 parsec"}, "unknown-unit", "thickness"),
        ({"font": "oswald", "thickness": 0}, "out-of-range", "thickness"),
        ({"font": "oswald", "cap_height": "9 km"}, "unknown-unit", "cap_height"),
        ({"font": "oswald", "cap_height": 1e9}, "out-of-range", "cap_height"),
        ({"font": "oswald", "supported": "yes"}, "bad-value", "supported"),
        ({"font": "oswald", "axes": [700]}, "bad-value", "axes"),
        ({"font": "oswald", "axes": {"wght": "bold"}}, "bad-value", "axes.wght"),
        ({"font": "oswald", "cutters": {"a": 1}}, "bad-value", "cutters"),
    ],
)  # fmt: skip
def test_every_mistake_names_its_field(request_, code, field):
    with pytest.raises(InputError) as caught:
        normalise_request("survey", request_)
    assert (caught.value.code, caught.value.field) == (code, field)
    assert caught.value.expected


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"font": "no-such-font"}, "unknown-font", "font"),
        ({"axes": {"slnt": 3}}, "unknown-axis", "axes.slnt"),
        ({"axes": {"wght": 5000}}, "axis-out-of-range", "axes.wght"),
        ({"material": "cheese"}, "unknown-material", "material"),
        ({"cutters": ["flat-1", "flat-99"]}, "unknown-cutter", "cutters.1"),
        ({"set": None, "text": "K", "compare": ["nope"]}, "unknown-font", "compare.0"),
    ],
)
def test_names_that_are_not_there_are_told_when_it_runs(change, code, field):
    with pytest.raises(InputError) as caught:
        ran({**DIGITS, **change})
    assert (caught.value.code, caught.value.field) == (code, field)


def test_a_text_that_the_font_lacks_is_told():
    with pytest.raises(GlyphMissing) as caught:
        ran({**DIGITS, "set": None, "text": "Reihe 鷸"})
    assert caught.value.field == "text"


def test_a_survey_is_documents_tables_and_pictures_and_repeats_exactly():
    files = ran(DIGITS)
    assert set(files) == {
        "request.json", "survey.json", "survey.csv", "survey.svg", "survey.png", "findings.json",
    }  # fmt: skip
    assert files == ran(DIGITS)
    document = json.loads(files["survey.json"])
    assert {row["text"] for row in document["glyphs"]} == set("0123456789")
    headline = headline_of("survey", normalise_request("survey", DIGITS), files)
    assert headline["title"] == "Survey of oswald"
    assert headline["summary"] == document["summary"]
    assert headline["ready"] is (headline["counts"]["blocker"] == 0)
    assert DOCUMENTS.keys() == {"stack", "check", "plan", "survey", "size", "test-piece"}


def test_fonts_are_compared_for_a_text():
    request = {"font": "lobster", "text": "Knot", "compare": ["pacifico"], **SIZE}
    files = ran(request)
    document = json.loads(files["survey.json"])
    assert {entry["font"] for entry in document["comparison"]} == {"lobster", "pacifico"}
    assert document["text"]["confirmed"] is True
    assert files["comparison.csv"].startswith(b"rank,font,")
    headline = headline_of("survey", normalise_request("survey", request), files)
    assert headline["title"] == "Survey of lobster for 'Knot'"


def test_ready_is_at_the_size_that_was_asked_about():
    def blockers(size):
        files = ran({**DIGITS, "cap_height": size, "supported": True})
        return json.loads(files["findings.json"])["counts"]["blocker"]

    assert blockers("100 mm") == 0
    assert blockers("4 mm") == 10


def test_an_own_font_is_found_by_its_id_and_a_broken_one_is_told(tmp_path):
    data = shipped_faces()["oswald"].path.read_bytes()
    whole, broken = tmp_path / "whole", tmp_path / "broken"
    whole.write_bytes(data)
    broken.write_bytes(data[:20_000])
    key = font_digest(data)
    files = ran({**DIGITS, "font": key}, font_files={key: str(whole)})
    assert json.loads(files["survey.json"])["font"]["family"] == "Oswald"
    with pytest.raises(InputError) as caught:
        ran({**DIGITS, "font": "own-broken"}, font_files={"own-broken": str(broken)})
    assert caught.value.field == "font"
