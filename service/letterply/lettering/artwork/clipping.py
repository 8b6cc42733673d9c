"""Clip paths, masks and viewports: what may be seen of a shape (CSS Masking 1).

A mask whose paint is white or black is a clip; where it lets a part of the light through, what it
lets through at all is kept, and noted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from letterply.lettering.artwork.colours import luminance
from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.drawing import box_px
from letterply.lettering.artwork.model import Clip, FillRule, Matrix, Shape, compose
from letterply.lettering.artwork.outlines import SHAPES, path_subpaths, shape_subpaths
from letterply.lettering.artwork.scene import Place, Scene
from letterply.lettering.artwork.servers import BOXED
from letterply.shapes import LEAST_DIVISOR

__all__ = ["Walk", "clip_of", "mask_of", "viewport_clip", "window"]

Walk = Callable[[Element, Place], list[Shape]]
"""Draws what is inside an element."""

_MAX_NESTED = 8
_HALF_LIGHT = (0.002, 0.998)
_NOWHERE = Clip(())


def window(x: float, y: float, width: float, height: float, matrix: Matrix) -> Clip:
    """Return a rectangle of user units as a clip."""
    subpaths, _ = path_subpaths(f"M{x!r} {y!r}h{width!r}v{height!r}h{-width!r}Z")
    return Clip((Shape(subpaths, matrix, "nonzero"),))


def viewport_clip(width: float, height: float, matrix: Matrix) -> Clip:
    """Return the window of an inner svg or symbol as a clip."""
    return window(0.0, 0.0, width, height, matrix)


def clip_of(
    element: Element, place: Place, shapes: list[Shape], scene: Scene, nested: int = 0
) -> Clip | None:
    """Return the clip that an element's style asks for, or None.

    `shapes` are those of the element: the box of their outlines is what `objectBoundingBox`
    means.
    """
    written = place.style.get("clip-path", "none").strip()
    if written.lower() in ("none", ""):
        return None
    target = scene.referred(written, "clipPath", "clip path", element.place)
    if target is None:
        return None
    if nested >= _MAX_NESTED or target in place.uses:
        scene.notes.add("reference to itself", element.place)
        return None
    return _clip(target, place, shapes, scene, nested)


def _clip(
    target: Element, place: Place, shapes: list[Shape], scene: Scene, nested: int
) -> Clip | None:
    standing = scene.standing(target, place)
    inner = replace(scene.placed(target, standing, standing.style), font_size=standing.font_size)
    outer = clip_of(target, inner, shapes, scene, nested + 1)
    if target.attributes.get("clipPathUnits", "").strip() == BOXED:
        box = _box_matrix(shapes, place.matrix)
        if box is None:
            return _NOWHERE
        inner = replace(inner, matrix=compose(inner.matrix, box), width=1.0, height=1.0)
    found = [s for child in target.children for s in _clip_shapes(child, inner, scene, nested)]
    return Clip(tuple(found), () if outer is None else (outer,))


def _clip_shapes(element: Element, place: Place, scene: Scene, nested: int) -> list[Shape]:
    scene.visit()
    style = scene.sheet.style(element, place.style)
    if style.get("display") == "none" or element.tag in ("title", "desc"):
        return []
    inner = scene.placed(element, place, style)
    if element.tag == "use":
        target = scene.target(element)
        if target is None or target.tag not in (*SHAPES, "text"):
            return []
        read = scene.lengths(element, inner)
        x, y = read("x", "x") or 0.0, read("y", "y") or 0.0
        shifted = replace(inner, matrix=compose(inner.matrix, (1.0, 0.0, 0.0, 1.0, x, y)))
        found = _clip_shapes(target, shifted, scene, nested)
    elif element.tag in SHAPES:
        if style.get("visibility") in ("hidden", "collapse"):
            return []
        subpaths, whole = shape_subpaths(element, scene.lengths(element, inner), style)
        if not whole:
            scene.notes.add("path data" if element.tag == "path" else "points", element.place)
        rule: FillRule = "evenodd" if style.get("clip-rule") == "evenodd" else "nonzero"
        found = [Shape(subpaths, inner.matrix, rule)]
    else:
        what = "text" if element.tag == "text" else f"element {element.tag[:40]}"
        scene.notes.add(what, f"{element.place} (in a clip path)")
        return []
    own = clip_of(element, inner, found, scene, nested + 1)
    return found if own is None else [replace(s, clips=(*s.clips, own)) for s in found]


def mask_of(
    element: Element, place: Place, shapes: list[Shape], scene: Scene, walk: Walk
) -> tuple[Clip, ...]:
    """Return the mask that an element's style asks for as clips, all of which apply."""
    written = place.style.get("mask", "none").strip()
    if written.lower() in ("none", "") or not shapes:
        return ()
    target = scene.referred(written, "mask", "mask", element.place)
    if target is None:
        return ()
    if target in place.uses or len(place.uses) >= _MAX_NESTED:
        scene.notes.add("reference to itself", element.place)
        return ()
    inner = scene.standing(target, place)
    plain = target.attributes.get("maskUnits", BOXED).strip() == "userSpaceOnUse"
    boxed = target.attributes.get("maskContentUnits", "").strip() == BOXED
    box = _box_matrix(shapes, place.matrix) if boxed or not plain else None
    if plain:
        frame = inner
    elif box is None:
        return (_NOWHERE,)
    else:
        frame = replace(inner, matrix=compose(place.matrix, box), width=1.0, height=1.0)
    read = scene.lengths(target, frame)
    usual = {"x": -0.1, "y": -0.1, "width": 1.2, "height": 1.2}
    sides: list[float] = []
    for name, share in usual.items():
        way = "x" if name in ("x", "width") else "y"
        found = read(name, way)
        sides.append(share * frame.whole(way) if found is None else found)
    if sides[2] <= 0 or sides[3] <= 0:
        return (_NOWHERE,)
    if boxed:
        if box is None:
            return (_NOWHERE,)
        inner = replace(inner, matrix=compose(place.matrix, box), width=1.0, height=1.0)
    painted = [s for s in walk(target, inner) if s.fill or s.stroke]
    bright = inner.style.get("mask-type", "luminance") != "alpha"
    if bright and any(_is_half_lit(s) for s in painted):
        scene.notes.add("soft mask", element.place)
    own = clip_of(target, replace(inner, matrix=place.matrix), shapes, scene)
    over = mask_of(target, replace(inner, matrix=place.matrix), shapes, scene, walk)
    clips = (window(*_four(sides), frame.matrix), Clip(tuple(painted), (), bright), *over)
    return clips if own is None else (*clips, own)


def _four(sides: list[float]) -> tuple[float, float, float, float]:
    return sides[0], sides[1], sides[2], sides[3]


def _is_half_lit(shape: Shape) -> bool:
    """Whether some paint of a mask lets a part of the light through, or may."""
    paints = ((shape.fill, shape.fill_colour), (shape.stroke, shape.stroke_colour))
    low, high = _HALF_LIGHT
    return any(
        not colour or low < luminance(colour) < high
        for paint, colour in paints
        if paint is not None
    )


def _box_matrix(shapes: list[Shape], matrix: Matrix) -> Matrix | None:
    """Return what takes the unit square to the box of shapes, in the user units of `matrix`."""
    a, b, c, d, e, f = matrix
    area = a * d - b * c
    if abs(area) < LEAST_DIVISOR:
        return None
    back: Matrix = (
        d / area, -b / area, -c / area, a / area, (c * f - d * e) / area, (b * e - a * f) / area
    )  # fmt: skip
    box = box_px([replace(s, matrix=compose(back, s.matrix)) for s in shapes])
    if box is None or not np.isfinite(box).all():
        return None
    left, top, right, bottom = box
    if right <= left or bottom <= top:
        return None
    return (right - left, 0.0, 0.0, bottom - top, left, top)
