"""What will break, drop out, stay uncut or not fit.

In: a stack, the shop's cutters and stock, limits. Out: findings with place, measure, limit and
remedy; surveys of whole fonts; recipes with the remedies applied.
"""

from letterply.checks.gaps.gaps import find_uncut
from letterply.checks.repair.remedies import Applied, Unrepaired, repair_recipe
from letterply.checks.run import check_stack, find_refusals, profile_cutters
from letterply.checks.signs.stack import find_sign_advice
from letterply.checks.survey.measures import REFERENCE_EM_MM
from letterply.checks.survey.selection import Selection
from letterply.checks.survey.sizing import Sizing
from letterply.checks.survey.survey import (
    Comparison,
    Survey,
    SurveyRow,
    compare_fonts,
    survey_findings,
    survey_font,
)
from letterply.checks.survey.weakness import Terms, WeakSpot

__all__ = [
    "REFERENCE_EM_MM",
    "Applied",
    "Comparison",
    "Selection",
    "Sizing",
    "Survey",
    "SurveyRow",
    "Terms",
    "Unrepaired",
    "WeakSpot",
    "check_stack",
    "compare_fonts",
    "find_refusals",
    "find_sign_advice",
    "find_uncut",
    "profile_cutters",
    "repair_recipe",
    "survey_findings",
    "survey_font",
]
