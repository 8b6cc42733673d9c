"""Clearances that a recipe leaves to the shop: what was measured, or what is usual and a note.

Lengths mm. Words are in the units of the shop, for plans and papers.
"""

from __future__ import annotations

from letterply.catalogue import fit_words
from letterply.findings import Finding, Remedy, RemedyAction, Severity
from letterply.names import key_words, layer_words
from letterply.requests import CLEARANCE_MM
from letterply.said import Said, say
from letterply.stacks.draft import LayerDraft
from letterply.units import format_mm

__all__ = ["dowel_bore", "recess_clearance"]


def recess_clearance(
    draft: LayerDraft, inlay: LayerDraft | None, given_mm: float | None
) -> tuple[float, str]:
    """Return how much wider a recess is than what goes in, all round, and which fit that is.

    Args:
        draft: the layer with the recess; it is told where a fit was not measured.
        inlay: the layer that goes in; None for lettering, into which nothing need go.
        given_mm: what the recipe says.

    """
    if given_mm is not None or inlay is None:
        return CLEARANCE_MM if given_mm is None else given_mm, ""
    of, into = inlay.recipe.material, draft.recipe.material
    fit = draft.measured.inlay(of, into)
    what = say("{of} in {into}", of=key_words(of), into=key_words(into))
    if fit is not None:
        return fit.clearance_mm, fit_words(fit, what)
    usual = format_mm(CLEARANCE_MM)
    taken = say("the recess is {usual} wider all round, which is usual", usual=usual)
    _note(draft, say("how {what} fits", what=what), taken)
    return CLEARANCE_MM, ""


def dowel_bore(draft: LayerDraft, diameter_mm: float, given_mm: float | None) -> tuple[float, str]:
    """Return the diameter of the hole for a dowel in a layer, and which fit that is."""
    if given_mm is not None:
        return diameter_mm + 2 * given_mm, ""
    into = draft.recipe.material
    fit = draft.measured.dowel(diameter_mm, into)
    what = say(
        "dowels of {diameter} in {into}", diameter=format_mm(diameter_mm), into=key_words(into)
    )
    if fit is not None:
        return round(diameter_mm + 2 * fit.clearance_mm, 4), fit_words(fit, what)
    _note(
        draft,
        say("how {what} fit", what=what),
        say("the holes are as wide as the dowels"),
    )
    return diameter_mm, ""


def _note(draft: LayerDraft, what: Said, taken: Said) -> None:
    """Note once a layer that a fit is not known."""
    finding = Finding(
        code="fit",
        severity=Severity.NOTE,
        layer=draft.recipe.name,
        why=say(
            "{what} was not measured in this shop: in {layer} {taken}",
            what=what,
            layer=layer_words(draft.recipe.name),
            taken=taken,
        ),
        remedies=(
            Remedy(
                RemedyAction.MEASURE,
                say(
                    "cut the test piece for fits, and enter which step of it fits; or give a "
                    "'clearance' in the recipe"
                ),
            ),
        ),
    )
    if finding not in draft.findings:
        draft.findings.append(finding)
