"""Good programs pass with their material; every kind of seeded fault is found under its name."""

from __future__ import annotations

import pytest

from proof.rack_sign import Sign, codes, prove
from proof.seeded_faults import Pecked, plywood, samples, text_damages

CONDUCT = [kind for kind in samples(0) if kind not in text_damages(Sign())]
"""The kinds of `conduct_damages`; those of the text alone are tested beside the verdict."""


def test_what_is_damaged_here_is_good() -> None:
    proof = prove(Pecked().part(), Pecked().programs(), material=plywood(), margin=8.0)
    assert codes(proof) == set()


@pytest.mark.parametrize("kind", CONDUCT)
def test_a_seeded_fault_is_found_under_its_name(kind: str) -> None:
    code, proof = samples(0)[kind]()
    assert not proof.passed
    found = [f for f in proof.faults if f.code == code]
    assert found
    assert all(
        f.line for f in found if f.program and f.code not in ("no-program", "outside-machine")
    )


def test_there_are_many_kinds() -> None:
    assert len(samples(0)) >= 60
