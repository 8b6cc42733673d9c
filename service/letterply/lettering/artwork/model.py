"""Artwork as it was read: shapes in the drawing's own pixels, y down, and what could not be read.

Terms of SVG: a *subpath* is one pen stroke of a path; *user units* are those in which a shape was
written; a *pixel* is 1/96 inch. A `Matrix` (a, b, c, d, e, f) takes user units to pixels:
x' = a x + c y + e, y' = b x + d y + f.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from letterply.errors import InputError
from letterply.shapes import SegmentTable

__all__ = [
    "IDENTITY",
    "PX_MM",
    "ROOM",
    "Artwork",
    "ArtworkError",
    "Bounds",
    "Clip",
    "FillRule",
    "LeftOut",
    "Matrix",
    "Shape",
    "Stroke",
    "Subpath",
    "compose",
]

Matrix = tuple[float, float, float, float, float, float]
Bounds = tuple[float, float, float, float]
FillRule = Literal["nonzero", "evenodd"]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

PX_MM = 25.4 / 96
"""Millimetres a pixel (CSS Values and Units, absolute lengths)."""

ROOM = "letters"
"""Id of the element whose box is the room for words; it is not cut itself."""


class ArtworkError(InputError):
    """A drawing that cannot be used."""


@dataclass(frozen=True, slots=True, eq=False)
class Subpath:
    """One stroke of the pen, in user units.

    Attributes:
        segments: its lines and curves.
        closed: whether the pen closed it.
        steps: how many segments each step of the path made: an arc makes several, closing where
            the pen already stands makes none. Empty for one each.
        goes_on: whether it begins where the one before it was closed, without a move.

    """

    segments: SegmentTable
    closed: bool
    steps: tuple[int, ...] = ()
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn, in user units; `dashes` is empty for a whole line.

    `path_length` is what the author takes the path's length to be, for dashes; None for its own.
    """

    width: float
    cap: Literal["butt", "round", "square"] = "butt"
    join: Literal["miter", "round", "bevel"] = "miter"
    miter_limit: float = 4.0
    dashes: tuple[float, ...] = ()
    dash_offset: float = 0.0
    path_length: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """What may be seen of a shape: what its own shapes fill, within its own clips.

    In a clip of `light`, black paint covers what was painted before it (CSS Masking 1, 7.10.1).
    """

    shapes: tuple[Shape, ...]
    clips: tuple[Clip, ...] = ()
    light: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One shape as painted.

    Attributes:
        subpaths: its outline, user units.
        matrix: user units to pixels.
        fill: rule by which it is filled, None when it is not.
        stroke: how its line is drawn, None when it is not.
        clips: all of them apply.
        names: ids of the element and of the groups it is in.
        fill_colour, stroke_colour: `#rrggbb`; empty for a gradient or pattern.

    """

    subpaths: tuple[Subpath, ...]
    matrix: Matrix
    fill: FillRule | None = None
    stroke: Stroke | None = None
    clips: tuple[Clip, ...] = ()
    names: tuple[str, ...] = ()
    fill_colour: str = ""
    stroke_colour: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something that could not be taken as it was drawn.

    Attributes:
        what: `text`, `image`, `mask` ...
        done: what was done instead, in words.
        count: how often.
        where: places, by id or line, the first few.
        remedy: what would help, in words.

    """

    what: str
    done: str
    count: int
    where: tuple[str, ...]
    remedy: str


@dataclass(frozen=True, slots=True, eq=False)
class Artwork:
    """A drawing as it was read.

    Attributes:
        key: name under which it was found.
        title: what it calls itself.
        size_px: width and height of its page; None when it does not say.
        to_px: coordinates as its author wrote them, on the page, to pixels.
        shapes: in the order in which they are painted, the room for words included.
        left_out: what could not be taken as drawn.
        ids: every id in it -> name of the element.

    """

    key: str
    title: str
    size_px: tuple[float, float] | None
    to_px: Matrix
    shapes: tuple[Shape, ...]
    left_out: tuple[LeftOut, ...] = ()
    ids: Mapping[str, str] = field(default_factory=dict)


def compose(outer: Matrix, inner: Matrix) -> Matrix:
    """Return the matrix that does `inner` first, then `outer`.

    >>> compose((2, 0, 0, 2, 0, 0), (1, 0, 0, 1, 3, 4))
    (2, 0, 0, 2, 6, 8)

    """
    a, b, c, d, e, f = outer
    g, h, i, j, k, m = inner
    return (
        a * g + c * h,
        b * g + d * h,
        a * i + c * j,
        b * i + d * j,
        a * k + c * m + e,
        b * k + d * m + f,
    )
