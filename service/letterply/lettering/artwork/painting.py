"""Fill and line of a shape, from its style. Paints are seen or not; their colour is only noted."""

from __future__ import annotations

from typing import Literal, cast

from letterply.lettering.artwork.document import Element
from letterply.lettering.artwork.model import Stroke
from letterply.lettering.artwork.scene import Place, Scene
from letterply.lettering.artwork.styles import paint
from letterply.lettering.artwork.values import length

__all__ = ["Painter"]

_MARKED = frozenset({"path", "line", "polyline", "polygon"})
_JOINS = {"miter": "miter", "round": "round", "bevel": "bevel"}


_CAPS = frozenset({"butt", "round", "square"})


class Painter:
    """Reads paints, and notes what is not taken as drawn."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene

    def fill(self, element: Element, place: Place) -> tuple[str | None, str]:
        """Return the rule by which a shape is filled, None when it is not, and the colour."""
        colour = self._paint(element, place, "fill", "black")
        if colour is None:
            return None, ""
        rule = place.style.get("fill-rule", "nonzero")
        return ("evenodd" if rule == "evenodd" else "nonzero"), colour

    def stroke(self, element: Element, place: Place) -> tuple[Stroke | None, str]:
        """Return how the line of a shape is drawn, None when it is not, and the colour."""
        colour = self._paint(element, place, "stroke", "none")
        style = place.style
        width = length(style.get("stroke-width", "1"), place.whole("o"), place.font_size)
        if width is None or width < 0:
            self._scene.notes.add("length", element.place)
            width = 1.0
        if colour is None or width == 0:
            return None, ""
        if element.tag in _MARKED and any(
            style.get(f"marker-{end}", "none") not in ("none", "")
            for end in ("start", "mid", "end")
        ):
            self._scene.notes.add("marker", element.place)
        if style.get("vector-effect", "none") != "none":
            self._scene.notes.add("vector effect", element.place)
        join = style.get("stroke-linejoin", "miter")
        if join not in _JOINS:
            self._scene.notes.add("line join", element.place)
        cap = style.get("stroke-linecap", "butt")
        limit = length(style.get("stroke-miterlimit", "4"), 1.0)
        path_length = length(element.attributes.get("pathLength"), 0.0)
        stroke = Stroke(
            width=width,
            cap=cast("Literal['butt', 'round', 'square']", cap if cap in _CAPS else "butt"),
            join=cast("Literal['miter', 'round', 'bevel']", _JOINS.get(join, "miter")),
            miter_limit=limit if limit is not None and limit >= 1 else 4.0,
            dashes=self._dashes(element, place),
            dash_offset=self._offset(place),
            path_length=path_length if path_length and path_length > 0 else None,
        )
        return stroke, colour

    def _paint(self, element: Element, place: Place, name: str, usual: str) -> str | None:
        """Return the colour of a paint, empty for a gradient; None when nothing is to be seen."""
        style = place.style
        if style.get("visibility") in ("hidden", "collapse"):
            return None
        opacity = length(style.get(f"{name}-opacity"), 1.0)
        if opacity is not None and opacity <= 0:
            return None
        found = paint(style.get(name, usual), style.get("color", "black"), self._scene.servers)
        if not found.seen:
            return None
        if found.server:
            server = self._scene.named(found.server)
            kind = "pattern" if server is not None and server.tag == "pattern" else "gradient"
            self._scene.notes.add(kind, element.place)
        if opacity is not None and opacity < 1:
            self._scene.notes.add("transparency", element.place)
        return found.colour

    def _dashes(self, element: Element, place: Place) -> tuple[float, ...]:
        text = place.style.get("stroke-dasharray", "none").strip()
        if text in ("none", ""):
            return ()
        whole = place.whole("o")
        read = [length(t, whole, place.font_size) for t in text.replace(",", " ").split()]
        dashes = tuple(d for d in read if d is not None)
        if len(dashes) < len(read) or any(d < 0 for d in dashes):
            self._scene.notes.add("length", element.place)
            return ()
        return dashes if sum(dashes) > 0 else ()

    def _offset(self, place: Place) -> float:
        text = place.style.get("stroke-dashoffset", "0")
        return length(text, place.whole("o"), place.font_size) or 0.0
