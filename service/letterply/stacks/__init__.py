"""Recipe in, stack out.

In: a recipe, a catalogue, fonts and drawings. Out: layers of parts on one datum, bottom to top,
with what is worked into them, their fixtures, and what there is to say of them.
"""

from letterply.stacks.blanks.loads import is_turned
from letterply.stacks.build import build_stack
from letterply.stacks.model import Fixture, Layer, Part, Repair, RepairReport, Stack, rigid
from letterply.stacks.naming import letters_words, part_words
from letterply.stacks.outlines.artwork import Drawings, with_ornaments
from letterply.stacks.outlines.lettering import measure_recipe_lettering, set_recipe_lettering
from letterply.stacks.outlines.plates import hole_region
from letterply.stacks.repairs.named import move_words
from letterply.stacks.work import INLAY_DETAIL_MM, Groove, Hole, Pocket, Scribe

__all__ = [
    "INLAY_DETAIL_MM",
    "Drawings",
    "Fixture",
    "Groove",
    "Hole",
    "Layer",
    "Part",
    "Pocket",
    "Repair",
    "RepairReport",
    "Scribe",
    "Stack",
    "build_stack",
    "hole_region",
    "is_turned",
    "letters_words",
    "measure_recipe_lettering",
    "move_words",
    "part_words",
    "rigid",
    "set_recipe_lettering",
    "with_ornaments",
]
