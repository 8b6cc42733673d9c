"""Cut plans and programs.

In: a sheet with placed parts, and a shop. Out: operations in order, their toolpaths with feeds and
times, and the text of the programs.
"""

from letterply.cutting import plan
from letterply.cutting.face.pocket import STEPOVER
from letterply.cutting.feeds import choose_feeds
from letterply.cutting.model import CutPlan, Operation, Program, TimeSum
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.cutting.profile.cutter_choice import flat_cutters

__all__ = [
    "STEPOVER",
    "CutPlan",
    "Operation",
    "Program",
    "TimeSum",
    "choose_feeds",
    "flat_cutters",
    "part_spacing",
    "plan",
    "plan_sheet",
]
