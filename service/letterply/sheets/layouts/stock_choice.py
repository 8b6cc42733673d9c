"""The rack: which stock sheets suit a part, how many are left, and why there is no room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from letterply.catalogue import Stock
from letterply.stacks import rigid
from letterply.units import format_mm

__all__ = ["THICKNESS_SLACK_MM", "Rack", "fits", "usable_mm", "why_no_room"]

THICKNESS_SLACK_MM = 0.05
"""Sheets whose nominal thickness differs by less are the same."""

_FIT_SLACK_MM = 1e-6
_FINE_TURNS_DEG = tuple(float(turn) for turn in range(0, 180, 5))


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
        return tuple(
            s
            for s in self.stock
            if s.material == material and abs(s.thickness_mm - thickness_mm) < THICKNESS_SLACK_MM
        )

    def why_used_up(self, material: str, thickness_mm: float) -> str:
        """Say that all sheets are used."""
        total = sum(s.count for s in self.of(material, thickness_mm) if s.count)
        sheets = "sheet" if total == 1 else "sheets"
        return (
            f"The rack holds {total} {sheets} of {material} {format_mm(thickness_mm)}, and this "
            "part found no room on what was left of them."
        )


def usable_mm(stock: Stock) -> tuple[float, float]:
    """Return width and height of a sheet within its margins, mm."""
    return stock.width_mm - 2 * stock.margin_mm, stock.height_mm - 2 * stock.margin_mm


def fits(
    outline: Polygon, types: Sequence[Stock], turns_deg: tuple[float, ...], *, any_turn: bool
) -> tuple[float, ...]:
    """Return the turns to try, or nothing when the part fits no sheet.

    Those are `turns_deg` when one of them fits. Otherwise, with `any_turn`, the turns at steps
    of five degrees at which it fits.
    """
    points = shapely.get_coordinates(outline.exterior)
    if any(_fits_at(points, types, turn) for turn in turns_deg):
        return turns_deg
    if not any_turn:
        return ()
    return tuple(turn for turn in _FINE_TURNS_DEG if _fits_at(points, types, turn))


def _fits_at(points: NDArray[np.float64], types: Sequence[Stock], turn_deg: float) -> bool:
    a, b, c, d, _, _ = rigid(turn_deg, 0.0, 0.0)
    wide, high = np.ptp(points @ np.array([[a, c], [b, d]]), axis=0).tolist()
    return any(
        wide <= width + _FIT_SLACK_MM and high <= height + _FIT_SLACK_MM
        for width, height in map(usable_mm, types)
    )


def why_no_room(
    outline: Polygon, rack: Rack, material: str, thickness_mm: float, *, grain: bool
) -> str:
    """Say why a part fits no sheet that is left."""
    same = [s for s in rack.stock if s.material == material]
    if not same:
        return f"There is no stock of {material} on the rack."
    if not rack.of(material, thickness_mm):
        there = ", ".join(format_mm(t) for t in sorted({s.thickness_mm for s in same}))
        return (
            f"There is no stock of {material} {format_mm(thickness_mm)}; "
            f"the rack holds it in {there}."
        )
    types = rack.suitable(material, thickness_mm)
    if not types:
        return f"No sheet of {material} {format_mm(thickness_mm)} is left on the rack."
    left, low, right, high = outline.bounds
    largest = max(types, key=lambda s: (usable_mm(s)[0] * usable_mm(s)[1], s.key))
    width, height = usable_mm(largest)
    turning = (
        "it may not be turned but by 180°, for the grain"
        if grain
        else "turning it does not help either"
    )
    return (
        f"The part is {format_mm(right - left)} × {format_mm(high - low)}; the largest sheet of "
        f"{material} {format_mm(thickness_mm)} that is left has {format_mm(width)} × "
        f"{format_mm(height)} within its margins, and {turning}."
    )
