"""What of a drawing could not be taken as drawn: kept by kind, told in words."""

from __future__ import annotations

from letterply.lettering.artwork.model import LeftOut

__all__ = ["KINDS", "Notes"]

_LEFT_OUT = "left out"
_PATHS = "turn it into paths in your drawing program"
KINDS: dict[str, tuple[str, str]] = {
    "text": (_LEFT_OUT, "a text asks for a font: name one as `font`, set the words as lettering, "
             "or turn them into paths"),
    "text detail": ("set in its place, but without spacing, shifts, turns or paths of its own",
                    "turn the text into paths"),
    "image": (_LEFT_OUT, "trace the picture into paths"),
    "embedded page": (_LEFT_OUT, _PATHS),
    "script": ("left out and never run", "none needed, unless it draws something"),
    "animation": ("taken as it stands before it moves", "set the shape as it is to be cut"),
    "external reference": ("left out and never fetched", "put what it refers to into the file"),
    "reference without target": (_LEFT_OUT, "put what it refers to into the file"),
    "id used twice": ("taken as the first element that has it", "give each element its own id"),
    "reference to itself": (_LEFT_OUT, "break the circle"),
    "mask": ("taken without the mask", "clip with a path instead"),
    "soft mask": ("taken wherever the mask lets light through", "mask with white and black"),
    "filter": ("taken without the filter", _PATHS),
    "marker": ("taken without one that is missing", "put the marker into the file"),
    "lone vertex": ("taken without the markers at points that no line leaves", _PATHS),
    "symbol reference": ("taken without its reference point", "shift it with x and y"),
    "text on a path": (_LEFT_OUT, _PATHS),
    "switch": ("taken as its first branch that can be drawn", "keep the branch that is meant"),
    "gradient": ("taken as filled throughout", "none needed, if the whole shape is to be cut"),
    "pattern": ("taken as filled throughout", "draw what is to be cut as paths"),
    "transparency": ("taken as solid", "none needed, if the whole shape is to be cut"),
    "line join": ("taken as a mitre", "use miter, round or bevel"),
    "clip path": ("taken without the clip", "clip with an element clipPath"),
    "vector effect": ("taken as an ordinary line", _PATHS),
    "transform": ("taken without it", "write it as SVG has it"),
    "transform origin": ("taken about the usual origin", "write the turn with its own centre"),
    "path data": ("drawn up to the mistake", "repair the path"),
    "points": ("drawn up to the mistake", "repair the points"),
    "length": ("taken as not given", "write a number, or a number with a unit"),
    "style sheet": ("at-rules and other languages left out", "set the style at the element"),
    "style rule": (_LEFT_OUT, "select by types, classes, ids and attributes"),
    "style property": (_LEFT_OUT, "write it out as plain attributes of SVG"),
    "beyond the page": ("taken all the same", "delete it if it is not to be cut"),
}  # fmt: skip
"""Kind of a note -> what was done instead, what would help; README.md has an example of each."""

_MOST_PLACES = 8


class Notes:
    """Collects what could not be taken as drawn."""

    def __init__(self) -> None:
        self._places: dict[str, list[str]] = {}

    def add(self, what: str, place: str) -> None:
        """Note something at a place; `what` is a kind of the table, or `element <name>`."""
        self._places.setdefault(what, []).append(place)

    def told(self) -> tuple[LeftOut, ...]:
        """Return all notes by kind."""
        found: list[LeftOut] = []
        for what, places in sorted(self._places.items()):
            done, remedy = KINDS.get(what, (_LEFT_OUT, _PATHS))
            where = tuple(dict.fromkeys(places))[:_MOST_PLACES]
            found.append(LeftOut(what, done, len(places), where, remedy))
        return tuple(found)
