"""Sheets in, cut plans and programs out."""

from letterply.cutting.model import CutPlan, Operation, Program, TimeSum
from letterply.cutting.plan import part_spacing, plan_sheet

__all__ = ["CutPlan", "Operation", "Program", "TimeSum", "part_spacing", "plan_sheet"]
