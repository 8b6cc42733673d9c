"""The scenario of the tests: recipes of a rowing club whose boats are named after shore birds."""

from __future__ import annotations

import copy
from typing import Any


def rack_sign(text: str = "Avocet") -> dict[str, Any]:
    """Return three layers: a board with holes and a carved line, a joined backer, a face."""
    return {
        "title": f"{text} rack sign",
        "lettering": {
            "text": text,
            "font": "dancing-script",
            "features": {"wght": 700},
            "size": {"cap_height": "60 mm"},
        },
        "layers": [
            {
                "name": "board",
                "material": "birch-plywood",
                "thickness": "9 mm",
                "outline": {
                    "kind": "plate",
                    "shape": "rounded",
                    "margin": {"left": 18, "right": 18, "top": 18, "bottom": 30},
                    "corner": "12 mm",
                },
                "features": [
                    {"kind": "holes", "diameter": "5 mm", "at": "top-corners", "inset": "12 mm"},
                    {
                        "kind": "groove_lettering",
                        "lettering": {
                            "text": "ROWING CLUB",
                            "font": "atkinson-hyperlegible",
                            "size": {"cap_height": "7 mm"},
                        },
                        "place": {"anchor": "bottom", "inset": "10 mm"},
                    },
                ],
            },
            {
                "name": "backer",
                "material": "mdf",
                "thickness": "6 mm",
                "outline": {
                    "kind": "lettering",
                    "grow": "4 mm",
                    "join": True,
                    "soften": "1.2 mm",
                },
            },
            {
                "name": "face",
                "material": "acrylic-cast",
                "thickness": "3 mm",
                "outline": {"kind": "lettering"},
            },
        ],
        "align": {"kind": "dowels", "diameter": "3 mm"},
    }


def rack_letters(text: str = "ABH", copies: int = 2) -> dict[str, Any]:
    """Return letters of two materials, a part a letter."""
    return {
        "title": "Rack letters",
        "copies": copies,
        "lettering": {
            "text": text,
            "font": "archivo-black",
            "size": {"cap_height": "50 mm"},
            "tracking": "12 mm",
        },
        "layers": [
            {
                "name": "backer",
                "material": "mdf",
                "thickness": "6 mm",
                "outline": {"kind": "lettering", "grow": "3 mm"},
            },
            {
                "name": "face",
                "material": "acrylic-cast",
                "thickness": "3 mm",
                "outline": {"kind": "lettering"},
            },
        ],
        "align": {"kind": "placement_lines"},
    }


def locker_tag(text: str = "27") -> dict[str, Any]:
    """Return a round brass tag with a ribbon hole, engraved by a drag point."""
    return {
        "title": f"Locker tag {text}",
        "lettering": {"text": text, "font": "zilla-slab-bold", "size": {"cap_height": "16 mm"}},
        "layers": [
            {
                "name": "tag",
                "material": "brass",
                "thickness": "1 mm",
                "outline": {
                    "kind": "plate",
                    "shape": "circle",
                    "diameter": "50 mm",
                    "ribbon": {"diameter": "4 mm", "inset": "3 mm"},
                },
                "features": [{"kind": "scribe_lettering", "style": "hatch"}],
            }
        ],
    }


def one_layer(
    text: str | None,
    outline: dict[str, Any],
    *features: dict[str, Any],
    name: str = "board",
    material: str = "mdf",
    thickness: float | str = 6,
    font: str = "oswald",
    size: dict[str, Any] | None = None,
    title: str | None = None,
) -> dict[str, Any]:
    """Return a recipe of one layer, for tests that need no more; no text means no lettering."""
    layer = {"name": name, "material": material, "thickness": thickness, "outline": outline}
    lettering = {"text": text, "font": font, "size": size or {"cap_height": "16 mm"}}
    return {
        "title": title or text or name,
        **({} if text is None else {"lettering": lettering}),
        "layers": [layer | ({"features": list(features)} if features else {})],
    }


def changed(recipe: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """Return a copy with values at dotted paths replaced: `layers__0__name="x"`."""
    made = copy.deepcopy(recipe)
    for path, value in changes.items():
        at: Any = made
        *steps, last = path.split("__")
        for step in steps:
            at = at[int(step) if step.isdigit() else step]
        at[last] = value
    return made
