"""The rack: which stock sheets suit a part, how many are left, and why there is no room."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon

from letterply.catalogue import NoRoom, Stock, room, sheets_of
from letterply.names import key_words
from letterply.said import Said, say
from letterply.units import counted, format_mm

__all__ = ["Rack", "why_no_room"]


class Rack:
    """Stock sheets and how many of them are left."""

    def __init__(self, stock: Sequence[Stock]) -> None:
        self.stock = tuple(stock)
        self._left = {s.key: s.count for s in stock}
        if len(self._left) != len(self.stock):
            raise ValueError("every stock sheet has its own key")

    def left(self, stock: Stock) -> int:
        """Return how many sheets of this kind are left."""
        return self._left[stock.key]

    def take(self, stock: Stock) -> None:
        """Take one sheet; raises `ValueError` when there is none."""
        if self._left[stock.key] < 1:
            raise ValueError(f"no sheet {stock.key!r} is left")
        self._left[stock.key] -= 1

    def suitable(self, material: str, thickness_mm: float) -> tuple[Stock, ...]:
        """Return the kinds of sheet of this material and thickness of which any are left."""
        return tuple(s for s in self.of(material, thickness_mm) if self._left[s.key])

    def of(self, material: str, thickness_mm: float) -> tuple[Stock, ...]:
        """Return the kinds of sheet of this material and thickness, left or not."""
        return sheets_of(self.stock, material, thickness_mm)

    def why_used_up(self, material: str, thickness_mm: float) -> Said:
        """Say that all sheets are used."""
        total = sum(s.count for s in self.of(material, thickness_mm) if s.count)
        return say(
            "The rack holds {sheets} of {thickness} {material}, and what is left of them has no "
            "space for this part.",
            sheets=counted(total, "sheet"),
            thickness=format_mm(thickness_mm),
            material=key_words(material),
        )


def why_no_room(
    outline: Polygon, rack: Rack, material: str, thickness_mm: float, *, grain: bool
) -> NoRoom:
    """Say why a part fits no sheet that is left."""
    types = rack.suitable(material, thickness_mm)
    if rack.of(material, thickness_mm) and not types:
        return NoRoom(
            say(
                "No sheet of {thickness} {material} is left on the rack.",
                thickness=format_mm(thickness_mm),
                material=key_words(material),
            )
        )
    return room.why_no_room(outline, types or rack.stock, material, thickness_mm, grain=grain)
