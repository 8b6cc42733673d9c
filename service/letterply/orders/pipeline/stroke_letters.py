"""A stroke alphabet for marks: text in, lines for a drag point out. Our own drawing.

Each sign stands on a grid 4 wide and 6 high; small letters are capitals at two thirds, so that
`a` and `A` differ. Other signs than letters, digits, `.`, `-` are left blank.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

__all__ = ["stroke_lines", "stroke_width"]

_GRID = 6.0
_ADVANCE = 5.5
_SMALL = 2 / 3

# Each sign: strokes set off by blanks, points as pairs of grid numbers.
_SIGNS = {
    "A": "002640 1232",
    "B": "00063645443303 3342413000",
    "C": "4536160501103041",
    "D": "00063645413000",
    "E": "40000646 0333",
    "F": "000646 0333",
    "G": "45361605011030414323",
    "H": "0006 4046 0343",
    "I": "2026 1636 1030",
    "J": "4641301001",
    "K": "0006 4602 1340",
    "L": "060040",
    "M": "0006234640",
    "N": "00064046",
    "O": "100105163645413010",
    "P": "00063645443303",
    "Q": "100105163645413010 2240",
    "R": "00063645443303 2340",
    "S": "453616050413334241301001",
    "T": "0646 2026",
    "U": "060110304146",
    "V": "062046",
    "W": "0610233046",
    "X": "0046 0640",
    "Y": "062346 2320",
    "Z": "06460040",
    "0": "100105163645413010 0145",
    "1": "152620 1030",
    "2": "05163645440040",
    "3": "051636454433234241301001",
    "4": "3036024242",
    "5": "460604344341301001",
    "6": "4536160501103041423303",
    "7": "064610",
    "8": "1304051636454433130201103041423313",
    "9": "011030414536160504133343",
    ".": "2021",
    "-": "1333",
}


def stroke_width(text: str, height_mm: float) -> float:
    """Return the width of a line of text, mm."""
    if not text:
        return 0.0
    return sum(_scale(c) * _ADVANCE for c in text[:-1]) * height_mm / _GRID + (
        _scale(text[-1]) * 4.0 * height_mm / _GRID
    )


def stroke_lines(text: str, height_mm: float) -> tuple[LineString, ...]:
    """Return a line of text as lines, its lower left at the origin; `height_mm` of a capital."""
    found: list[LineString] = []
    pen = 0.0
    for character in text:
        scale = _scale(character) * height_mm / _GRID
        found.extend(LineString(s * scale + (pen, 0.0)) for s in _strokes(character.upper()))
        pen += _ADVANCE * scale
    return tuple(found)


def _scale(character: str) -> float:
    return _SMALL if character.islower() else 1.0


@lru_cache(maxsize=128)
def _strokes(character: str) -> tuple[NDArray[np.float64], ...]:
    found = []
    for stroke in _SIGNS.get(character, "").split():
        points = np.array([float(digit) for digit in stroke]).reshape(-1, 2)
        found.append(points)
    return tuple(found)
