"""A repaired recipe as files: what was changed and why, what is left, before and after."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from letterply.exports import Document, findings_document, plain, repair_document, to_json
from letterply.findings import Finding, count_by_severity
from letterply.jobs.repairs import Repaired
from letterply.units import counted

__all__ = ["repaired_document", "repaired_files", "repaired_summary"]


def repaired_summary(repaired: Repaired) -> str:
    """Say in one sentence what the repair did."""
    changes = sum(len(r.applied) for r in repaired.rounds if r.kept)
    if not changes:
        return "Nothing was repaired." if repaired.left else "Nothing had to be repaired."
    done = f"Repaired with {counted(changes, 'change')} of the recipe"
    if not repaired.left:
        return f"{done}: no blocker is left."
    stay = "stays" if len(repaired.left) == 1 else "stay"
    return f"{done}: {counted(len(repaired.left), 'blocker')} {stay}."


def repaired_document(repaired: Repaired, before: tuple[Finding, ...]) -> Document:
    """Return what was changed in the recipe and on the layers, and what is left with its reason."""
    return {
        "summary": repaired_summary(repaired),
        "counts_before": count_by_severity(before),
        "counts": count_by_severity(repaired.findings),
        "rounds": [
            {
                "kept": r.kept,
                "why_not": r.why,
                "blockers_before": r.before,
                "blockers_after": r.after,
                "applied": [
                    {
                        "action": str(a.action),
                        "field": a.field,
                        "layer": a.layer,
                        "was": plain(a.was),
                        "now": plain(a.now),
                        "blockers": a.findings,
                        "text": a.text,
                    }
                    for a in r.applied
                ],
            }
            for r in repaired.rounds
        ],
        "left": [
            {
                "code": u.finding.code,
                "layer": u.finding.layer,
                "part": u.finding.part,
                "why": u.finding.why,
                "why_not_repaired": u.why,
            }
            for u in repaired.left
        ],
        "layers": {
            la.name: repair_document(la.repair)
            for la in repaired.stack.layers
            if la.repair is not None
        },
    }


def repaired_files(
    repaired: Repaired, before: tuple[Finding, ...], request: Mapping[str, Any]
) -> dict[str, bytes]:
    """Return the files that tell of a repair; the stack's own files are those of the repaired."""
    return {
        "repair.json": to_json(repaired_document(repaired, before)),
        "repaired_recipe.json": to_json(repaired.recipe if repaired.changed else request["recipe"]),
        "findings_before.json": to_json(findings_document(before)),
    }
