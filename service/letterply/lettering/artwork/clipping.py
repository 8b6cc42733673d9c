"""Clip paths and viewports: what may be seen of a shape."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.drawing import box_px
from letterply.lettering.artwork.model import Clip, FillRule, Matrix, Shape, compose
from letterply.lettering.artwork.outlines import SHAPES, path_subpaths, shape_subpaths
from letterply.lettering.artwork.scene import Place, Scene
from letterply.lettering.artwork.values import transform
from letterply.shapes import LEAST_DIVISOR

__all__ = ["clip_of", "viewport_clip"]

_URL = re.compile(r"url\(\s*['\"]?([^'\")]*)['\"]?\s*\)")
_MAX_NESTED = 8


def viewport_clip(width: float, height: float, matrix: Matrix) -> Clip:
    """Return the window of an inner svg or symbol as a clip."""
    subpaths, _ = path_subpaths(f"M0 0H{width!r}V{height!r}H0Z")
    return Clip((Shape(subpaths, matrix, "nonzero"),))


def clip_of(
    element: Element, place: Place, shapes: list[Shape], scene: Scene, nested: int = 0
) -> Clip | None:
    """Return the clip that an element's style asks for, or None.

    `shapes` are those of the element: the box of their outlines is what `objectBoundingBox`
    means.
    """
    written = place.style.get("clip-path", "none").strip()
    if written in ("none", ""):
        return None
    match = _URL.fullmatch(written)
    if match is None:
        scene.notes.add("clip path", element.place)
        return None
    name = match[1].strip()
    if not name.startswith("#"):
        scene.notes.add("external reference", element.place)
        return None
    target = scene.named(name[1:])
    if target is None or target.tag != "clipPath":
        scene.notes.add("reference without target", element.place)
        return None
    if nested >= _MAX_NESTED or target in place.uses:
        scene.notes.add("reference to itself", element.place)
        return None
    return _clip(target, place, shapes, scene, nested)


def _clip(
    target: Element, place: Place, shapes: list[Shape], scene: Scene, nested: int
) -> Clip | None:
    style = scene.sheet.style(target, {})
    matrix = place.matrix
    moved = transform(style.get("transform", "").replace("none", ""))
    if moved is None:
        scene.notes.add("transform", target.place)
    else:
        matrix = compose(matrix, moved)
    inner = replace(place, matrix=matrix, style=style, uses=(*place.uses, target))
    outer = clip_of(target, inner, shapes, scene, nested + 1)
    if target.attributes.get("clipPathUnits", "").strip() == "objectBoundingBox":
        box = _box_matrix(shapes, place.matrix)
        if box is None:
            return Clip(())
        inner = replace(inner, matrix=compose(matrix, box), width=1.0, height=1.0)
    found = [s for child in target.children for s in _clip_shapes(child, inner, scene, nested)]
    return Clip(tuple(found), () if outer is None else (outer,))


def _clip_shapes(element: Element, place: Place, scene: Scene, nested: int) -> list[Shape]:
    style = scene.sheet.style(element, place.style)
    if style.get("display") == "none" or element.tag in ("title", "desc"):
        return []
    matrix = place.matrix
    moved = transform(style.get("transform", "").replace("none", ""))
    if moved is None:
        scene.notes.add("transform", element.place)
    else:
        matrix = compose(matrix, moved)
    inner = replace(place, matrix=matrix, style=style)
    if element.tag == "use":
        target = scene.target(element)
        if target is None or target.tag not in SHAPES:
            return []
        read = scene.lengths(element, inner)
        x, y = read("x", "x") or 0.0, read("y", "y") or 0.0
        shifted = replace(inner, matrix=compose(matrix, (1.0, 0.0, 0.0, 1.0, x, y)))
        found = _clip_shapes(target, shifted, scene, nested)
    elif element.tag in SHAPES:
        if style.get("visibility") in ("hidden", "collapse"):
            return []
        subpaths, _ = shape_subpaths(element, scene.lengths(element, inner))
        rule: FillRule = "evenodd" if style.get("clip-rule") == "evenodd" else "nonzero"
        found = [Shape(subpaths, matrix, rule)]
    else:
        what = "text" if element.tag == "text" else f"element {element.tag[:40]}"
        scene.notes.add(what, f"{element.place} (in a clip path)")
        return []
    own = clip_of(element, inner, found, scene, nested + 1)
    return found if own is None else [replace(s, clips=(*s.clips, own)) for s in found]


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
