"""The sheet of a survey: a cell a glyph, its weak spots in vermillion, its size beside it."""

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from exports.pixels import read_png
from letterply.catalogue.loading import load_catalogue
from letterply.checks.survey.selection import ALL, Selection
from letterply.checks.survey.survey import survey_font
from letterply.checks.survey.weakness import Terms
from letterply.exports.pictures.stack import png
from letterply.exports.pictures.survey import survey_picture
from letterply.exports.primitives.palette import FINDING_COLOUR, rgb
from letterply.lettering.fonts.library import FontLibrary

CATALOGUE = load_catalogue()
TERMS = Terms(
    CATALOGUE.material("acrylic-cast"), 3.0, (CATALOGUE.cutter("flat-1"),), supported=True
)


def survey(selection, cap_height=40.0, font="playfair-display"):
    return survey_font(FontLibrary().load(font), selection, TERMS, cap_height)


@pytest.fixture(scope="module")
def picture():
    return survey_picture(survey(Selection(characters="*eo8<")), "A summary & <more>.")


def circles(svg):
    return [e for e in ET.fromstring(svg).iter() if e.tag.endswith("circle")]


def test_every_glyph_has_a_cell_and_a_ring_at_its_weakest_spot(picture):
    root = ET.fromstring(picture)
    cells = [e for e in root.iter() if e.get("rx") == "1.2"]
    assert len(cells) == 5
    rings = circles(picture)
    assert len(rings) >= 5
    assert {ring.get("stroke") for ring in rings} == {FINDING_COLOUR}


def test_what_is_blocked_at_the_size_has_a_full_ring_and_the_rest_a_thin_one(picture):
    widths = sorted({ring.get("stroke-width") for ring in circles(picture)})
    assert widths == ["0.25", "0.6"]


def test_rings_lie_in_the_cell_of_their_glyph(picture):
    root = ET.fromstring(picture)
    boxes = [
        (float(e.get("x")), float(e.get("y")), float(e.get("width")), float(e.get("height")))
        for e in root.iter()
        if e.get("rx") == "1.2"
    ]
    for ring in circles(picture):
        x, y = float(ring.get("cx")), float(ring.get("cy"))
        assert any(a <= x <= a + w and b <= y <= b + h for a, b, w, h in boxes)


def test_it_renders_with_vermillion_on_it(picture):
    image = read_png(png(picture, 1800))
    near = np.abs(image.astype(int) - np.array(rgb(FINDING_COLOUR))).max(axis=2) < 40
    assert near.sum() > 50


def test_no_more_than_a_sheet_is_drawn_and_an_empty_survey_is_a_sheet_too():
    many = survey_picture(survey(Selection(name=ALL, first=30, count=100), font="oswald"), "Many.")
    assert sum(e.get("rx") == "1.2" for e in ET.fromstring(many).iter()) == 96
    none = survey_picture(survey(Selection(characters="漢")), "None.")
    assert circles(none) == []
