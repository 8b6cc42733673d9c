"""A repaired recipe as files: what was changed and why, what is left, before and after."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from letterply.exports.documents import findings_document, to_json
from letterply.exports.stack_document import repair_document
from letterply.exports.values import Document, counted, plain
from letterply.findings import Finding, count_by_severity
from letterply.orders.mending import Mended

__all__ = ["mended_document", "mended_files", "mended_summary"]


def mended_summary(mended: Mended) -> str:
    """Say in one sentence what the repair did."""
    changes = sum(len(r.applied) for r in mended.rounds if r.kept)
    if not changes:
        return "Nothing was repaired." if mended.left else "Nothing had to be repaired."
    done = f"Repaired with {counted(changes, 'change')} of the recipe"
    if not mended.left:
        return f"{done}: no blocker is left."
    stay = "stays" if len(mended.left) == 1 else "stay"
    return f"{done}: {counted(len(mended.left), 'blocker')} {stay}."


def mended_document(mended: Mended, before: tuple[Finding, ...]) -> Document:
    """Return what was changed in the recipe and on the layers, and what is left with its reason."""
    return {
        "summary": mended_summary(mended),
        "counts_before": count_by_severity(before),
        "counts": count_by_severity(mended.findings),
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
            for r in mended.rounds
        ],
        "left": [
            {
                "code": u.finding.code,
                "layer": u.finding.layer,
                "part": u.finding.part,
                "why": u.finding.why,
                "why_not_repaired": u.why,
            }
            for u in mended.left
        ],
        "layers": {
            la.name: repair_document(la.repair)
            for la in mended.stack.layers
            if la.repair is not None
        },
    }


def mended_files(
    mended: Mended, before: tuple[Finding, ...], request: Mapping[str, Any]
) -> dict[str, bytes]:
    """Return the files that tell of a repair; the stack's own files are those of the repaired."""
    return {
        "repair.json": to_json(mended_document(mended, before)),
        "repaired_recipe.json": to_json(mended.recipe if mended.changed else request["recipe"]),
        "findings_before.json": to_json(findings_document(before)),
    }
