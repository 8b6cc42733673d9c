"""What is known while a drawing is walked: the drawing itself, and the place one has come to."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import Matrix
from letterply.lettering.artwork.omissions import Notes
from letterply.lettering.artwork.styles import Sheet
from letterply.lettering.artwork.values import length

__all__ = ["Place", "Scene"]


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

    """

    matrix: Matrix
    style: Mapping[str, str]
    width: float
    height: float
    font_size: float
    names: tuple[str, ...] = ()
    uses: tuple[Element, ...] = ()

    def whole(self, way: str) -> float:
        """Return what 100 % stands for: along `x`, along `y`, or otherwise (SVG 2, 8.9)."""
        if way == "x":
            return self.width
        if way == "y":
            return self.height
        return math.hypot(self.width, self.height) / math.sqrt(2)


class Scene:
    """A drawing: its elements by id, its style sheets, and what is noted about it."""

    def __init__(self, root: Element, sheet: Sheet, notes: Notes) -> None:
        self.sheet = sheet
        self.notes = notes
        self._by_id: dict[str, Element] = {}
        for element in root.walk():
            if element.id:
                self._by_id.setdefault(element.id, element)
        self.servers = frozenset(e.id for e in root.walk() if e.id and _paints(e))

    def named(self, name: str) -> Element | None:
        """Return the element with an id, or None."""
        return self._by_id.get(name)

    def target(self, element: Element) -> Element | None:
        """Return what an element refers to in the drawing; notes it and returns None otherwise."""
        href = element.href
        if not href.startswith("#"):
            what = "external reference" if href else "reference without target"
            self.notes.add(what, element.place)
            return None
        found = self._by_id.get(href[1:])
        if found is None:
            self.notes.add("reference without target", element.place)
        return found

    def lengths(self, element: Element, place: Place) -> Callable[[str, str], float | None]:
        """Return what reads an attribute of an element as a length in user units."""

        def read(name: str, way: str) -> float | None:
            text = element.attributes.get(name)
            if text is None:
                return None
            found = length(text, place.whole(way), place.font_size)
            if found is None:
                self.notes.add("length", element.place)
            return found

        return read


def _paints(element: Element) -> bool:
    """Whether an element is a paint server with anything to paint."""
    if element.tag in ("linearGradient", "radialGradient"):
        return bool(element.href) or any(c.tag == "stop" for c in element.children)
    return element.tag == "pattern" and (bool(element.href) or bool(element.children))
