"""A stack's lettering held against the standard for signs; the recipe tells what it can."""

from __future__ import annotations

from letterply.checks.signs.accessibility import check_accessibility
from letterply.findings import Finding
from letterply.lettering import FontLibrary
from letterply.requests import LetteringOutline, Recipe, SignUse
from letterply.shapes import DEFAULT_TOLERANCES, Tolerances
from letterply.stacks import Stack, set_recipe_lettering

__all__ = ["find_sign_advice"]


def find_sign_advice(
    recipe: Recipe,
    stack: Stack,
    library: FontLibrary,
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
    if spec is None:
        return ()
    lettering = set_recipe_lettering(spec, library, tolerances, "recipe.lettering")
    font = library.load(spec.font, face=spec.face, field="recipe.lettering.font")
    if use.raised and use.depth_mm is None:
        cut = [la for la in recipe.layers if isinstance(la.outline, LetteringOutline)]
        if cut:
            use = use.model_copy(update={"depth_mm": cut[-1].thickness})
    return check_accessibility(lettering, font, use, tolerances, origin_mm=stack.lettering_at)
