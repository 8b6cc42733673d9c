"""SVG in, artwork out: the tree of a drawing walked from its root, as SVG 2 says it is painted.

What is painted is what counts: any paint is material, whatever its colour. Nothing is fetched,
nothing is run; `use` is followed within the drawing only, and never round in a circle. What
cannot be taken as drawn is noted (`Artwork.left_out`).

Bytes from outside belong in a worker process: what is read here is limited in size and number, not
in time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

from letterply.lettering.artwork.clipping import clip_of, mask_of, viewport_clip
from letterply.lettering.artwork.document import Element, read_document
from letterply.lettering.artwork.drawing import box_px
from letterply.lettering.artwork.markers import marker_shapes
from letterply.lettering.artwork.model import (
    IDENTITY,
    Artwork,
    ArtworkError,
    Clip,
    Matrix,
    Shape,
    Subpath,
    compose,
)
from letterply.lettering.artwork.omissions import Notes
from letterply.lettering.artwork.outlines import SHAPES, shape_subpaths
from letterply.lettering.artwork.painting import Box, Painter, some_box
from letterply.lettering.artwork.scene import FONT_SIZE, Place, Scene
from letterply.lettering.artwork.styles import read_sheets
from letterply.lettering.artwork.texts import text_shapes
from letterply.lettering.artwork.values import length, view_box, view_matrix
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
_MAX_USES = 32
_MAX_CLIPS = 20_000


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
        self._outlines: dict[
            tuple[Element, float, float, float], tuple[tuple[Subpath, ...], bool]
        ] = {}
        self._shapes = 0
        self._segments = 0
        self._clips = 0

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
        em = self._scene.size_of(root)
        place = Place(to_px, {}, view[0], view[1], FONT_SIZE, root_size=em)
        return size, to_px, self._element(root, place, root=True)

    def _side(self, root: Element, name: str) -> float | None:
        text = self._scene.style_of(root).get(name, root.attributes.get(name))
        if text is None or text.strip() in ("", "auto") or text.strip().endswith("%"):
            return None
        em = self._scene.size_of(root)
        found = length(text, 0.0, em, em)
        if found is None:
            self._scene.notes.add("length", root.place)
        return found

    def _element(self, element: Element, place: Place, *, root: bool = False) -> list[Shape]:
        scene = self._scene
        tag = element.tag
        scene.visit()
        if tag in _NEVER_DRAWN or not _passes(element):
            return []
        style = scene.sheet.style(element, place.style)
        if style.get("display") == "none":
            return []
        drawn = tag in _GROUPS or tag in SHAPES or tag == "use"
        if not drawn and (tag != "text" or self._font is None):
            self._leave_out(element)
            return []
        place = scene.placed(element, place, style)
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

    def _leave_out(self, element: Element) -> None:
        """Note an element that is not drawn."""
        tag = element.tag
        where = element.place
        if tag == "text" and element.words():
            where = f"{where}: {element.words()[:60]!r}"
        self._scene.notes.add(_NOTED.get(tag, f"element {tag[:40]}"), where)
        if tag == "image" and element.href and not element.href.startswith(("#", "data:")):
            self._scene.notes.add("external reference", element.place)

    def _descend(self, element: Element, place: Place) -> Place | None:
        """Return the place inside an element of a text, None when it is not shown."""
        style = self._scene.sheet.style(element, place.style)
        if style.get("display") == "none" or not _passes(element):
            return None
        return self._scene.placed(element, place, style)

    def _children(self, element: Element, place: Place) -> list[Shape]:
        children = element.children
        if element.tag == "switch":
            children = [c for c in children if c.tag not in _NEVER_DRAWN and _passes(c)][:1]
            if len(element.children) < element.elements:
                # What another namespace offers may have been meant to come first.
                self._scene.notes.add("switch", element.place)
        return [s for child in children for s in self._element(child, place)]

    def _referred(self, element: Element, place: Place) -> list[Shape]:
        """Return what is inside a marker or mask, with its own opacity and clip."""
        found = [s for child in element.children for s in self._element(child, place)]
        if element.tag == "mask":
            return found
        return self._finished(element, place, found)

    def _shape(self, element: Element, place: Place) -> list[Shape]:
        scene = self._scene
        self._shapes += 1
        if self._shapes > _MAX_SHAPES:
            raise ArtworkError(
                f"The drawing has more than {_MAX_SHAPES} shapes.",
                code="artwork-too-complex",
                expected="fewer shapes: join paths, or save only what is to be cut",
            )
        for child in element.children:
            if child.tag in _NOTED:
                scene.notes.add(_NOTED[child.tag], child.place)
        subpaths = self._outline(element, place)
        bare = Shape(subpaths, place.matrix, names=place.names)
        box = cache(lambda: box_px([replace(bare, matrix=IDENTITY)]))
        fill, fill_colour = self._painter.fill(element, place, box)
        stroke, stroke_colour = self._painter.stroke(element, place, box)
        if element.tag == "line":
            fill = None
        filled = replace(bare, fill=fill, fill_colour=fill_colour)
        lined = replace(bare, stroke=stroke, stroke_colour=stroke_colour)
        markers = self._markers(element, place, subpaths, box)
        if not subpaths:
            return markers
        order = _paint_order(place.style)
        if order[0] == "fill" and order[1] == "stroke":
            return [replace(filled, stroke=stroke, stroke_colour=stroke_colour), *markers]
        parts = {"fill": [filled], "stroke": [lined], "markers": markers}
        return [s for part in order for s in parts[part]]

    def _outline(self, element: Element, place: Place) -> tuple[Subpath, ...]:
        # What is used many times is read once; its lengths may depend on where it is used.
        key = (element, place.width, place.height, place.font_size)
        if key not in self._outlines:
            read = self._scene.lengths(element, place)
            self._outlines[key] = shape_subpaths(element, read, place.style)
        subpaths, whole = self._outlines[key]
        self._segments += sum(len(s.segments[1]) for s in subpaths)
        if self._segments > _MAX_SEGMENTS:
            raise ArtworkError(
                f"The drawing has more than {_MAX_SEGMENTS} segments.",
                code="artwork-too-complex",
                expected="paths of fewer segments",
            )
        if not whole:
            self._scene.notes.add("path data" if element.tag == "path" else "points", element.place)
        return subpaths

    def _markers(
        self, element: Element, place: Place, subpaths: tuple[Subpath, ...], box: Box
    ) -> list[Shape]:
        if place.style.get("visibility") in ("hidden", "collapse"):
            return []
        if all(place.style.get(f"marker-{e}", "none") == "none" for e in ("start", "mid", "end")):
            return []
        fill = self._painter.paint(element, place, "fill", box)
        stroke = self._painter.paint(element, place, "stroke", box)
        inside = replace(place, context=(fill, stroke))
        width = self._painter.width(place)
        return marker_shapes(element, inside, subpaths, width, self._scene, self._referred)

    def _use(self, element: Element, place: Place) -> list[Shape]:
        target = self._scene.target(element)
        if target is None:
            return []
        if target in place.uses or len(place.uses) >= _MAX_USES or _holds(target, element):
            self._scene.notes.add("reference to itself", element.place)
            return []
        read = self._scene.lengths(element, place)
        x, y = read("x", "x") or 0.0, read("y", "y") or 0.0
        fill = self._painter.paint(element, place, "fill", some_box)
        stroke = self._painter.paint(element, place, "stroke", some_box)
        inside = replace(
            place,
            matrix=compose(place.matrix, (1.0, 0.0, 0.0, 1.0, x, y)),
            uses=(*place.uses, target),
            context=(fill, stroke),
        )
        if target.tag not in ("symbol", "svg"):
            return self._element(target, inside)
        if not _passes(target):
            return []
        style = self._scene.sheet.style(target, place.style)
        if style.get("display") == "none" and target.tag == "svg":
            return []
        inside = self._scene.placed(target, inside, style)
        given = {n: v for n, v in element.attributes.items() if n in ("width", "height")}
        given |= {n: v for n, v in place.style.items() if n in ("width", "height")}
        attributes = {**target.attributes, **given}
        if target.tag == "symbol" and ("refX" in attributes or "refY" in attributes):
            self._scene.notes.add("symbol reference", target.place)
        return self._finished(target, inside, self._viewport(target, inside, attributes))

    def _viewport(
        self, element: Element, place: Place, attributes: Mapping[str, str]
    ) -> list[Shape]:
        """Return what an inner svg, or a symbol that is used, shows in its window."""
        shown = Element(element.tag, dict(attributes), element.line)
        read = self._scene.lengths(shown, place)
        x, y = read("x", "x") or 0.0, read("y", "y") or 0.0
        sides = read("width", "x"), read("height", "y")
        width = place.width if sides[0] is None else sides[0]
        height = place.height if sides[1] is None else sides[1]
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
        return self._clipped(found, (viewport_clip(width, height, corner),))

    def _finished(self, element: Element, place: Place, shapes: list[Shape]) -> list[Shape]:
        """Return the shapes of an element with its clip and mask, and note what is left aside."""
        if place.style.get("filter", "none") not in ("none", ""):
            self._scene.notes.add("filter", element.place)
        opacity = length(place.style.get("opacity"), 1.0)
        if opacity is not None and opacity <= 0:
            # What is not seen still counts where a box is asked for (SVG 2, 8.10).
            return [replace(s, fill=None, stroke=None) for s in shapes]
        if shapes and opacity is not None and opacity < 1:
            self._scene.notes.add("transparency", element.place)
        clip = clip_of(element, place, shapes, self._scene)
        clips = mask_of(element, place, shapes, self._scene, self._referred)
        return self._clipped(shapes, clips if clip is None else (clip, *clips))

    def _clipped(self, shapes: list[Shape], clips: tuple[Clip, ...]) -> list[Shape]:
        self._clips += len(shapes) * len(clips)
        if self._clips > _MAX_CLIPS:
            raise ArtworkError(
                f"Shapes of the drawing are clipped more than {_MAX_CLIPS} times.",
                code="artwork-too-complex",
                expected="fewer clip paths and masks inside each other",
            )
        return [replace(s, clips=(*s.clips, *clips)) for s in shapes] if clips else shapes


def _paint_order(style: Mapping[str, str]) -> list[str]:
    """Return what is painted first, second and last (SVG 2, 13.8)."""
    usual = ["fill", "stroke", "markers"]
    words = style.get("paint-order", "normal").lower().split()
    return usual if words == ["normal"] else list(dict.fromkeys([*words, *usual]))


def _holds(outer: Element, inner: Element) -> bool:
    return any(e is inner for e in outer.walk())


def _passes(element: Element) -> bool:
    """Whether the conditions of an element are met (SVG 2, section 5.9), for readers of English."""
    attributes = element.attributes
    if "requiredExtensions" in attributes:
        return False
    languages = attributes.get("systemLanguage")
    if languages is None:
        return True
    return any(tag.strip().lower().split("-")[0] == "en" for tag in languages.split(","))
