"""Artwork at a size: a drawing in, a region in mm out, its lower left at the origin, y up."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import shapely
from shapely.affinity import affine_transform, translate

from letterply.errors import GeometryError, InputError
from letterply.lettering.artwork.drawing import box_px, draw, line_px, paints_ground, room_px
from letterply.lettering.artwork.model import PX_MM, Artwork, Bounds
from letterply.lettering.artwork.outlines import SHAPES
from letterply.requests import WHITE
from letterply.shapes import (
    LEAST_DIVISOR,
    ROUNDING,
    SAME_MM,
    Region,
    Tolerances,
    as_region,
    normalise,
)
from letterply.units import about_mm, format_mm

__all__ = ["ArtworkSize", "ArtworkSpec", "SetArtwork", "ink_px", "line_points", "set_artwork"]

_MAX_MM = 5000.0
_LEAST_MM = 0.1
_LINE_MM = 1e-5
"""How far chords may stray from a line of a drawing that is a baseline: letters take their turn
from a chord, which is off by 0.04 degrees then on a bend of 50 mm."""

_PROBE_MM = 200.0
_PROBE_TOLERANCE_MM = 0.002
"""The ink is measured on a drawing of about 200 mm, to a hundred-thousandth of that."""


@dataclass(frozen=True, slots=True)
class ArtworkSize:
    """How large: exactly one kind.

    Attributes:
        kind: `natural` as the drawing says (96 px an inch); `width` or `height` of the ink;
            `fit`, the ink inside a box; `scale` times its natural size; `known`, so that two
            points of the drawing are a known length apart.
        first_mm: the length; the width of the box; the factor of `scale`.
        second_mm: the height of the box.
        ends: of `known`: two points in the coordinates of the drawing.

    """

    kind: Literal["natural", "width", "height", "fit", "scale", "known"] = "natural"
    first_mm: float = 0.0
    second_mm: float = 0.0
    ends: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 0.0), (0.0, 0.0))


@dataclass(frozen=True, slots=True)
class ArtworkSpec:
    """How a drawing is to be set.

    Attributes:
        size: how large.
        only: ids of elements or groups, and colours `#rrggbb`, that are taken; none for all.
        turn_deg: counter-clockwise, after it has its size.
        mirror: left for right, before it is turned.
        ground: colour of the page, `#rrggbb`, whose paint leaves holes; empty for none.

    """

    size: ArtworkSize = field(default_factory=ArtworkSize)
    only: tuple[str, ...] = ()
    turn_deg: float = 0.0
    mirror: bool = False
    ground: str = WHITE


@dataclass(frozen=True, slots=True, eq=False)
class SetArtwork:
    """A drawing at its size.

    Attributes:
        artwork: the drawing.
        region: what it fills, lower left at the origin.
        room: box of the room for words; None without one.
        scale: against its natural size.
        bare_mm2: area that is painted in the colour of the ground and so is not filled.

    """

    artwork: Artwork
    region: Region
    room: Bounds | None
    scale: float
    bare_mm2: float = 0.0


def ink_px(
    artwork: Artwork, only: tuple[str, ...] = (), *, ground: str = WHITE, where: str = "only"
) -> Region:
    """Return what a drawing fills in pixels, y up, to a hundred-thousandth of its size.

    Raises:
        InputError: `artwork-empty` when nothing of it is to be cut, `unknown-element`.

    """
    _known(artwork, only, where)
    box = box_px([s for s in artwork.shapes if s.fill or s.stroke])
    extent = max(box[2] - box[0], box[3] - box[1]) if box is not None else 0.0
    widest = max((s.stroke.width for s in artwork.shapes if s.stroke), default=0.0)
    probe = _PROBE_MM / max(extent, widest, SAME_MM)
    found = draw(artwork, probe, _PROBE_TOLERANCE_MM, only, ground)
    if found.is_empty:
        raise InputError(
            "Nothing of the drawing is left to be cut.",
            code="artwork-empty",
            field=where,
            expected="shapes with a fill or a line that are not clipped away",
        )
    return as_region(affine_transform(found, (1 / probe, 0, 0, 1 / probe, 0, 0)))


def _known(artwork: Artwork, only: tuple[str, ...], where: str) -> None:
    colours = {c for s in artwork.shapes for c in (s.fill_colour, s.stroke_colour) if c}
    for name in only:
        if name not in artwork.ids and name not in colours:
            known = [*sorted(artwork.ids), *sorted(colours)]
            raise InputError(
                f"The drawing has no element or colour {name!r}.",
                code="unknown-element",
                field=where,
                expected=f"one of: {', '.join(known[:20])}" if known else "none: it has no ids",
                data={"known": known[:200]},
            )


def set_artwork(
    artwork: Artwork, spec: ArtworkSpec, tolerances: Tolerances, *, path: str = "artwork"
) -> SetArtwork:
    """Return a drawing at its size.

    Raises:
        InputError: `artwork-empty`, `unknown-element`, `bad-size`.
        ArtworkError: `artwork-too-complex`.

    """
    ink = ink_px(artwork, spec.only, ground=spec.ground, where=f"{path}.only")
    scale = _scale(artwork, spec.size, ink.bounds, f"{path}.size")
    longest = scale * max(ink.bounds[2] - ink.bounds[0], ink.bounds[3] - ink.bounds[1])
    if not _LEAST_MM <= longest <= _MAX_MM:
        raise InputError(
            f"The size makes a drawing of {about_mm(longest)}.",
            code="bad-size",
            field=f"{path}.size",
            expected=f"between {format_mm(_LEAST_MM)} and {format_mm(_MAX_MM)}",
        )
    try:
        region = draw(artwork, scale, tolerances.flatten_mm, spec.only, spec.ground)
        bare = _bare(artwork, scale, tolerances, spec, region)
    except GeometryError as exc:
        raise (exc if exc.field else exc.at(path)) from exc
    matrix = _turned(spec)
    region = as_region(affine_transform(region, matrix))
    room = room_px(artwork)
    moved: Bounds | None = None
    left, low, _, _ = region.bounds
    if room is not None:
        right, top = scale * room[2], -scale * room[1]
        box = shapely.box(scale * room[0], -scale * room[3], right, top)
        moved = translate(affine_transform(box, matrix), -left, -low).bounds
    placed = normalise(translate(region, -left, -low))
    return SetArtwork(artwork, placed, moved, scale / PX_MM, bare)


def _bare(
    artwork: Artwork, scale: float, tolerances: Tolerances, spec: ArtworkSpec, ink: Region
) -> float:
    """Return the area that only paint in the colour of the ground would fill, mm²."""
    if any(name.startswith("#") for name in spec.only):
        return 0.0  # what is seen of colours was asked for
    if not paints_ground(artwork.shapes, spec.ground):
        return 0.0
    every = draw(artwork, scale, tolerances.flatten_mm, spec.only, "")
    return float(every.area - ink.area)


def _turned(spec: ArtworkSpec) -> tuple[float, float, float, float, float, float]:
    turn = math.radians(spec.turn_deg)
    # Quarter turns are exact.
    cos, sin = (round(v, 15) for v in (math.cos(turn), math.sin(turn)))
    flip = -1.0 if spec.mirror else 1.0
    return cos * flip, -sin, sin * flip, cos, 0.0, 0.0


def line_points(
    artwork: Artwork, element: str, scale: float, *, where: str
) -> list[tuple[float, float]]:
    """Return the first stretch of an element's line as points, mm, y up, at `scale` times its size.

    Raises:
        InputError: `unknown-element`, naming `where`; `bad-path` for an element without length.

    """
    shapes = [s for s in artwork.shapes if s.names[-1:] == (element,) and s.subpaths]
    if not shapes:
        known = sorted(name for name, tag in artwork.ids.items() if tag in SHAPES)
        raise InputError(
            f"The drawing has no line {element!r}.",
            code="unknown-element",
            field=where,
            expected=f"one of: {', '.join(known[:20])}" if known else "none: no shape has an id",
            data={"known": known[:200]},
        )
    points = line_px(shapes[0], _LINE_MM / (PX_MM * scale)) * (PX_MM * scale, -PX_MM * scale)
    if len(np.unique(points, axis=0)) < 2 or not np.abs(points).max() <= _MAX_MM:
        raise InputError(
            f"The line {element!r} cannot be a baseline.",
            code="bad-path",
            field=where,
            expected=f"a line with length, within {format_mm(_MAX_MM)} of the drawing's origin",
        )
    return [(float(x), float(y)) for x, y in points.tolist()]


def _scale(artwork: Artwork, size: ArtworkSize, ink: Bounds, path: str) -> float:
    """Return mm a pixel."""
    width, height = max(ink[2] - ink[0], LEAST_DIVISOR), max(ink[3] - ink[1], LEAST_DIVISOR)
    match size.kind:
        case "width":
            return size.first_mm / width
        case "height":
            return size.first_mm / height
        case "fit":
            return min(size.first_mm / width, size.second_mm / height)
        case "scale":
            return size.first_mm * PX_MM
        case "known":
            a, b, c, d, _, _ = artwork.to_px
            x, y = np.subtract(size.ends[1], size.ends[0]).tolist()
            apart = math.hypot(a * x + c * y, b * x + d * y)
            if apart < ROUNDING:
                raise InputError(
                    "The two points of the known length are the same.",
                    code="bad-size",
                    field=f"{path}.known",
                    expected="two points apart, in the coordinates of the drawing",
                )
            return size.first_mm / apart
    return PX_MM
