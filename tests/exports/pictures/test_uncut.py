"""The picture of what each cutter leaves: a panel a cutter, in real size."""

import re

import pytest
from shapely import box

from letterply.catalogue.loading import load_catalogue
from letterply.checks.gaps.gaps import find_uncut
from letterply.exports.pictures.stack import png_within
from letterply.exports.pictures.uncut import uncut_picture
from letterply.exports.primitives.palette import FINDING_COLOUR
from letterply.stacks.model import Layer, Part, Stack

NOTCHED = box(0, 0, 40, 40).difference(box(10, 20, 30, 40))
"""A plate with a square notch: two inside corners."""

CATALOGUE = load_catalogue()
RACK = tuple(CATALOGUE.cutters[k] for k in ("flat-1", "flat-2", "flat-3175"))


def stack(shape=NOTCHED):
    return Stack("Oarlock", (Layer("plate", "mdf", 3.0, 0.0, (Part("plate.1", "plate", shape),)),))


def test_a_square_corner_keeps_what_geometry_says():
    """Two corners, each (1 - pi/4) r²; a larger cutter leaves more."""
    part = stack().layers[0].parts[0]
    areas = [leaving.region.area for leaving in find_uncut(part, RACK, 0.005)]
    expected = [2 * (1 - 3.14159265 / 4) * c.radius_mm**2 for c in RACK]
    assert areas == pytest.approx(expected, rel=0.05)
    assert areas == sorted(areas)


def test_each_cutter_has_a_panel_with_its_words_and_its_leftovers():
    svg = uncut_picture(stack(), {"plate": RACK})
    assert svg.count(f'fill="{FINDING_COLOUR}"') == 3
    assert png_within(svg, 400).startswith(b"\x89PNG")
    assert re.search(r"<title[^>]*>Oarlock: what each cutter leaves</title>", svg)


def test_what_is_reached_everywhere_has_nothing_to_fill():
    svg = uncut_picture(stack(box(0, 0, 30, 30)), {"plate": RACK[:1]})
    assert FINDING_COLOUR not in svg


def test_without_a_cutter_it_says_so():
    assert png_within(uncut_picture(stack(), {}), 300).startswith(b"\x89PNG")


def test_the_same_stack_gives_the_same_picture():
    assert uncut_picture(stack(), {"plate": RACK}) == uncut_picture(stack(), {"plate": RACK})
