"""Findings as a picture: numbered as in the document, marked in vermillion where they are."""

import itertools
from xml.etree import ElementTree

import numpy as np
import pytest

from exports.pixels import read_png
from exports.scene import findings, rack_sign
from letterply.exports.pictures.findings import findings_picture, measure_words, spread
from letterply.exports.pictures.marks import MOST_MARKS
from letterply.exports.pictures.stack import png
from letterply.exports.primitives.palette import FINDING_COLOUR, rgb
from letterply.findings import Finding, Place, Severity
from letterply.units import about_mm, format_exact, format_mm, speaking

NS = "{http://www.w3.org/2000/svg}"


def vermillion(svg: str) -> int:
    pixels = read_png(png(svg, 1000)).astype(int)
    return int((np.abs(pixels - np.array(rgb(FINDING_COLOUR))).max(axis=2) < 8).sum())


def test_findings_are_vermillion_and_nothing_else_is():
    assert vermillion(findings_picture(rack_sign(), ())) == 0
    assert vermillion(findings_picture(rack_sign(), findings())) > 500


def filled_layers(svg: str) -> int:
    paths = ElementTree.fromstring(svg).iter(f"{NS}path")
    return sum(p.get("fill") == "#DEDBD4" for p in paths)


def test_each_layer_with_a_place_has_its_panel():
    assert filled_layers(findings_picture(rack_sign(), findings())) == 3
    only = [f for f in findings() if f.layer == "ring"]
    assert filled_layers(findings_picture(rack_sign(), only)) == 1


def test_the_summary_is_the_description():
    root = ElementTree.fromstring(findings_picture(rack_sign(), findings()))
    assert root.find(f"{NS}desc").text.startswith("It cannot be cut as it is: 1 blocker")


def rects(svg: str) -> list[dict[str, float]]:
    """Return the shapes of numbers in drawing order."""
    root = ElementTree.fromstring(svg)
    return [
        {k: float(r.get(k)) for k in ("x", "y", "width", "height")}
        for r in root.iter(f"{NS}rect")
        if r.get("rx") is not None
    ]


def test_insets_and_the_list_lie_beside_the_panels_and_numbers_cover_no_other():
    found = findings()
    many = found + tuple(
        Finding(
            "slot", Severity.CAUTION, "A gap.", layer="face", measured=0.1 + n / 10,
            where=Place("point", ((60.0 + n, 45.0),)),
        )
        for n in range(14)
    )  # fmt: skip
    numbers = rects(findings_picture(rack_sign(), many))
    placed = sum(f.where is not None for f in many)
    assert placed > MOST_MARKS
    listed = len(many)
    assert len(numbers) == MOST_MARKS + 3 + listed
    for a, b in itertools.combinations(numbers, 2):
        beside = a["x"] + a["width"] <= b["x"] + 0.02 or b["x"] + b["width"] <= a["x"] + 0.02
        below = a["y"] + a["height"] <= b["y"] + 0.02 or b["y"] + b["height"] <= a["y"] + 0.02
        assert beside or below


def test_many_findings_at_one_place_still_make_a_picture():
    svg = findings_picture(rack_sign(), findings() * 60)
    assert png(svg, 300).startswith(b"\x89PNG")


def test_hostile_words_are_harmless():
    bad = Finding("neck", Severity.NOTE, "<b>\x00]]>", "<script>", "&")
    ElementTree.fromstring(findings_picture(rack_sign(title="<script>"), (bad,)))


def test_numbers_at_one_place_are_spread_apart():
    places = np.array(spread([(5.0, 5.0)] * 12, 2.0))
    gaps = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    assert gaps[~np.eye(12, dtype=bool)].min() > 1.75 * 2.0


@pytest.mark.parametrize(
    ("measured", "limit", "unit", "words"),
    [
        (1.234, 3.0, "mm", "1.23 mm, limit 3 mm"),
        (1.0, None, "N", "1 N"),
        (None, None, "mm", ""),
        (float("inf"), 2.0, "", "limit 2"),
    ],
)
def test_what_was_measured_is_said_with_its_unit(measured, limit, unit, words):
    finding = Finding("neck", Severity.NOTE, "", measured=measured, limit=limit, unit=unit)
    assert measure_words(finding) == words


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("write", [about_mm, format_mm, format_exact])
def test_figures_are_written_as_the_sentence_has_them(units, write):
    with speaking(units):
        measured, limit = write(1.5875), write(12.7049)
        why = f"a neck {measured} wide: at least {limit} is needed"
        finding = Finding("neck", Severity.NOTE, why, measured=1.5875, limit=12.7049)
        assert measure_words(finding) == f"{measured}, limit {limit}"
