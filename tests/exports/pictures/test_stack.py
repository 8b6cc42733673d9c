"""Pictures of stacks: what is on top hides what is below, holes show it, text needs no fonts."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from exports.pixels import read_png
from exports.scene import HOSTILE, catalogue, rack_sign
from letterply.errors import UnknownName
from letterply.exports.pictures.stack import png, stack_picture
from letterply.exports.primitives.palette import rgb
from letterply.stacks.model import Layer, Stack

NS = "{http://www.w3.org/2000/svg}"


def colours_at(svg: str, points: list[tuple[float, float]], z_mm: float) -> list[np.ndarray]:
    """Return colours at points of the stack, at a height, in an assembled picture.

    The frame is found from the picture itself: the face of the board is marked as such.
    """
    root = ElementTree.fromstring(svg)
    width = float(root.get("viewBox").split()[2])
    (face,) = [p for p in root.iter(f"{NS}path") if p.get("data-letterply-layer") == "board"]
    numbers = np.array(re.findall(r"-?[\d.]+", face.get("d")), float).reshape(-1, 2)
    left, top = numbers.min(axis=0)  # of the board: x = 0, y = 90, at its face, z = 9
    pixels = read_png(png(svg, 900))
    per_mm = 900 / width
    found = []
    for x, y in points:
        shift = 0.32 * (z_mm - 9)
        at_x, at_y = left + x - shift, top + (90 - y) - shift
        found.append(pixels[round(at_y * per_mm), round(at_x * per_mm)].astype(float))
    return found


def test_the_upper_layer_hides_the_lower_and_a_hole_shows_it():
    svg = stack_picture(rack_sign(), catalogue(), exploded=False)
    (ring,) = colours_at(svg, [(94.0, 75.0)], 15)
    assert np.abs(ring - rgb("#B08D62")).max() < 40
    through_ring = colours_at(svg, [(100.6, 75.6)], 15)[0]
    board = colours_at(svg, [(40.0, 20.0)], 9)[0]
    assert np.abs(through_ring - board).max() < 90
    (stem,) = colours_at(svg, [(24.0, 40.0)], 12)
    assert np.abs(stem - rgb("#2F6F8F")).max() < 60


def test_a_pocket_is_darker_than_its_face():
    svg = stack_picture(rack_sign(), catalogue(), exploded=False)
    pocket, face = colours_at(svg, [(153.0, 16.0), (140.0, 13.0)], 9)
    assert pocket.mean() < face.mean() - 15


def test_the_picture_is_in_real_size():
    root = ElementTree.fromstring(stack_picture(rack_sign(), catalogue(), exploded=False))
    x, y, width, height = root.get("viewBox").split()
    assert (x, y) == ("0", "0")
    assert root.get("width") == f"{width}mm"
    assert root.get("height") == f"{height}mm"
    assert 200 < float(width) < 300


@pytest.mark.parametrize("exploded", [False, True])
def test_no_text_depends_on_fonts(exploded):
    svg = stack_picture(rack_sign(), catalogue(), exploded=exploded)
    assert not list(ElementTree.fromstring(svg).iter(f"{NS}text"))


@pytest.mark.parametrize("exploded", [False, True])
def test_pictures_are_the_same_each_time(exploded):
    one = stack_picture(rack_sign(), catalogue(), exploded=exploded)
    assert one == stack_picture(rack_sign(), catalogue(), exploded=exploded)
    assert png(one, 300) == png(one, 300)


@pytest.mark.parametrize("exploded", [False, True])
def test_hostile_titles_are_harmless(exploded):
    svg = stack_picture(rack_sign(title=HOSTILE), catalogue(), exploded=exploded)
    root = ElementTree.fromstring(svg)
    assert not [e for e in root.iter() if "script" in e.tag.lower()]
    assert "<script>alert" in root.find(f"{NS}title").text
    assert png(svg, 200).startswith(b"\x89PNG")


@pytest.mark.parametrize("exploded", [False, True])
def test_a_very_long_title_stays_in_the_picture(exploded):
    plain = stack_picture(rack_sign(), catalogue(), exploded=exploded)
    long = stack_picture(rack_sign(title="Sanderling " * 200), catalogue(), exploded=exploded)
    sizes = [ElementTree.fromstring(s).get("viewBox") for s in (plain, long)]
    assert sizes[0] == sizes[1]


def test_layers_that_float_apart_do_not_hide_the_one_below_wholly():
    """Each colour of the three materials is seen in a good share of the picture."""
    svg = stack_picture(rack_sign(), catalogue(), exploded=True)
    pixels = read_png(png(svg, 600)).astype(int)
    for colour, least in (("#E2C391", 10_000), ("#B08D62", 60), ("#2F6F8F", 800)):
        near = np.abs(pixels - np.array(rgb(colour))).max(axis=2) < 14
        assert near.sum() > least


def test_a_stack_of_one_layer_needs_no_floating():
    stack = Stack("", (rack_sign().layers[0],))
    for exploded in (False, True):
        svg = stack_picture(stack, catalogue(), exploded=exploded)
        assert png(svg, 200).startswith(b"\x89PNG")


def test_a_sunk_layer_shows_neither_wall_nor_shadow():
    board = rack_sign().layers[0]
    ring = rack_sign().layers[1].parts
    sunk = Layer("ring", "mdf", 6.0, 3.0, ring)  # its top lies flush with the board
    proud = Layer("ring", "mdf", 6.0, 9.0, ring)
    bare, flush, above = (
        read_png(png(stack_picture(Stack("", layers), catalogue(), exploded=False), 900))[:220]
        for layers in ((board,), (board, sunk), (board, proud))
    )
    # The ring lies in the upper part of the board; the captions do not.
    wall = [dark(p) - dark(bare) for p in (flush, above)]
    assert wall[1] > 200
    assert wall[0] < 0.25 * wall[1]  # the outline of the ring is dark too, and stays


def dark(pixels: np.ndarray) -> int:
    """Return how many pixels are as dark as shaded walls, and darker than any face."""
    return int((pixels.astype(int).sum(axis=2) < 330).sum())


def test_a_material_that_is_not_there_is_named():
    stack = rack_sign()
    layer = Layer("board", "oak", 9.0, 0.0, stack.layers[0].parts)
    with pytest.raises(UnknownName, match="oak"):
        stack_picture(Stack("", (layer,)), catalogue(), exploded=False)


def test_a_png_has_the_width_that_was_asked_for_and_keeps_the_shape():
    svg = stack_picture(rack_sign(), catalogue(), exploded=False)
    _, _, width, height = map(float, ElementTree.fromstring(svg).get("viewBox").split())
    pixels = read_png(png(svg, 640))
    assert pixels.shape[1] == 640
    assert pixels.shape[0] == pytest.approx(640 * height / width, abs=1)


@pytest.mark.parametrize("bad", [0, -5, 100_000])
def test_a_senseless_width_is_refused(bad):
    with pytest.raises(ValueError, match="pixels wide"):
        png("<svg/>", bad)
