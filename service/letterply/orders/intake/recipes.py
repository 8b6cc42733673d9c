"""Named recipes, and what a line changes in one: recipe and cells in, a complete recipe out.

In a recipe for orders `{text}` stands for the text of the line: in its title and in every
lettering. A recipe without it takes the text of the line as its main lettering.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Mapping
from functools import lru_cache
from importlib.resources import files

from letterply.orders.codec import Facts
from letterply.orders.intake.cells import BadCell

__all__ = [
    "SIZES",
    "fill_in",
    "has_place",
    "set_font",
    "set_material",
    "set_size",
    "shipped_recipes",
]

SIZES = ("cap_height", "x_height", "em", "width", "fit_disc")
"""Sizes of a recipe that one length can replace."""

_PLACE = "{text}"
_MAX_TITLE = 200


@lru_cache(maxsize=1)
def shipped_recipes() -> Mapping[str, Facts]:
    """Return the recipes that come with the service, by name, sorted."""
    folder = files("letterply.orders") / "data" / "recipes"
    found = {
        entry.name.removesuffix(".json"): json.loads(entry.read_text("utf-8"))
        for entry in folder.iterdir()
        if entry.name.endswith(".json")
    }
    return dict(sorted(found.items()))


def fill_in(recipe: Facts, text: str) -> dict[str, object]:
    """Return a copy of a recipe with the text of a line in it.

    >>> made = fill_in({"title": "{text} sign", "lettering": {"text": "?"}}, "Knot")
    >>> made["title"], made["lettering"]["text"]
    ('Knot sign', 'Knot')

    """
    made = copy.deepcopy(dict(recipe))
    found = _replaced(made, text)
    lettering = made.get("lettering")
    if not found and text and isinstance(lettering, dict):
        lettering["text"] = text
    title = made.get("title")
    if isinstance(title, str):
        made["title"] = " ".join(title.replace(_PLACE, text).split())[:_MAX_TITLE] or "Sign"
    return made


def _replaced(value: object, text: str) -> bool:
    """Put the text into every lettering below `value`; tell whether there was a place for it."""
    found = False
    waiting = [value]
    while waiting:
        item = waiting.pop()
        if isinstance(item, dict):
            lettering = item.get("lettering")
            if isinstance(lettering, dict):
                own = lettering.get("text")
                if isinstance(own, str) and _PLACE in own:
                    lettering["text"] = own.replace(_PLACE, text)
                    found = True
            waiting.extend(item.values())
        elif isinstance(item, list):
            waiting.extend(item)
    return found


def has_place(recipe: Facts) -> bool:
    """Tell whether the text of a line comes into a recipe: as lettering, or in its title."""
    return bool(recipe.get("lettering")) or _PLACE in json.dumps(recipe, ensure_ascii=False)


def set_font(recipe: dict[str, object], font: str) -> None:
    """Set the font of the main lettering; axes and features of the other font do not go along.

    Raises:
        BadCell: `no-lettering` for a recipe without.

    """
    lettering = _lettering(recipe)
    if lettering.get("font") != font:
        for name in ("features", "instance", "face"):
            lettering.pop(name, None)
    lettering["font"] = font


def set_size(recipe: dict[str, object], size_mm: float) -> None:
    """Set the size of the main lettering, of the kind that the recipe has.

    Raises:
        BadCell: `bad-size` when one length can not replace it, `no-lettering` for a recipe
            without.

    """
    lettering = _lettering(recipe)
    size = lettering.get("size")
    kinds = [k for k in SIZES if isinstance(size, Mapping) and size.get(k) is not None]
    if not kinds:
        raise BadCell(
            "bad-size",
            "The recipe has no single length as its size, so a line cannot change it.",
            f"a recipe sized by one of {', '.join(SIZES)}",
        )
    lettering["size"] = {kinds[0]: size_mm}


def set_material(
    recipe: dict[str, object], wanted: Mapping[str, str], known: Callable[[str], bool]
) -> None:
    """Set materials by layer; an empty layer name means the top one.

    Raises:
        BadCell: `unknown-layer`, `unknown-material`.

    """
    layers = recipe.get("layers")
    layers = [la for la in layers if isinstance(la, dict)] if isinstance(layers, list) else []
    if not layers:
        return
    by_name = {str(la.get("name")): la for la in layers}
    for name, material in wanted.items():
        layer = by_name.get(name) if name else layers[-1]
        if layer is None:
            raise BadCell(
                "unknown-layer",
                f"The recipe has no layer called {name[:40]!r}.",
                f"one of: {', '.join(by_name)}",
            )
        if not known(material):
            raise BadCell(
                "unknown-material",
                f"There is no material called {material[:80]!r}.",
                "a key from the list of materials",
            )
        layer["material"] = material


def _lettering(recipe: dict[str, object]) -> dict[str, object]:
    lettering = recipe.get("lettering")
    if lettering is None:
        raise BadCell(
            "no-lettering",
            "The recipe has no lettering, so a line cannot set its font or size.",
            "a line without font and size, or a recipe with lettering",
        )
    return lettering if isinstance(lettering, dict) else {}
