"""Stacks in, findings out: what will break, drop out or not be carved."""

from letterply.checks.gaps.gaps import find_uncut
from letterply.checks.limits import Limits, normalise_limits, parse_limits
from letterply.checks.repair.remedies import Applied, Unrepaired, repair_recipe
from letterply.checks.run import check_stack, find_refusals, profile_cutters
from letterply.checks.signs.stack import find_sign_advice
from letterply.checks.signs.use import normalise_sign_use, parse_sign_use
from letterply.checks.survey.measures import REFERENCE_EM_MM
from letterply.checks.survey.selection import ALL, GLYPH_SETS, MAX_GLYPHS, Selection
from letterply.checks.survey.sizing import LARGEST_CAP_HEIGHT_MM, Sizing
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
    "ALL",
    "GLYPH_SETS",
    "LARGEST_CAP_HEIGHT_MM",
    "MAX_GLYPHS",
    "REFERENCE_EM_MM",
    "Applied",
    "Comparison",
    "Limits",
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
    "normalise_limits",
    "normalise_sign_use",
    "parse_limits",
    "parse_sign_use",
    "profile_cutters",
    "repair_recipe",
    "survey_findings",
    "survey_font",
]
