"""Places in words: a point of a letter in, "the tail of y" out. All mm, y up."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from letterply.findings import Place
from letterply.lettering import Letter
from letterply.said import Said, say
from letterply.shapes import Region
from letterply.stacks import Part, part_words

__all__ = [
    "letters_at",
    "name_glyph_place",
    "name_letter_place",
    "name_part_place",
    "name_place",
    "place_inside",
]

_TAILED = frozenset("gjpqyµçşţņ")
"""Letters that go below the baseline: the lowest third of such a part is its tail."""

_BELOW = 0.06
"""How far under the baseline a tail begins, as a share of the cap height."""

_NEAR = 1.5
"""A letter is at a place when it is nearer than this many of the place's widths."""

Point = tuple[float, float]


def place_inside(geometry: BaseGeometry) -> Place:
    """Return a point that lies on the geometry, as a place of a finding."""
    at = geometry.representative_point()
    return Place("point", ((float(at.x), float(at.y)),))


def name_place(at: Point, bounds: tuple[float, float, float, float], cap_height_mm: float) -> Said:
    """Return which part of a letter a point is in; the baseline is at y = 0.

    >>> name_place((10, -12), (0, -20, 30, 50), 70), name_place((28, 45), (0, 0, 30, 50), 70)
    ('the tail', 'the upper right')
    >>> name_place((15, 25), (0, 0, 30, 50), 70), name_place((15, 1), (0, 0, 30, 50), 70)
    ('the middle', 'the foot')

    """
    left, low, right, high = bounds
    x, y = at
    if y < -_BELOW * cap_height_mm:
        return say("the tail")
    low = max(low, 0.0)
    across = _third(x, left, right)
    upward = _third(y, low, high)
    if across == 1:
        return (say("the foot"), say("the middle"), say("the top"))[upward]
    if across == 0:
        return (say("the lower left"), say("the left"), say("the upper left"))[upward]
    return (say("the lower right"), say("the right"), say("the upper right"))[upward]


def _third(value: float, low: float, high: float) -> int:
    share = (value - low) / (high - low) if high > low else 0.5
    return min(max(int(3 * share), 0), 2)


def name_part_place(part: Part, at: Point) -> Said:
    """Return where a point of a part is: `at the tail of the y on the face layer`.

    A part knows its outline and no baseline: the thirds are those of the box round it.
    """
    left, low, right, high = part.outline.bounds
    x, y = at[0], max(at[1] - low, 0.0)
    if part.letters in _TAILED and _third(y, 0.0, high - low) == 0:
        where = say("the tail")
    else:
        where = name_place((x, y), (left, 0.0, right, high - low), 0.0)
    if where == "the middle":
        return say("in the middle of {part}", part=part_words(part))
    return say("at {where} of {part}", where=where, part=part_words(part))


def letters_at(letters: Sequence[Letter], at: Point, width_mm: float) -> tuple[int, ...]:
    """Return the places in `letters` of those at a point, nearest first; at least one."""
    point = shapely.Point(at)
    away = [float(shapely.distance(x.region, point)) for x in letters]
    order = sorted(range(len(letters)), key=lambda i: (away[i], i))
    near = [i for i in order if away[i] <= _NEAR * width_mm]
    return tuple(near[:2] or order[:1])


def name_letter_place(
    letters: Sequence[Letter], at: Point, width_mm: float, cap_height_mm: float, kind: str
) -> str:
    """Return a place in a text in words: `the tail of y`, `the join of v and o`.

    Args:
        letters: as set, upright, in reading order.
        at: the place.
        width_mm: how wide the ink or the gap is there.
        cap_height_mm: height of a flat capital.
        kind: of the weak spot; a `counter` is named as one.

    """
    near = letters_at(letters, at, width_mm)
    names = [letters[i].text for i in sorted(near)]
    if kind != "counter" and len(near) == 2 and names[0] != names[1] and _meet(letters, near):
        return f"the join of {names[0]} and {names[1]}"
    letter = letters[near[0]]
    x, y = at
    left, low, right, high = letter.region.bounds
    return name_glyph_place(
        letter.text,
        (x, y - letter.y_mm),
        (left, low - letter.y_mm, right, high - letter.y_mm),
        cap_height_mm,
        kind,
        _holes(letter.region),
    )


def name_glyph_place(
    text: str,
    at: Point,
    bounds: tuple[float, float, float, float],
    cap_height_mm: float,
    kind: str,
    counters: int,
) -> str:
    """Return a place in one letter in words, with the letter; its baseline is at y = 0."""
    if kind == "whole":
        return f"all of {text}"
    where = name_place(at, bounds, cap_height_mm)
    if kind == "counter":
        return f"the counter of {text}" if counters < 2 else f"the counter at {where} of {text}"
    return f"{where} of {text}"


def _meet(letters: Sequence[Letter], pair: Sequence[int]) -> bool:
    a, b = (letters[i].region for i in pair)
    return bool(a.intersects(b))


def _holes(region: Region) -> int:
    return sum(len(piece.interiors) for piece in region.geoms)
