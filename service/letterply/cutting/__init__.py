"""Cut plans and programs.

In: a sheet with placed parts, and a shop. Out: operations in order, their toolpaths with feeds and
times, and the text of the programs.
"""

from letterply.cutting import plan
from letterply.cutting.feeds import choose_feeds, feed_rate
from letterply.cutting.model import CutPlan, CutterChoice, CutterSet, Operation, Program, TimeSum
from letterply.cutting.plan import part_spacing, plan_sheet

__all__ = [
    "CutPlan",
    "CutterChoice",
    "CutterSet",
    "Operation",
    "Program",
    "TimeSum",
    "choose_feeds",
    "feed_rate",
    "part_spacing",
    "plan",
    "plan_sheet",
]
