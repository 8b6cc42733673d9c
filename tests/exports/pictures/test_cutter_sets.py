"""The picture of sets of cutters side by side: one panel a set, what stays of the worst part."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from cutting.hand_made import corner_piece, disc, flat, part, region, sheet, shop
from letterply.catalogue.loading import load_catalogue
from letterply.cutting.plan import plan_sheet
from letterply.exports.pictures.cutter_sets import cutter_sets_picture
from letterply.exports.pictures.stack import png_within
from letterply.exports.primitives.palette import FINDING_COLOUR, STYLES
from letterply.stacks.work import Pocket

ONE, THREE, SIX = flat(1.0), flat(3.0), flat(6.0)


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


def planned(catalogue, *parts, cutters=(ONE, THREE, SIX)):
    return plan_sheet(sheet(*parts), shop(catalogue, *cutters), catalogue, 15.0)


def test_each_set_has_a_panel_and_the_chosen_one_a_frame(catalogue):
    plan = planned(catalogue, part(corner_piece()), part(disc(0, 0, 15), "board.Sora"))
    (choice,) = plan.choices
    svg = cutter_sets_picture(plan)
    assert svg.count("min with changes") >= len(choice.sets)
    assert svg.count(f'stroke="{STYLES["profile"].colour}"') == 1
    # Something stays in each of them, in the corner of the one part that has one.
    assert svg.count(f'fill="{FINDING_COLOUR}"') == len(choice.sets)
    assert "outlines, board.Knot: " in svg
    assert "board.Sora" not in svg
    ElementTree.fromstring(svg)


def test_floors_have_panels_of_their_own(catalogue):
    recess = Pocket(region(corner_piece().buffer(-3, join_style="mitre")), 2.0)
    plan = planned(catalogue, part(corner_piece(), pockets=(recess,)))
    assert [c.work for c in plan.choices] == ["outlines", "floors"]
    svg = cutter_sets_picture(plan)
    assert "pockets and floors" in svg
    assert svg.count(f'stroke="{STYLES["profile"].colour}"') == 2


def test_with_one_cutter_there_is_nothing_to_compare(catalogue):
    svg = cutter_sets_picture(planned(catalogue, part(corner_piece()), cutters=(SIX,)))
    assert re.search("nothing to compare", svg)
    assert png_within(svg, 200).startswith(b"\x89PNG")
