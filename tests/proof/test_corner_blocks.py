"""Every block that cuts corners is taken out by itself: it is refused, or what stays is harmless.

The blocks are those of the smallest end mill of a board with an inlay's pocket and of letters.
What stays is worked out from the text of the programs by the simulation of
`reference.cut_again`, which shares no code with the proof.
"""

from __future__ import annotations

import pytest

from letterply.catalogue.loading import load_catalogue
from reference.changed_programs import base
from reference.corner_blocks import tried

SHEETS = ("pocket, tape, small cutters", "stencil, holes, tabs")


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_corner_block_left_out_is_refused_or_harmless(sheet: str) -> None:
    outcomes = list(tried(base(sheet), load_catalogue()))
    assert len(outcomes) > 1
    for name, line, codes, harmed in outcomes:
        assert not harmed, f"{name}, line {line}: {harmed}"
        assert not codes or {"uncut", "not-through"} & set(codes.split())
    assert sheet != SHEETS[0] or any(codes for _, _, codes, _ in outcomes)
