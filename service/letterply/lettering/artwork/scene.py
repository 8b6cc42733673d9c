"""What is known while a drawing is walked: the drawing itself, and the place one has come to."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from letterply.lettering.artwork.colours import Colour, colour_of
from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import ArtworkError, Matrix, compose
from letterply.lettering.artwork.omissions import Notes
from letterply.lettering.artwork.properties import url_of
from letterply.lettering.artwork.styles import CSS_TRANSFORM, Sheet
from letterply.lettering.artwork.transforms import css_transform, origin_of
from letterply.lettering.artwork.values import length, transform

__all__ = ["FONT_SIZE", "Place", "Scene", "ServerPaint"]

FONT_SIZE = 16.0
"""Pixels: `medium` of CSS."""

_SIZES = {"xx-small": 3 / 5, "x-small": 3 / 4, "small": 8 / 9, "medium": 1.0, "large": 6 / 5,
          "x-large": 3 / 2, "xx-large": 2.0}  # fmt: skip
"""Shares of `medium` (CSS Fonts 4, 2.5.1)."""

_MAX_VISITS = 30_000
_STEP = 1.2
"""From one size to the next `larger` (CSS Fonts 4, 2.5.2)."""


@dataclass(frozen=True, slots=True)
class ServerPaint:
    """A gradient or pattern that paints something."""

    kind: str


ContextPaint = Colour | ServerPaint | None


@dataclass(frozen=True, slots=True)
class Place:
    """Where the walk is.

    Attributes:
        matrix: user units to pixels.
        style: properties of the element above.
        width, height: of the viewport, user units.
        font_size: pixels; what em stands for.
        names: ids of the elements above.
        uses: targets of the references that are being followed.
        root_size: pixels; what rem stands for.
        context: what `context-fill` and `context-stroke` mean, None for nothing.

    """

    matrix: Matrix
    style: Mapping[str, str]
    width: float
    height: float
    font_size: float
    names: tuple[str, ...] = ()
    uses: tuple[Element, ...] = ()
    root_size: float = FONT_SIZE
    context: tuple[ContextPaint, ContextPaint] = (None, None)

    def whole(self, way: str) -> float:
        """Return what 100 % stands for: along `x`, along `y`, or otherwise (SVG 2, 8.9)."""
        if way == "x":
            return self.width
        if way == "y":
            return self.height
        return math.hypot(self.width, self.height) / math.sqrt(2)

    def length(self, text: str | None, way: str) -> float | None:
        """Return a length in user units, None for none."""
        return length(text, self.whole(way), self.font_size, self.root_size)


class Scene:
    """A drawing: its elements by id, its style sheets, and what is noted about it."""

    def __init__(self, root: Element, sheet: Sheet, notes: Notes) -> None:
        self.root = root
        self.sheet = sheet
        self.notes = notes
        self._by_id: dict[str, Element] = {}
        self._twice: set[str] = set()
        for element in root.walk():
            if element.id and self._by_id.setdefault(element.id, element) is not element:
                self._twice.add(element.id)
        self._styles: dict[Element, dict[str, str]] = {}
        self._sizes: dict[Element, float] = {}
        self._stops: dict[Element, tuple[Colour, ...]] = {}
        self._visits = 0

    def visit(self) -> None:
        """Count an element that is walked, as often as it is: references multiply.

        Raises:
            ArtworkError: `artwork-too-complex`.

        """
        self._visits += 1
        if self._visits > _MAX_VISITS:
            raise ArtworkError(
                f"The drawing repeats itself more than {_MAX_VISITS} times.",
                code="artwork-too-complex",
                expected="fewer references to parts of itself",
            )

    def named(self, name: str) -> Element | None:
        """Return the first element with an id, or None; notes an id that others have too."""
        if name in self._twice:
            self.notes.add("id used twice", name[:60])
        return self._by_id.get(name)

    def style_of(self, element: Element) -> dict[str, str]:
        """Return the properties of an element where it stands, as CSS computes them."""
        if element not in self._styles:
            above = self.style_of(element.parent) if element.parent is not None else {}
            self._styles[element] = self.sheet.style(element, above)
        return self._styles[element]

    def stops(self, gradient: Element) -> tuple[Colour, ...]:
        """Return the colours of a gradient's own stops, their opacity in them."""
        if gradient not in self._stops:
            found: list[Colour] = []
            for stop in gradient.children:
                if stop.tag != "stop":
                    continue
                style = self.style_of(stop)
                colour = colour_of(style.get("stop-color", "#000"), style.get("color", "#000"))
                opacity = length(style.get("stop-opacity"), 1.0)
                share = 1.0 if opacity is None else min(max(opacity, 0.0), 1.0)
                found.append(Colour(colour.text, colour.alpha * share))
            self._stops[gradient] = tuple(found)
        return self._stops[gradient]

    def size_of(self, element: Element) -> float:
        """Return the font size of an element where it stands, pixels."""
        if element not in self._sizes:
            above = FONT_SIZE if element.parent is None else self.size_of(element.parent)
            own = self.sheet.style(element, {}).get("font-size")
            root = self._sizes.get(self.root, FONT_SIZE)
            self._sizes[element] = above if own is None else font_size(own, above, root)
        return self._sizes[element]

    def standing(self, element: Element, place: Place) -> Place:
        """Return a place inside an element that is referred to: styled by where it stands."""
        return replace(
            place,
            style=self.style_of(element),
            font_size=self.size_of(element),
            uses=(*place.uses, element),
        )

    def target(self, element: Element) -> Element | None:
        """Return what an element refers to in the drawing; notes it and returns None otherwise."""
        href = element.href
        if not href.startswith("#"):
            what = "external reference" if href else "reference without target"
            self.notes.add(what, element.place)
            return None
        found = self.named(href[1:])
        if found is None:
            self.notes.add("reference without target", element.place)
        return found

    def referred(self, written: str, tag: str, what: str, place: str) -> Element | None:
        """Return the element that a property refers to; notes `what` for one that is not there."""
        address = url_of(written)
        if address is None or address[1]:
            self.notes.add(what, place)
            return None
        if not address[0].startswith("#"):
            self.notes.add("external reference", place)
            return None
        found = self.named(address[0][1:])
        if found is None or found.tag != tag:
            self.notes.add("reference without target" if what == "clip path" else what, place)
            return None
        return found

    def lengths(self, element: Element, place: Place) -> Callable[[str, str], float | None]:
        """Return what reads an attribute of an element as a length in user units.

        What style sheets say of it goes before (SVG 2, 8.4 and 10.1).
        """

        def read(name: str, way: str) -> float | None:
            text = place.style.get(name, element.attributes.get(name))
            if text is None or text.strip() == "auto":
                return None
            found = place.length(text, way)
            if found is None:
                self.notes.add("length", element.place)
            return found

        return read

    def placed(self, element: Element, place: Place, style: Mapping[str, str]) -> Place:
        """Return the place inside an element: its style, name and transform taken on."""
        size = place.font_size
        if self.sheet.writes(element, "font-size"):
            size = font_size(style.get("font-size", "medium"), size, place.root_size)
        inside = replace(
            place,
            style=style,
            names=(*place.names, element.id) if element.id else place.names,
            font_size=size,
        )
        moved = self._moved(element, inside)
        return inside if moved is None else replace(inside, matrix=compose(place.matrix, moved))

    def _moved(self, element: Element, place: Place) -> Matrix | None:
        """Return the transform of an element about its origin, None for none."""
        written = place.style.get("transform", "none")
        if CSS_TRANSFORM in place.style:
            moved = css_transform(place.style[CSS_TRANSFORM], place.length)
        elif written in ("none", ""):
            return None
        else:
            moved = transform(written)
        if moved is None:
            self.notes.add("transform", element.place)
            return None
        origin = place.style.get("transform-origin", "0 0")
        at = origin_of(origin, place.length)
        boxed = place.style.get("transform-box", "view-box") != "view-box"
        if at is None or (boxed and (at != (0.0, 0.0) or "%" in written)):
            self.notes.add("transform origin", element.place)
            return moved
        x, y = at
        return compose(compose((1.0, 0.0, 0.0, 1.0, x, y), moved), (1.0, 0.0, 0.0, 1.0, -x, -y))


def font_size(text: str, above: float, root: float) -> float:
    """Return a font size in pixels; `above` is that of the element above."""
    lower = text.lower()
    if lower in _SIZES:
        return FONT_SIZE * _SIZES[lower]
    if lower in ("larger", "smaller"):
        return above * _STEP if lower == "larger" else above / _STEP
    found = length(text, above, above, root)
    return above if found is None or found < 0 else found
