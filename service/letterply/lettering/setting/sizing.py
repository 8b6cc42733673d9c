"""How large: the scale at which lettering has the size that was asked for.

Heights of letters follow from the font at once. Sizes of the ink are found by halving: the largest
scale at which the ink fits, to a part in 1e12, whatever baseline, tracking and lines do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from letterply.errors import InputError
from letterply.lettering.fonts.font import Font
from letterply.lettering.setting.clusters import Line
from letterply.lettering.setting.placing import Places, TooLong, place_lines
from letterply.lettering.setting.spec import LetteringSpec
from letterply.units import about_mm, format_mm, format_sides

__all__ = ["MAX_EM_MM", "MIN_EM_MM", "ink_size", "solve_scale"]

_Floats = NDArray[np.float64]

MAX_EM_MM = 3000.0
MIN_EM_MM = 0.5
_NO_ROOM = 1e-6
"""Room of less than this share of a box is none: its width is reached."""

_EXACTLY = 1e-12
"""A size is halved down to this share of it: to the last bits that a float has."""


def solve_scale(
    spec: LetteringSpec, fonts: Sequence[Font], lines: Sequence[Line], field: str
) -> float:
    """Return mm a unit of the first font.

    Raises:
        InputError: `bad-size` when no size of letters fits, or it is absurd.
        GeometryError: `baseline-too-short` when the baseline ends before the size is reached.

    """
    size, font = spec.size, fonts[0]
    if size.kind in ("em", "cap_height", "x_height"):
        units = {
            "em": float(font.units_per_em),
            "cap_height": font.cap_height,
            "x_height": font.x_height,
        }[size.kind]
        scale = size.first_mm / units
    else:
        ink = _Ink(spec, fonts, lines)
        boxes = [(size.first_mm, size.second_mm)]
        if size.kind == "largest":
            boxes.append((size.second_mm, size.first_mm))
        scale = max(_largest(ink, spec, box, font.units_per_em, field) for box in boxes)
    em_mm = scale * font.units_per_em
    if not MIN_EM_MM <= em_mm <= MAX_EM_MM:
        raise InputError(
            f"The size makes letters with an em of {about_mm(em_mm)}.",
            code="bad-size",
            field=f"{field}.size",
            expected=f"an em between {format_mm(MIN_EM_MM)} and {format_mm(MAX_EM_MM)}",
        )
    return scale


def ink_size(
    spec: LetteringSpec, fonts: Sequence[Font], lines: Sequence[Line], scale: float
) -> tuple[float, float]:
    """Return width and height of the ink at a scale, mm."""
    width, height, _ = _Ink(spec, fonts, lines).measure(scale)
    return width, height


def _largest(
    ink: _Ink, spec: LetteringSpec, box: tuple[float, float], units_per_em: int, field: str
) -> float:
    """Return the largest scale at which the ink fits, by doubling and halving."""
    kind = spec.size.kind

    def room(scale: float) -> float:
        """Return how far the ink is from not fitting; below 0 it does not."""
        width, height, reach = ink.measure(scale)
        if kind == "width":
            return box[0] - width
        if kind == "fit_disc":
            return box[0] / 2 - reach
        return min(box[0] - width, box[1] - height)

    def fits(scale: float) -> bool:
        try:
            return room(scale) >= 0
        except TooLong:
            return False

    low = MIN_EM_MM / 10 / units_per_em
    if not fits(low):
        raise InputError(
            "No size of letters fits: the tracking or the baseline alone takes all the space.",
            code="bad-size",
            field=f"{field}.size",
            expected="less tracking, another baseline or more space",
        )
    high = 2 * low
    while fits(high) and high * units_per_em < 2 * MAX_EM_MM:
        low, high = high, 2 * high
    low = _halved(fits, low, high)
    if kind == "width" and low * units_per_em < MAX_EM_MM and room(low) > _NO_ROOM * box[0]:
        try:
            ink.measure(low * 1.001)
        except TooLong as exc:
            raise exc.error(field) from None
        raise InputError(
            f"On this baseline the ink is never {format_mm(box[0])} wide.",
            code="bad-size",
            field=f"{field}.size",
            expected=f"at most {format_sides(box[0] - room(low))}, or another kind of size",
        )
    return low


def _halved(fits: Callable[[float], bool], low: float, high: float) -> float:
    while high - low > _EXACTLY * high:
        middle = (low + high) / 2
        if fits(middle):
            low = middle
        else:
            high = middle
    return low


class _Ink:
    """The corners of what is inked, to be measured at any scale."""

    def __init__(self, spec: LetteringSpec, fonts: Sequence[Font], lines: Sequence[Line]) -> None:
        self._spec, self._lines = spec, lines
        self._em = fonts[0].units_per_em
        corners: list[_Floats] = []
        owners: list[NDArray[np.int64]] = []
        number = 0
        for line in lines:
            for cluster in line.clusters:
                for place, glyph, x, y in cluster.glyphs:
                    font = fonts[place]
                    hull = font.hull(glyph) * (self._em / font.units_per_em) + (x, y)
                    corners.append(hull)
                    owners.append(np.full(len(hull), number))
                number += 1
        self._corners = np.vstack(corners)
        self._owners = np.concatenate(owners)

    def measure(self, scale: float) -> tuple[float, float, float]:
        """Return width and height of the ink, and its farthest reach from the middle of its box.

        Raises:
            TooLong: from a baseline that does not hold the text.

        """
        places = place_lines(self._lines, self._spec, scale, scale * self._em)
        points = _turned(self._corners * scale, places, self._owners)
        low, high = points.min(axis=0), points.max(axis=0)
        away = points - (low + high) / 2
        width, height = (high - low).tolist()
        return width, height, math.sqrt(float((away**2).sum(axis=1).max()))


def _turned(corners: _Floats, places: Places, owners: NDArray[np.int64]) -> _Floats:
    cos, sin = np.cos(places.angles)[owners], np.sin(places.angles)[owners]
    x = corners[:, 0] * cos - corners[:, 1] * sin
    y = corners[:, 0] * sin + corners[:, 1] * cos
    turned: _Floats = np.column_stack((x, y)) + places.points[owners]
    return turned
