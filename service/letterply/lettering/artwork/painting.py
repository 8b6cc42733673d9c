"""Fill and line of a shape, from its style: whether they are seen, and their colour."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, cast

from letterply.lettering.artwork.colours import Colour, colour_of
from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import Bounds, FillRule, Stroke
from letterply.lettering.artwork.properties import url_of
from letterply.lettering.artwork.scene import ContextPaint, Place, Scene, ServerPaint
from letterply.lettering.artwork.servers import IGNORED, SERVERS, server_paint
from letterply.lettering.artwork.values import length

__all__ = ["Box", "Painter", "some_box"]

Box = Callable[[], Bounds | None]
"""Finds the box of a shape's outline in user units."""


def some_box() -> Bounds:
    """Return a box with extent: for what has one that nobody measures."""
    return 0.0, 0.0, 1.0, 1.0


class Painter:
    """Reads paints, and notes what is not taken as drawn."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene

    def fill(
        self, element: Element, place: Place, box: Box = some_box
    ) -> tuple[FillRule | None, str]:
        """Return the rule by which a shape is filled, None when it is not, and the colour."""
        colour = self._seen(element, place, "fill", box)
        if colour is None:
            return None, ""
        return ("evenodd" if place.style.get("fill-rule") == "evenodd" else "nonzero"), colour

    def width(self, place: Place) -> float:
        """Return the width of a line in user units."""
        width = place.length(place.style.get("stroke-width", "1"), "o")
        return 1.0 if width is None else width

    def stroke(
        self, element: Element, place: Place, box: Box = some_box
    ) -> tuple[Stroke | None, str]:
        """Return how the line of a shape is drawn, None when it is not, and the colour."""
        style = place.style
        width = self.width(place)
        colour = self._seen(element, place, "stroke", box) if width > 0 else None
        if colour is None:
            return None, ""
        if style.get("vector-effect", "none") != "none":
            self._scene.notes.add("vector effect", element.place)
        join = style.get("stroke-linejoin", "miter")
        if join not in ("miter", "round", "bevel"):
            self._scene.notes.add("line join", element.place)
            join = "miter"
        limit = length(style.get("stroke-miterlimit", "4"), 1.0)
        path_length = length(element.attributes.get("pathLength"), 0.0)
        cap = style.get("stroke-linecap", "butt")
        stroke = Stroke(
            width=width,
            cap=cast("Literal['butt', 'round', 'square']", cap),
            join=cast("Literal['miter', 'round', 'bevel']", join),
            miter_limit=4.0 if limit is None else limit,
            dashes=self._dashes(place),
            dash_offset=place.length(style.get("stroke-dashoffset", "0"), "o") or 0.0,
            path_length=path_length if path_length and path_length > 0 else None,
        )
        return stroke, colour

    def paint(self, element: Element, place: Place, name: str, box: Box) -> ContextPaint:
        """Return what `fill` or `stroke` paints with, None for nothing (SVG 2, 13.2)."""
        written = place.style.get(name, "black" if name == "fill" else "none")
        lower = written.lower()
        if lower == "none":
            return None
        if lower in ("context-fill", "context-stroke"):
            return place.context[lower == "context-stroke"]
        address = url_of(written)
        if address is None:
            return colour_of(written, place.style.get("color", "black"))
        href, instead = address
        server = self._scene.named(href[1:]) if href.startswith("#") else None
        if not href.startswith("#"):
            self._scene.notes.add("external reference", element.place)
        elif server is not None and server.tag not in SERVERS:
            self._scene.notes.add(f"element {server.tag[:40]}", element.place)
        if server is not None and server.tag in SERVERS:
            found = server_paint(server, self._scene, box())
            if found is not IGNORED:
                return found
        if not instead or instead.lower() == "none":
            return None
        return colour_of(instead, place.style.get("color", "black"))

    def _seen(self, element: Element, place: Place, name: str, box: Box) -> str | None:
        """Return the colour of a paint, empty for a gradient; None when nothing is to be seen."""
        style = place.style
        if style.get("visibility") in ("hidden", "collapse"):
            return None
        opacity = length(style.get(f"{name}-opacity"), 1.0)
        if opacity is not None and opacity <= 0:
            return None
        found = self.paint(element, place, name, box)
        if found is None:
            return None
        alpha = 1.0 if opacity is None else min(opacity, 1.0)
        if isinstance(found, ServerPaint):
            self._scene.notes.add(found.kind, element.place)
        else:
            alpha *= found.alpha
        if alpha <= 0:
            return None
        if alpha < 1:
            self._scene.notes.add("transparency", element.place)
        return found.text if isinstance(found, Colour) else ""

    def _dashes(self, place: Place) -> tuple[float, ...]:
        text = place.style.get("stroke-dasharray", "none").lower()
        if text == "none":
            return ()
        read = [place.length(t, "o") for t in text.replace(",", " ").split()]
        dashes = tuple(d for d in read if d is not None)
        return dashes if sum(dashes) > 0 else ()
