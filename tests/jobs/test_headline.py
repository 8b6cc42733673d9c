"""Headlines: ready means no blocker, and proved where there is something to prove."""

import json

import pytest

from letterply.jobs.headline import headline_of

REQUEST = {"recipe": {"title": "Sanderling"}}


def artifacts(*, blockers=0, passed=None):
    counts = {"blocker": blockers, "caution": 2, "note": 0}
    files = {
        "findings.json": {"summary": "Findings.", "counts": counts, "findings": []},
        "stack.json": {"summary": "Stack."},
        "plan.json": {"summary": "Plan.", "totals": {"time": {"total_s": 61.5}}},
    }
    if passed is not None:
        files["proof.json"] = {"summary": "Proof.", "passed": passed}
    return {name: json.dumps(value).encode() for name, value in files.items()}


@pytest.mark.parametrize(
    ("kind", "blockers", "passed", "ready"),
    [
        ("stack", 0, None, True),
        ("stack", 1, None, False),
        ("check", 0, None, True),
        ("check", 3, None, False),
        ("plan", 0, True, True),
        ("plan", 0, False, False),
        ("plan", 1, True, False),
    ],
)
def test_ready_needs_no_blocker_and_a_proof(kind, blockers, passed, ready):
    headline = headline_of(kind, REQUEST, artifacts(blockers=blockers, passed=passed))
    assert headline["ready"] is ready
    assert headline["counts"]["blocker"] == blockers
    assert headline.get("proved") == passed


@pytest.mark.parametrize(
    ("kind", "summary"),
    [("stack", "Stack. Findings."), ("check", "Findings."), ("plan", "Plan. Findings. Proof.")],
)
def test_the_summary_says_what_there_is_what_is_wrong_and_what_is_proved(kind, summary):
    headline = headline_of(kind, REQUEST, artifacts(passed=True))
    assert headline["summary"] == summary
    assert headline["title"] == "Sanderling"


def test_a_plan_says_how_long_it_takes():
    assert headline_of("plan", REQUEST, artifacts(passed=True))["time_s"] == 61.5
