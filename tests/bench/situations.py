"""Named situations of the benchmark: what is made, of what, on which machine. Nothing is random.

A situation is a font and a number of letters: boats named after shore birds, one a line, every
other line in capitals, on stacks of a grown MDF backer and an acrylic face.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

__all__ = ["FONTS", "SIZES", "Situation"]

FONTS = ("lobster", "dancing-script")
SIZES = (6, 24, 96)

_BOATS = (
    "Avocet", "Curlew", "Dunlin", "Godwit", "Plover", "Willet", "Jacana", "Whimbrel", "Knot",
    "Turnstone", "Sanderling", "Redshank", "Lapwing", "Surfbird",
)  # fmt: skip
_LINES = {6: 1, 24: 4, 96: 14}
_SHEETS = (("mdf", 6), ("acrylic-cast", 3))


@dataclass(frozen=True, slots=True)
class Situation:
    """Lines of one font.

    Attributes:
        font: key of the font.
        letters: how many: 6, 24 or 96.

    """

    font: str
    letters: int

    @property
    def name(self) -> str:
        """What the table calls it."""
        return f"{self.font}, {self.letters} letters"

    @property
    def text(self) -> str:
        """The lines; every other one in capitals."""
        lines = _BOATS[: _LINES[self.letters]]
        return "\n".join(line.upper() if k % 2 else line for k, line in enumerate(lines))

    @property
    def recipe(self) -> dict[str, Any]:
        """The request's recipe."""
        return {
            "title": self.name,
            "lettering": {"text": self.text, "font": self.font, "size": {"cap_height": "40 mm"}},
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
            "align": {"kind": "dowels", "diameter": "3 mm"},
        }

    @property
    def shop(self) -> dict[str, Any]:
        """The request's shop: one large sheet of each material, so that everything fits."""
        return {
            "machine": "shop-router",
            "stock": [
                {
                    "material": material,
                    "thickness_mm": thickness,
                    "width_mm": 1240,
                    "height_mm": 1240,
                    "count": 4,
                }
                for material, thickness in _SHEETS
            ],
        }
