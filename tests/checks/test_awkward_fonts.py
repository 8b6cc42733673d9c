"""Fonts made to be awkward: a finding, a row or a clear problem, never a crash or a hang."""

import json

import pytest

from awkward_fonts import CONTOURS, awkward, damaged, many_glyphs
from letterply.catalogue import load_catalogue
from letterply.errors import LetterplyError
from letterply.jobs.surveys import run_survey
from letterply.lettering import FontLibrary
from letterply.requests import SurveyRequest, read_request

EMPTY = {
    "line there and back",
    "one point",
    "two points",
    "all points the same",
    "three points in line",
}
"""What encloses nothing, and so is no ink. A square against itself is filled or not by the rule:
opposite windings add up to nought."""


def survey(data, tmp_path, **wishes):
    path = tmp_path / "own"
    path.write_bytes(data)
    asked = read_request(SurveyRequest, {"font": "own", **wishes})
    normal = asked.model_dump(mode="json")
    found = run_survey(asked, normal, load_catalogue(), FontLibrary({"own": str(path)}))
    return json.loads(found.artifacts["survey.json"])


def test_contours_of_all_kinds_are_surveyed(tmp_path):
    document = survey(awkward(), tmp_path, set="all")
    rows = {row["name"]: row for row in document["glyphs"]}
    for number, what in enumerate(CONTOURS):
        name = f"g{number}"
        if what in EMPTY or what == "a square against itself":
            assert name not in rows, what
        else:
            assert name in rows, what
            assert rows[name]["problem"] is None
    assert document["selection"]["blank"] == len(EMPTY) + 2  # and .notdef


def test_outlines_that_cross_or_touch_are_cleaned_by_the_nonzero_rule(tmp_path):
    rows = {r["name"]: r for r in survey(awkward(), tmp_path, set="all")["glyphs"]}
    pieces = {what: rows[f"g{n}"]["islands"] + 1 for n, what in enumerate(CONTOURS)
              if f"g{n}" in rows}  # fmt: skip
    assert pieces["bow tie"] == 2
    assert pieces["the same square twice"] == 1
    assert pieces["squares that share a side"] == 1
    assert pieces["squares that share a corner"] == 2
    assert pieces["five-pointed star in one stroke"] == 1


@pytest.mark.parametrize(
    ("wishes", "rows"),
    [
        ({"set": "latin-extended"}, 129),
        ({"set": "all", "count": 100}, 99),  # the first is .notdef, without ink
        ({"set": "all", "first": 59_900, "count": 2000}, 102),
        ({"characters": "一丁七"}, 3),
    ],
)
def test_sixty_thousand_glyphs_are_asked_for_by_the_page(wishes, rows, tmp_path):
    document = survey(many_glyphs(), tmp_path, **wishes)
    assert len(document["glyphs"]) == rows
    if wishes.get("set") == "all":
        assert document["selection"]["total"] == 60_002


DAMAGE = [
    ("glyf", 0, b"\xff" * 80),
    ("glyf", 2, b"\x7f\xff\x80\x00"),
    ("loca", 2, b"\xff" * 12),
    ("cmap", 0, b"\xff" * 20),
    ("maxp", 4, b"\xff\xff"),
    ("head", 18, b"\x00\x00"),
    ("head", 18, b"\x00\x01"),
    ("head", 50, b"\x00\x07"),
    ("hhea", 34, b"\xff\xff"),
    ("hmtx", 0, b"\xff" * 8),
    ("OS/2", 0, b"\xff" * 60),
    ("post", 0, b"\xff" * 16),
]


def outcome(data, tmp_path):
    """Return the code of the problem that a font is, or how many glyphs it gave."""
    try:
        return len(survey(data, tmp_path, set="all")["glyphs"])
    except LetterplyError as exc:
        return exc.code


@pytest.mark.parametrize(("table", "at", "change"), DAMAGE, ids=[f"{t}-{a}" for t, a, _ in DAMAGE])
def test_damaged_tables_are_refused_or_do_no_harm(table, at, change, tmp_path):
    found = outcome(damaged(awkward(), table, at, change), tmp_path)
    assert found == "font-unreadable" or found >= len(CONTOURS) - len(EMPTY) - 1


@pytest.mark.parametrize("share", [0.1, 0.35, 0.6, 0.85, 0.99])
def test_a_font_cut_short_is_refused(share, tmp_path):
    data = awkward()
    assert outcome(data[: int(len(data) * share)], tmp_path) == "font-unreadable"
