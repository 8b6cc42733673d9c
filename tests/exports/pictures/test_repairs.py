"""Repairs as a picture: what was added in yellow, numbered as in the document."""

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from shapely import box

from exports.pixels import read_png
from exports.scene import HOSTILE, rack_sign
from letterply.exports.pictures.repairs import CHANGE_COLOUR, repair_picture, repair_summary
from letterply.exports.pictures.stack import png
from letterply.exports.primitives.palette import FINDING_COLOUR, rgb
from letterply.findings import Place
from letterply.shapes.regions import as_region
from letterply.stacks.model import Repair, RepairReport

NS = "{http://www.w3.org/2000/svg}"


def repaired(count=1, title="Knot rack sign"):
    """Return the sign with a piece 10 mm square added to its board, said `count` times."""
    stack = rack_sign(title=title)
    board = stack.layer("board")
    patch = as_region(box(100, 40, 110, 50))
    places = tuple(
        Repair("strengthen", Place("point", ((105.0, 45.0),)), patch, 1.25, 2.0, 3.0, 0.5)
        for _ in range(count)
    )
    before = as_region(shapely.difference(board.region, patch))
    report = RepairReport(before, 0.5, 1.25, 100.0, 0, 0, places)
    layers = [replace(la, repair=report) if la is board else la for la in stack.layers]
    return replace(stack, layers=tuple(layers))


def coloured(svg, colour):
    pixels = read_png(png(svg, 1000)).astype(int)
    return int((np.abs(pixels - np.array(rgb(colour))).max(axis=2) < 8).sum())


def test_the_addition_is_yellow_in_its_true_size():
    svg = repair_picture(repaired())
    root = ElementTree.fromstring(svg)
    width, height = (float(root.get(k).removesuffix("mm")) for k in ("width", "height"))
    per_mm = 1000 / width
    assert sum(p.get("fill") == CHANGE_COLOUR for p in root.iter(f"{NS}path")) == 1
    # The square's rim and number hide some of it, the swatch of the legend shows some more.
    assert 0.3 * 100 * per_mm**2 < coloured(svg, CHANGE_COLOUR) < 1.6 * 100 * per_mm**2
    assert height > 80


def test_nothing_is_vermillion_for_nothing_is_a_doubt():
    assert coloured(repair_picture(repaired()), FINDING_COLOUR) == 0


def test_only_repaired_layers_are_drawn():
    fills = [p.get("fill") for p in ElementTree.fromstring(repair_picture(repaired())).iter()]
    assert fills.count("#DEDBD4") == 1


def test_the_summary_is_the_description():
    words = (
        "1 place changed on 1 layer: outlines moved by up to 0.5 mm along strokes, 1.3 mm where "
        "strokes meet; 100 mm² were added."
    )
    assert repair_summary(repaired()) == words
    assert ElementTree.fromstring(repair_picture(repaired())).find(f"{NS}desc").text == words


def test_a_stack_without_repairs_says_so():
    svg = repair_picture(rack_sign())
    assert ElementTree.fromstring(svg).find(f"{NS}desc").text == "No outline was changed."
    assert coloured(svg, CHANGE_COLOUR) < 1000


@pytest.mark.parametrize("count", [40, 200])
def test_many_places_still_make_a_picture(count):
    svg = repair_picture(repaired(count))
    assert png(svg, 300).startswith(b"\x89PNG")


def test_hostile_words_are_harmless():
    ElementTree.fromstring(repair_picture(repaired(title=HOSTILE)))


def test_the_same_stack_gives_the_same_picture():
    assert repair_picture(repaired()) == repair_picture(repaired())
