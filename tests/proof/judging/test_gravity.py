"""Faults come in the order in which a maker has to know of them."""

from __future__ import annotations

import random

from letterply.findings import Severity
from letterply.proof.judging.gravity import KINDS, worst_first
from letterply.proof.model import FAULT_CODES, Fault
from proof.rack_sign import Sign, prove
from proof.seeded_faults import milled_as


def fault(code: str, size: float | None = None, severity: Severity = Severity.BLOCKER) -> Fault:
    return Fault(code, severity, f"{code} {size}", measured=size)


def test_every_code_has_one_place() -> None:
    ranked = [code for codes in KINDS for code in codes]
    assert sorted(ranked) == sorted(FAULT_CODES)


def test_what_hurts_comes_before_what_spoils_and_the_largest_of_a_kind_first() -> None:
    wanted = [
        fault("rapid-in-stock"),
        fault("gouge", 19.6),
        fault("gouge", 0.1),
        fault("not-through", 6.0),
        fault("uncut", 2.5),
        fault("deep-pass", 1.7),
        fault("rounded", 40.0, Severity.CAUTION),
        fault("rounded", 2.5, Severity.CAUTION),
    ]
    mixed = wanted[:]
    random.Random(3).shuffle(mixed)
    assert list(worst_first(mixed)) == wanted


def test_the_summary_speaks_of_the_gravest() -> None:
    """Whatever line or part it is of: here a lost tab is told before what is cut too deep."""
    proof = prove(Sign().part(), milled_as(Sign(pocket_depth=3.0, tabs=("left",)), Sign()))
    assert [f.code for f in proof.faults[:2]] == ["tabs-lost", "gouge"]
    assert proof.faults[0].text in proof.summary
    sizes = [f.measured or 0.0 for f in proof.faults if f.code == "gouge"]
    assert sizes == sorted(sizes, reverse=True)
