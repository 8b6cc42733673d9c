"""Headlines: the artifacts of a job in, what a maker wants to know first out.

Does it cut, what is wrong, how long does it take: one small JSON object, kept in the index, so
that lists and decisions need not open any file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

__all__ = ["DOCUMENTS", "headline_of"]

DOCUMENTS: dict[str, str] = {
    "stack": "stack.json",
    "check": "findings.json",
    "plan": "plan.json",
    "survey": "survey.json",
    "size": "size.json",
    "test-piece": "piece.json",
}
"""Kind of job -> the artifact that answers it."""


def headline_of(
    kind: str, request: Mapping[str, Any], artifacts: Mapping[str, bytes]
) -> dict[str, Any]:
    """Return title, summary, counts of findings and whether it is ready to be cut.

    A plan also has `proved` (every program passed its proof; a plan without programs has none
    that did), `proof_summary` and `time_s`. `shop` names the shop and its version where one is
    stored; `units` are those in which its sentences speak, mm where they are
    left out. Ready means: no blocker, and proved where there is
    something to prove.
    """
    document = json.loads(artifacts[DOCUMENTS[kind]])
    findings = json.loads(artifacts["findings.json"])
    counts = findings["counts"]
    headline: dict[str, Any] = {
        "title": document["title"] if kind == "test-piece" else _title(kind, request),
        "summary": document["summary"],
        "ready": counts["blocker"] == 0,
        "counts": counts,
    }
    shop = request.get("shop") or {}
    if "version" in shop:
        headline["shop"] = {"name": shop["name"], "version": shop["version"]}
    if shop.get("units", "mm") != "mm":
        headline["units"] = shop["units"]
    if kind in ("plan", "test-piece"):
        proof = json.loads(artifacts["proof.json"])
        headline["summary"] = f"{document['summary']} {findings['summary']} {proof['summary']}"
        headline["proved"] = bool(proof["passed"])
        headline["ready"] = headline["ready"] and headline["proved"]
        headline["proof_summary"] = proof["summary"]
        plan = document if kind == "plan" else json.loads(artifacts["plan.json"])
        headline["time_s"] = plan["totals"]["time"]["total_s"]
    elif kind == "stack":
        headline["summary"] = f"{document['summary']} {findings['summary']}"
    return headline


def _title(kind: str, request: Mapping[str, Any]) -> str:
    if kind != "survey":
        return str(request["recipe"]["title"])
    text = request.get("text")
    return f"Survey of {request['font']}" + (f" for {text!r}" if text else "")
