"""Which stock sheets take an outline, at which turns, and why none does: for checks and layouts.

What counts of a sheet is its room: within its margins, and as far as the machine reaches as it
lies there (`letterply.catalogue.lying`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely import Polygon

from letterply.catalogue.model import Stock
from letterply.names import key_words
from letterply.said import Said, say
from letterply.shapes import FREE_TURNS_DEG, GRAIN_TURNS_DEG, turns_that_fit
from letterply.units import about_mm, format_mm, listed

__all__ = ["THICKNESS_SLACK_MM", "NoRoom", "sheets_of", "turns_on", "why_no_room"]

THICKNESS_SLACK_MM = 0.05
"""Sheets whose nominal thickness differs by less are the same."""


@dataclass(frozen=True, slots=True)
class NoRoom:
    """Why an outline has no room.

    Attributes:
        why: in a sentence.
        by_machine: True when a sheet on the rack would take it, but the machine does not reach.

    """

    why: Said
    by_machine: bool = False

    @property
    def remedy(self) -> Said:
        """What to do about it."""
        if self.by_machine:
            return say("make it smaller or in two pieces, or cut it on a larger machine")
        return say("put a larger sheet of it on the rack")


def sheets_of(stock: Sequence[Stock], material: str, thickness_mm: float) -> tuple[Stock, ...]:
    """Return the kinds of sheet of this material and thickness, left or not."""
    return tuple(
        s
        for s in stock
        if s.material == material and abs(s.thickness_mm - thickness_mm) < THICKNESS_SLACK_MM
    )


def turns_on(
    outline: Polygon,
    sheets: Sequence[Stock],
    *,
    grain: bool,
    free_turns_deg: tuple[float, ...] = FREE_TURNS_DEG,
) -> tuple[float, ...]:
    """Return the turns, from along the width of a sheet, to try; nothing where it fits none."""
    turns = GRAIN_TURNS_DEG if grain else free_turns_deg
    return turns_that_fit(outline, [s.room_mm for s in sheets], turns, any_turn=not grain)


def why_no_room(
    outline: Polygon,
    stock: Sequence[Stock],
    material: str,
    thickness_mm: float,
    *,
    grain: bool,
    name: str = "",
) -> NoRoom:
    """Say why an outline fits no sheet of the rack of which any are left.

    Args:
        outline: what found no room.
        stock: the rack.
        material: key of its material.
        thickness_mm: thickness of its sheet.
        grain: whether it may be turned by 180 degrees only.
        name: what the material is called in a sentence; its key in words where it is left out.

    """
    same = [s for s in stock if s.material == material]
    name = name or key_words(material)
    if not same:
        return NoRoom(say("The rack holds no sheet of {of}.", of=name))
    sheets = sheets_of(same, material, thickness_mm)
    of = say("{thickness} {material}", thickness=format_mm(thickness_mm), material=name)
    if not sheets:
        there = listed([format_mm(t) for t in sorted({s.thickness_mm for s in same})])
        return NoRoom(say("The rack holds no sheet of {of}, only of {there}.", of=of, there=there))
    left, low, right, high = outline.bounds
    size = f"{about_mm(right - left)} × {about_mm(high - low)}"
    turning = (
        say("it can only be turned by 180°, for the grain")
        if grain
        else say("turning it does not help")
    )
    turns = GRAIN_TURNS_DEG if grain else FREE_TURNS_DEG
    if turns_that_fit(outline, [_whole(s) for s in sheets], turns, any_turn=not grain):
        width, height = _largest([s.room_mm for s in sheets])
        return NoRoom(
            say(
                "The part is {size} and a sheet of {of} is large enough, but the "
                "machine reaches only {width} × {height} of it, and {turning}.",
                size=size,
                of=of,
                width=format_mm(width),
                height=format_mm(height),
                turning=turning,
            ),
            by_machine=True,
        )
    width, height = _largest([_whole(s) for s in sheets])
    return NoRoom(
        say(
            "The part is {size} and the largest sheet of {of} that is left has "
            "{width} × {height} within its margins, and {turning}.",
            size=size,
            of=of,
            width=format_mm(width),
            height=format_mm(height),
            turning=turning,
        )
    )


def _whole(sheet: Stock) -> tuple[float, float]:
    """Return width and height of a sheet within its margins, wherever the machine reaches."""
    return sheet.width_mm - 2 * sheet.edge_mm, sheet.height_mm - 2 * sheet.edge_mm


def _largest(rooms_mm: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return max(rooms_mm, key=lambda room: (room[0] * room[1], room))
