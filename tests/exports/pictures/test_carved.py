"""The carved sheet as a thing, and where it differs from the parts."""

from __future__ import annotations

import numpy as np
import pytest

from exports.pixels import read_png
from exports.scene import proof
from letterply.exports.pictures.carved import (
    carved_svg,
    carved_view,
    difference_pixels,
    difference_svg,
)
from letterply.exports.pictures.stack import png_within
from letterply.exports.primitives.palette import FINDING_COLOUR, STYLES, rgb

WOOD = "#B08D57"


def test_colours_of_differences() -> None:
    wanted = np.array([[0, 0, 0, np.nan, -2.0]], dtype=np.float32)
    carved = np.array([[-0.6, 0.6, -0.04, -3.0, -2.0]], dtype=np.float32)
    deep, high, near, free, right = difference_pixels(carved, wanted)[0].tolist()
    assert tuple(deep) == rgb(FINDING_COLOUR)
    assert tuple(high) == rgb(STYLES["drill"].colour)
    assert near == right
    assert free not in (near, deep, high)


def test_small_differences_are_seen_and_larger_ones_more() -> None:
    wanted = np.zeros((1, 3), dtype=np.float32)
    carved = np.array([[-0.06, -0.3, 0.0]], dtype=np.float32)
    slight, strong, none = difference_pixels(carved, wanted)[0].astype(int)
    away = [np.abs(p - none).sum() for p in (slight, strong)]
    assert 40 < away[0] < away[1]


def test_the_top_row_of_the_map_is_the_far_edge() -> None:
    wanted = np.zeros((4, 4), dtype=np.float32)
    carved = wanted.copy()
    carved[3, 0] = -1
    pixels = difference_pixels(carved, wanted)
    assert tuple(pixels[0, 0]) == rgb(FINDING_COLOUR)


def test_level_ground_has_one_colour_and_is_as_wide_as_the_field() -> None:
    view = carved_view(np.zeros((60, 80), dtype=np.float32), 0.1, 3.0, WOOD)
    assert view.shape[1] == 80
    seen = {tuple(p) for p in view[5:-25].reshape(-1, 3).tolist()}
    assert len(seen) == 1


def test_light_comes_from_the_left_and_from_behind() -> None:
    """A trench: its left wall throws a shadow on the floor beside it, the right part is lit."""
    z = np.zeros((80, 120), dtype=np.float32)
    z[:, 40:80] = -2.0
    view = carved_view(z, 0.1, 5.0, WOOD).astype(int).sum(axis=2)
    row = view[view.shape[0] // 2]
    assert row[43] < row[70] < row[10]


def test_a_near_step_hides_what_is_behind_it() -> None:
    """A pit 4 mm deep and 2 mm long: from the front its floor is out of sight, its wall is not."""
    z = np.zeros((100, 30), dtype=np.float32)
    z[40:60] = -4.0
    open_view = carved_view(np.zeros_like(z), 0.1, 5.0, WOOD)
    view = carved_view(z, 0.1, 5.0, WOOD)
    assert view.shape == open_view.shape
    changed = np.flatnonzero((view != open_view).any(axis=(1, 2)))
    # The far wall is seen over what the slope leaves of 2 mm: sin(52 degrees) of it.
    assert len(changed) == pytest.approx(20 * np.sin(np.radians(52)), abs=6)


def test_what_is_cut_through_is_dark() -> None:
    z = np.zeros((50, 50), dtype=np.float32)
    z[:, 20:30] = -3.2
    view = carved_view(z, 0.1, 3.0, WOOD).astype(int)
    middle = view[view.shape[0] // 2]
    assert middle[28].sum() < 0.5 * middle[5].sum()


@pytest.mark.parametrize("kind", ["carved", "difference"])
def test_pictures_are_the_same_each_time_and_can_be_drawn(kind: str) -> None:
    def make() -> str:
        if kind == "carved":
            return carved_svg(proof(), WOOD, size_px=300)
        return difference_svg(proof(passed=False), size_px=300)

    assert make() == make()
    assert max(read_png(png_within(make(), 500)).shape) == 500
