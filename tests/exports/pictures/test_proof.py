"""Proofs as pictures: depth as colour, faults in vermillion where they are."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from exports.pixels import read_png
from exports.scene import letter_sheet, proof
from letterply.catalogue.kept_clear import KeptClear
from letterply.exports.pictures.proof import proof_svg
from letterply.exports.pictures.stack import png_within
from letterply.exports.primitives.palette import FINDING_COLOUR, rgb
from letterply.exports.primitives.raster import (
    depth_colours,
    encode_png,
    grown,
    reduced,
    relief_pixels,
    shrunk,
)


def proof_picture(made, size_px):
    return png_within(proof_svg(made, letter_sheet(), size_px=size_px), size_px)


def vermillion(data: bytes) -> np.ndarray:
    pixels = read_png(data).astype(int)
    return np.abs(pixels - np.array(rgb(FINDING_COLOUR))).max(axis=2) < 10


def test_a_proof_that_passes_shows_no_vermillion():
    assert vermillion(proof_picture(proof(), 800)).sum() == 0


def test_a_gouge_is_painted_over():
    marked = vermillion(proof_picture(proof(passed=False), 800))
    per_mm = 800 / 200  # about; the picture is a little wider than the letters' 186 mm
    assert marked.sum() > 25 * per_mm**2 * 0.5


def test_clamps_and_screws_on_the_sheet_are_shown_where_they_are():
    sheet = letter_sheet()
    places = (
        KeptClear("clamp", 0, 20, 30, 15),
        KeptClear("screw", 60, 10, diameter_mm=6),
        KeptClear("cut", sheet.stock.width_mm - 1, sheet.stock.height_mm - 1, 1, 1),
    )
    clamped = replace(sheet, stock=replace(sheet.stock, keep_clear=places))
    drawn = proof_svg(proof(), clamped)
    kinds = re.findall('data-letterply-kept-clear="([a-z]+)"', drawn)
    assert kinds == ["clamp", "screw"]  # the other one lies beside what is shown of the sheet
    assert "kept-clear" not in proof_svg(proof(), sheet)


def test_the_longer_side_of_the_picture_is_as_long_as_asked_for():
    assert max(read_png(proof_picture(proof(), 640)).shape) == 640


def test_pictures_of_proofs_are_the_same_each_time():
    assert proof_picture(proof(), 300) == proof_picture(proof(), 300)


def test_what_is_through_is_dark_and_the_face_is_light():
    z = np.zeros((20, 20), dtype=np.float32)
    z[:, 10:] = -3.2
    pixels = relief_pixels(z, 0.5, 3.0)
    assert pixels[10, 2].mean() > 200
    assert pixels[10, 17].mean() < 40


def test_level_ground_has_its_colour_unshaded():
    z = np.full((5, 5), -1.5, dtype=np.float32)
    expected = depth_colours(np.array([0.5]))[0]
    assert np.abs(relief_pixels(z, 0.5, 3.0)[2, 2] - expected).max() < 1


def test_a_wall_facing_the_light_is_brighter_than_one_facing_away():
    x = np.arange(40, dtype=np.float32)
    ridge = -np.abs(x - 20) * 0.02  # rises from the left, falls to the right; light from the left
    pixels = relief_pixels(np.tile(ridge, (9, 1)).astype(np.float32), 0.1, 3.0)
    assert pixels[4, 10].mean() > pixels[4, 30].mean() + 5


def test_row_nought_is_the_lowest_in_the_field_and_the_last_in_the_picture():
    z = np.zeros((10, 10), dtype=np.float32)
    z[:3] = -5
    pixels = relief_pixels(z, 1.0, 3.0)
    assert pixels[-1].mean() < 60 < pixels[0].mean()


def test_lightness_falls_with_depth_so_that_grey_prints_keep_it():
    colours = depth_colours(np.linspace(0, 1, 50))
    lightness = colours @ np.array([0.2126, 0.7152, 0.0722])
    assert (np.diff(lightness) < 0).all()


@pytest.mark.parametrize("samples", [3, 4])
def test_an_encoded_png_is_read_back_by_another_program(samples):
    rng = np.random.default_rng(1)
    pixels = rng.integers(0, 256, (17, 23, samples)).astype(np.uint8)
    with Image.open(io.BytesIO(encode_png(pixels))) as image:
        image.verify()
    with Image.open(io.BytesIO(encode_png(pixels))) as image:
        assert (np.asarray(image) == pixels).all()


def test_what_are_no_pixels_is_refused():
    with pytest.raises(ValueError, match="pixels"):
        encode_png(np.zeros((3, 3, 2), dtype=np.uint8))


def test_reducing_keeps_the_mean_also_of_the_last_short_blocks():
    field = np.arange(35, dtype=np.float32).reshape(5, 7)
    small = reduced(field, 3)
    assert small.shape == (2, 3)
    assert small[0, 0] == field[:3, :3].mean()
    assert small[1, 2] == field[3:, 6:].mean()
    assert reduced(field, 1) is field


def test_growing_and_shrinking_move_the_edge_by_one_cell():
    flags = np.zeros((7, 7), dtype=bool)
    flags[2:5, 2:5] = True
    assert grown(flags).sum() == 25
    assert shrunk(flags).sum() == 1
    assert shrunk(np.ones((3, 3), dtype=bool)).all()
