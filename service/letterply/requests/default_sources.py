"""Where the figures come from that a recipe has when it names none.

Model and field -> source. The interactive documents show them beside each default. A figure of 0
or nothing is no figure; a default that follows from material and thickness has its source there.
"""

from __future__ import annotations

from collections.abc import Mapping

from letterply.sources import Source

__all__ = ["RECIPE_DEFAULTS"]

_PRACTICE = Source("common practice, no source", "common practice")
_ROOM = Source("room to the edge: common practice, no source", "common practice")
_CLEARANCE = Source("all round, for a fit by hand: common practice, no source", "common practice")
_LINE = Source(
    "a line that is seen and felt and that hardly weakens: common practice, no source",
    "common practice",
)
_LOOK = Source("by eye: common practice, no source", "common practice")
_HARDWARE = Source("a usual size in the trade: measure your own", "common practice")
_COUNT = Source("one, as long as nothing else is said", "common practice")

RECIPE_DEFAULTS: Mapping[str, Source] = {
    "BlankHole.diameter": _HARDWARE,
    "BlankHole.inset": _ROOM,
    "BlankOutline.safe_margin": _ROOM,
    "Border.depth": _LOOK,
    "Border.gap": _LOOK,
    "Border.inset": _LOOK,
    "Border.lines": _COUNT,
    "Border.width": _LOOK,
    "Dowels.diameter": _HARDWARE,
    "DrawnLine.scale": _COUNT,
    "FixtureWish.clearance": _CLEARANCE,
    "FixtureWish.columns": _COUNT,
    "FixtureWish.gap": _PRACTICE,
    "FixtureWish.rows": _COUNT,
    "FixtureWish.thickness": _HARDWARE,
    "Frame.clearance": _CLEARANCE,
    "Frame.thickness": _HARDWARE,
    "Holes.inset": _ROOM,
    "Keyholes.head": _HARDWARE,
    "Keyholes.inset": _ROOM,
    "Keyholes.shank": _HARDWARE,
    "Keyholes.travel": _PRACTICE,
    "LetteringRecipe.line_gap": _LOOK,
    "Ornament.gap": _LOOK,
    "Place.inset": _ROOM,
    "PlacementLines.depth": _LINE,
    "PlacementLines.inset": Source(
        "so far inside that glue hides it: common practice, no source", "common practice"
    ),
    "PlateOutline.sides": _LOOK,
    "Reading.baseline_height": Source(
        "60 in, chosen within the 40 in to 70 in of the first row of Table 703.5.5, 2010 ADA "
        "Standards",
        "derived",
    ),
    "Recipe.copies": _COUNT,
    "Ribbon.diameter": _HARDWARE,
    "Ribbon.inset": _ROOM,
    "ScribeLettering.depth": _LINE,
    "Slots.inset": _ROOM,
    "Standoffs.bolt": _HARDWARE,
    "Standoffs.cap": _HARDWARE,
    "Standoffs.inset": _ROOM,
}
