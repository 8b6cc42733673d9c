"""A stack's lettering held against the standard for signs; the recipe tells what it can."""

from __future__ import annotations

from dataclasses import replace

from letterply.checks.accessibility import check_accessibility
from letterply.checks.sign_use import SignUse
from letterply.findings import Finding
from letterply.lettering.shelf import FontShelf
from letterply.shapes.tolerances import DEFAULT_TOLERANCES, Tolerances
from letterply.stacks.lettered import set_recipe_lettering
from letterply.stacks.model import Stack
from letterply.stacks.recipe import LetteringOutline, Recipe

__all__ = ["find_sign_advice"]


def find_sign_advice(
    recipe: Recipe,
    stack: Stack,
    shelf: FontShelf,
    use: SignUse,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> tuple[Finding, ...]:
    """Return where the recipe's lettering strays from the published limits for its use.

    Raised characters stand out by the thickness of the topmost layer cut as lettering, unless
    `use` says otherwise.

    Raises:
        InputError: as `set_recipe_lettering`.

    """
    spec = recipe.lettering
    lettering = set_recipe_lettering(spec, shelf, tolerances, "recipe.lettering")
    font = shelf.load(spec.font, face=spec.face, field="recipe.lettering.font")
    if use.raised and use.depth_mm is None:
        cut = [la for la in recipe.layers if isinstance(la.outline, LetteringOutline)]
        if cut:
            use = replace(use, depth_mm=cut[-1].thickness)
    return check_accessibility(lettering, font, use, tolerances, origin_mm=stack.lettering_at)
