"""A slice of the random changes of good programs; what it is about is in `changed_programs`."""

from __future__ import annotations

import numpy as np
import pytest

from letterply.catalogue.loading import load_catalogue
from reference.changed_programs import base, harm, try_changes


@pytest.mark.parametrize("kind", ["blocks", "coordinates"])
def test_what_the_proof_lets_pass_is_harmless(kind: str) -> None:
    tally = try_changes(kind, 12, 7, load_catalogue())
    assert tally.missed == 0
    assert tally.found > 0


def test_the_second_judge_sees_what_is_spoilt() -> None:
    """It is no judge that calls all harmless: a pass left out and a floor too deep are seen."""
    of = base("pocket, tabs")
    assert harm(of, of.texts) == ""
    for name in (of.plan.programs[0].name, of.plan.programs[-1].name):
        assert "stay" in harm(of, of.texts | {name: ""})
    for name, text in of.texts.items():
        deeper = text.replace("Z-2\n", "Z-2.2\n").replace("Z-2 ", "Z-2.2 ")
        if deeper != text:
            assert "too deep" in harm(of, of.texts | {name: deeper})
    assert np.isfinite(of.surface).all()
