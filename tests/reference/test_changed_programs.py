"""A slice of the random changes of good programs; what it is about is in `changed_programs`."""

from __future__ import annotations

import random

import numpy as np
import pytest

from letterply.catalogue.loading import load_catalogue
from reference.changed_programs import base, try_changes, with_a_coordinate_changed, without_a_block
from reference.cut_again import harm


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


@pytest.mark.parametrize("sheet", ["grooves, holes, tabs", "letters, beam"])
def test_a_window_round_a_change_tells_what_the_whole_sheet_does(sheet: str) -> None:
    of, harmful = base(sheet), 0
    for number in range(8, 16):
        rng = random.Random(f"{sheet} {number}")
        name = rng.choice(list(of.texts))
        change = rng.choice((without_a_block, with_a_coordinate_changed))
        texts = of.texts | {name: change(rng, of.texts[name])[0]}
        told = harm(of, texts)
        assert told.split(",")[0] == harm(of, texts, everywhere=True).split(",")[0]
        harmful += bool(told)
    assert 0 < harmful < 8
