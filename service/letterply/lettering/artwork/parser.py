"""SVG in, artwork out: the tree of a drawing walked from its root, as SVG 2 says it is painted.

What is painted is what counts: any paint is material, whatever its colour. Nothing is fetched,
nothing is run; `use` is followed within the drawing only, and never round in a circle. What
cannot be taken as drawn is noted (`Artwork.left_out`).

Bytes from outside belong in a worker process: what is read here is limited in size and number, not
in time.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import cast

from letterply.lettering.artwork.clipping import clip_of, viewport_clip
from letterply.lettering.artwork.document import Element, read_document
from letterply.lettering.artwork.drawing import box_px
from letterply.lettering.artwork.model import (
    IDENTITY,
    Artwork,
    ArtworkError,
    FillRule,
    Matrix,
    Shape,
    Subpath,
    compose,
)
from letterply.lettering.artwork.omissions import Notes
from letterply.lettering.artwork.outlines import SHAPES, shape_subpaths
from letterply.lettering.artwork.painting import Painter
from letterply.lettering.artwork.scene import Place, Scene
from letterply.lettering.artwork.styles import read_sheets
from letterply.lettering.artwork.texts import text_shapes
from letterply.lettering.artwork.values import length, transform, view_box, view_matrix
from letterply.lettering.fonts.font import Font

__all__ = ["read_artwork"]

_GROUPS = frozenset({"g", "a", "svg", "switch"})
_NEVER_DRAWN = frozenset(
    {"defs", "symbol", "clipPath", "mask", "marker", "pattern", "linearGradient", "radialGradient",
     "stop", "filter", "style", "title", "desc", "metadata", "view", "font", "font-face", "cursor",
     "color-profile", "solidcolor", "hatch", "mesh", "meshgradient"}
)  # fmt: skip
_NOTED = {
    "text": "text", "image": "image", "video": "image", "audio": "embedded page",
    "foreignObject": "embedded page", "iframe": "embedded page", "canvas": "image",
    "script": "script", "animate": "animation", "set": "animation",
    "animateTransform": "animation", "animateMotion": "animation", "animateColor": "animation",
    "discard": "animation",
}  # fmt: skip
_MAX_SHAPES = 5_000
_MAX_SEGMENTS = 200_000
_MAX_VISITS = 30_000
_MAX_USES = 32
_CSS_UNITS = re.compile(r"(?<=[\d.])(?:px|deg)\b")


def read_artwork(key: str, data: bytes, font: Font | None = None) -> Artwork:
    """Return the artwork in an SVG file; its texts are set in `font`, or left out without one.

    Raises:
        ArtworkError: `not-svg`, `artwork-unreadable`, `artwork-too-large`, `artwork-too-complex`,
            `artwork-empty` when nothing in it is painted.
        GlyphMissing: for a text that the font cannot show.

    """
    root = read_document(data)
    notes = Notes()
    reader = _Reader(Scene(root, read_sheets(root, notes.add), notes), font)
    size, to_px, shapes = reader.page(root)
    if not any(s.fill or s.stroke for s in shapes):
        raise ArtworkError(
            "Nothing in the drawing is painted that could be cut.",
            code="artwork-empty",
            expected="shapes with a fill or a line",
            data={"left_out": [n.what for n in notes.told()]},
        )
    if size is not None and _beyond(shapes, size):
        notes.add("beyond the page", "the drawing")
    titles = [e for e in root.children if e.tag == "title"]
    title = titles[0].words()[:200] if titles else ""
    ids = {e.id: e.tag for e in root.walk() if e.id}
    return Artwork(key, title, size, to_px, tuple(shapes), notes.told(), ids)


def _beyond(shapes: list[Shape], size: tuple[float, float]) -> bool:
    box = box_px([s for s in shapes if (s.fill or s.stroke) and not s.clips])
    if box is None:
        return False
    slack = 1e-6 * max(size)
    return min(box[0], box[1]) < -slack or box[2] > size[0] + slack or box[3] > size[1] + slack


class _Reader:
    """Walks the tree and collects shapes."""

    def __init__(self, scene: Scene, font: Font | None) -> None:
        self._scene = scene
        self._font = font
        self._painter = Painter(scene)
        self._outlines: dict[tuple[int, float, float, float], tuple[tuple[Subpath, ...], bool]] = {}
        self._shapes = 0
        self._segments = 0
        self._visits = 0

    def page(self, root: Element) -> tuple[tuple[float, float] | None, Matrix, list[Shape]]:
        """Return the size of the page, what takes its units to pixels, and the shapes on it."""
        box = view_box(root.attributes.get("viewBox"))
        width, height = (self._side(root, name) for name in ("width", "height"))
        if box is not None and box[2] and box[3]:
            if width is None and height is None:
                width, height = box[2], box[3]
            width = width if width is not None else (height or 0.0) * box[2] / box[3]
            height = height if height is not None else width * box[3] / box[2]
        if (width is not None and width <= 0) or (height is not None and height <= 0):
            return None, IDENTITY, []
        if box is not None and not (box[2] and box[3]):
            return None, IDENTITY, []
        size = (width, height) if width is not None and height is not None else None
        to_px = IDENTITY
        view = (width or 100.0, height or 100.0)
        if box is not None:
            aspect = root.attributes.get("preserveAspectRatio", "")
            to_px = view_matrix(box, *view, aspect)
            view = (box[2], box[3])
        place = Place(to_px, {}, view[0], view[1], 16.0)
        return size, to_px, self._element(root, place, root=True)

    def _side(self, root: Element, name: str) -> float | None:
        text = root.attributes.get(name)
        if text is None or text.strip() in ("", "auto") or text.strip().endswith("%"):
            return None
        found = length(text, 0.0)
        if found is None:
            self._scene.notes.add("length", root.place)
        return found

    def _element(self, element: Element, place: Place, *, root: bool = False) -> list[Shape]:
        scene = self._scene
        tag = element.tag
        self._visits += 1
        if self._visits > _MAX_VISITS:
            raise ArtworkError(
                f"The drawing repeats itself more than {_MAX_VISITS} times.",
                code="artwork-too-complex",
                expected="fewer references to parts of itself",
            )
        if tag in _NEVER_DRAWN or not _passes(element):
            return []
        drawn = tag in _GROUPS or tag in SHAPES or tag == "use"
        if not drawn and (tag != "text" or self._font is None):
            what = _NOTED.get(tag, f"element {tag[:40]}")
            where = element.place
            if tag == "text" and element.words():
                where = f"{where}: {element.words()[:60]!r}"
            scene.notes.add(what, where)
            if tag == "image" and element.href and not element.href.startswith(("#", "data:")):
                scene.notes.add("external reference", element.place)
            return []
        style = scene.sheet.style(element, place.style)
        if style.get("display") == "none" or length(style.get("opacity"), 1.0) == 0:
            return []
        place = self._placed(element, place, style)
        if any(name.startswith("on") for name in element.attributes):
            scene.notes.add("script", element.place)
        if tag in SHAPES:
            found = self._shape(element, place)
        elif tag == "text" and self._font is not None:
            found = text_shapes(element, place, scene, self._font, self._descend)
        elif tag == "use":
            found = self._use(element, place)
        elif tag == "svg" and not root:
            found = self._viewport(element, place, element.attributes)
        else:
            found = self._children(element, place)
        return self._finished(element, place, found)

    def _placed(self, element: Element, place: Place, style: Mapping[str, str]) -> Place:
        """Return the place inside an element: its style, name and transform taken on."""
        matrix = place.matrix
        written = style.get("transform", "none")
        if written not in ("none", ""):
            moved = transform(_CSS_UNITS.sub("", written))
            if moved is None:
                self._scene.notes.add("transform", element.place)
            else:
                matrix = compose(matrix, moved)
            if style.get("transform-origin", "0 0") not in ("0 0", "0", "0px 0px"):
                self._scene.notes.add("transform origin", element.place)
        size = length(style.get("font-size"), place.font_size, place.font_size)
        names = (*place.names, element.id) if element.id else place.names
        return replace(
            place,
            matrix=matrix,
            style=style,
            names=names,
            font_size=place.font_size if size is None or size <= 0 else size,
        )

    def _descend(self, element: Element, place: Place) -> Place | None:
        """Return the place inside an element of a text, None when it is not shown."""
        style = self._scene.sheet.style(element, place.style)
        if style.get("display") == "none" or not _passes(element):
            return None
        return self._placed(element, place, style)

    def _children(self, element: Element, place: Place) -> list[Shape]:
        if element.tag == "switch":
            first = next(
                (c for c in element.children if c.tag not in _NEVER_DRAWN and _passes(c)), None
            )
            return self._element(first, place) if first is not None else []
        return [s for child in element.children for s in self._element(child, place)]

    def _shape(self, element: Element, place: Place) -> list[Shape]:
        self._shapes += 1
        if self._shapes > _MAX_SHAPES:
            raise ArtworkError(
                f"The drawing has more than {_MAX_SHAPES} shapes.",
                code="artwork-too-complex",
                expected="fewer shapes: join paths, or save only what is to be cut",
            )
        for child in element.children:
            if child.tag in _NOTED:
                self._scene.notes.add(_NOTED[child.tag], child.place)
        # What is used many times is read once; its lengths may depend on where it is used.
        key = (id(element), place.width, place.height, place.font_size)
        if key not in self._outlines:
            self._outlines[key] = shape_subpaths(element, self._scene.lengths(element, place))
        subpaths, whole = self._outlines[key]
        self._segments += sum(len(s.segments[1]) for s in subpaths)
        if self._segments > _MAX_SEGMENTS:
            raise ArtworkError(
                f"The drawing has more than {_MAX_SEGMENTS} segments.",
                code="artwork-too-complex",
                expected="paths of fewer segments",
            )
        if not whole:
            kind = "path data" if element.tag == "path" else "points"
            self._scene.notes.add(kind, element.place)
        if not subpaths:
            return []
        fill, fill_colour = self._painter.fill(element, place)
        stroke, stroke_colour = self._painter.stroke(element, place)
        if element.tag == "line":
            fill = None
        return [
            Shape(
                subpaths,
                place.matrix,
                cast("FillRule | None", fill),
                stroke,
                names=place.names,
                fill_colour=fill_colour,
                stroke_colour=stroke_colour,
            )
        ]

    def _use(self, element: Element, place: Place) -> list[Shape]:
        target = self._scene.target(element)
        if target is None:
            return []
        if target in place.uses or len(place.uses) >= _MAX_USES or _holds(target, element):
            self._scene.notes.add("reference to itself", element.place)
            return []
        read = self._scene.lengths(element, place)
        x, y = read("x", "x") or 0.0, read("y", "y") or 0.0
        inside = replace(
            place,
            matrix=compose(place.matrix, (1.0, 0.0, 0.0, 1.0, x, y)),
            uses=(*place.uses, target),
        )
        if target.tag not in ("symbol", "svg"):
            return self._element(target, inside)
        if not _passes(target):
            return []
        style = self._scene.sheet.style(target, place.style)
        if style.get("display") == "none" and target.tag == "svg":
            return []
        inside = self._placed(target, inside, style)
        given = {n: v for n, v in element.attributes.items() if n in ("width", "height")}
        attributes = {**target.attributes, **given}
        if target.tag == "symbol":
            attributes = {n: v for n, v in attributes.items() if n not in ("width", "height")}
            attributes |= given
        return self._viewport(target, inside, attributes)

    def _viewport(
        self, element: Element, place: Place, attributes: Mapping[str, str]
    ) -> list[Shape]:
        """Return what an inner svg, or a symbol that is used, shows in its window."""
        shown = Element(element.tag, dict(attributes), element.line)
        read = self._scene.lengths(shown, place)
        x, y = read("x", "x") or 0.0, read("y", "y") or 0.0
        width = read("width", "x") if _given(attributes, "width") else place.width
        height = read("height", "y") if _given(attributes, "height") else place.height
        width = place.width if width is None else width
        height = place.height if height is None else height
        box = view_box(attributes.get("viewBox"))
        if width <= 0 or height <= 0 or (box is not None and not (box[2] and box[3])):
            return []
        corner = compose(place.matrix, (1.0, 0.0, 0.0, 1.0, x, y))
        inside = replace(place, matrix=corner, width=width, height=height)
        if box is not None:
            aspect = attributes.get("preserveAspectRatio", "")
            inside = replace(
                inside,
                matrix=compose(corner, view_matrix(box, width, height, aspect)),
                width=box[2],
                height=box[3],
            )
        found = [s for child in element.children for s in self._element(child, inside)]
        if place.style.get("overflow", "hidden") in ("visible", "auto"):
            return found
        clip = viewport_clip(width, height, corner)
        return [replace(s, clips=(*s.clips, clip)) for s in found]

    def _finished(self, element: Element, place: Place, shapes: list[Shape]) -> list[Shape]:
        """Return the shapes of an element with its clip, and note what is left aside."""
        for what in ("mask", "filter"):
            if shapes and place.style.get(what, "none") not in ("none", ""):
                self._scene.notes.add(what, element.place)
        if shapes and (length(place.style.get("opacity"), 1.0) or 1.0) < 1:
            self._scene.notes.add("transparency", element.place)
        clip = clip_of(element, place, shapes, self._scene)
        if clip is None:
            return shapes
        return [replace(s, clips=(*s.clips, clip)) for s in shapes]


def _given(attributes: Mapping[str, str], name: str) -> bool:
    return attributes.get(name, "auto").strip() not in ("auto", "")


def _holds(outer: Element, inner: Element) -> bool:
    return any(e is inner for e in outer.walk())


def _passes(element: Element) -> bool:
    """Whether the conditions of an element are met (SVG 2, section 5.9), for readers of English."""
    attributes = element.attributes
    if attributes.get("requiredExtensions", "").strip():
        return False
    languages = attributes.get("systemLanguage")
    if languages is None:
        return True
    return any(tag.strip().lower().split("-")[0] == "en" for tag in languages.split(","))
