"""Fittings and borders of a plate in a recipe: checked at the edge."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from letterply.requests.fields import Length, Model, NotNegative, Positive

__all__ = ["At", "Border", "Keyholes", "Slots", "Standoffs"]

At = (
    Literal["top-corners", "bottom-corners", "corners", "top", "bottom", "sides", "centre"]
    | Annotated[list[tuple[Length, Length]], Field(min_length=1, max_length=500)]
)
"""Named places of a layer, or points from its lower left."""


class Slots(Model):
    """Slots with round ends: for a ribbon, a strap or a screw with play.

    `length` is the whole length; `angle` turns it counter-clockwise from lying flat.
    """

    kind: Literal["slots"]
    length: Positive
    width: Positive
    at: At = "sides"
    inset: NotNegative = 8.0
    angle: Annotated[float, Field(ge=-180, le=180)] = 0.0


class Standoffs(Model):
    """Holes for standoff bolts, with room for their caps."""

    kind: Literal["standoffs"]
    bolt: Positive = 8.0
    cap: Positive = 16.0
    at: At = "corners"
    inset: NotNegative = 14.0


class Keyholes(Model):
    """Keyholes to hang a plate on screws: a round hole for the head, a slot upward for the shank.

    `travel` is how far the plate sinks onto its screws; with `depth` they are pockets in the back
    of a layer that is cut from there, otherwise they go through. The shank's end lies `inset` away
    from the edge.
    """

    kind: Literal["keyholes"]
    head: Positive = 8.0
    shank: Positive = 4.0
    travel: Positive = 8.0
    depth: Positive | None = None
    at: At = "top"
    inset: NotNegative = 12.0


class Border(Model):
    """Lines that follow the outline inside it: scribed, carved, sunk or cut through.

    `inset` is from the outline to the middle of the first line, `gap` from one to the next.
    """

    kind: Literal["border"]
    work: Literal["scribe", "groove", "recess"] = "scribe"
    inset: Positive = 5.0
    width: Positive = 2.0
    depth: Positive = 0.5
    lines: Annotated[int, Field(ge=1, le=5)] = 1
    gap: Positive = 4.0
    corner: NotNegative = 0.0
