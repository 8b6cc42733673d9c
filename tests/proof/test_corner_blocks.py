"""Every block that cuts corners is taken out by itself: it is refused, or what stays is harmless.

The blocks are those of the smallest end mill of a board with an inlay's pocket and of letters.
What stays is worked out from the text of the programs by the simulation of
`reference.cut_again`, which shares no code with the proof.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from letterply.catalogue import CutterKind
from letterply.catalogue.loading import load_catalogue
from letterply.jobs.plans import prove_plan
from letterply.proof.model import ProgramSource
from reference.changed_programs import base
from reference.cut_again import Base, harm

SHEETS = ("pocket, tape, small cutters", "stencil, holes, tabs")


_BLOCK = re.compile(r"G0 X[^\n]*\n(?:G0 Z(?!5\n)[^\n]*\n)?(?:G[123][^\n]*\n)+")
"""From the travel to its first cut up to the lift after its last one."""


def corner_blocks(of: Base) -> Iterator[tuple[str, str]]:
    """Yield program and text without one block, for each block of the smallest end mill."""
    cutters = {p.name: of.cutters[p.cutters[0]] for p in of.plan.programs}
    sizes = {name: c.diameter_mm for name, c in cutters.items() if c.kind is CutterKind.FLAT}
    assert len(set(sizes.values())) > 1
    for name in (n for n in sizes if sizes[n] == min(sizes.values())):
        for block in _BLOCK.finditer(of.texts[name]):
            yield name, of.texts[name][: block.start()] + of.texts[name][block.end() :]


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_corner_block_left_out_is_refused_or_harmless(sheet: str) -> None:
    of, catalogue = base(sheet), load_catalogue()
    refused, tried = 0, 0
    for name, text in corner_blocks(of):
        tried += 1
        texts = of.texts | {name: text}
        sources = [ProgramSource(p.name, p.cutters, texts[p.name]) for p in of.plan.programs]
        proof = prove_plan(of.plan, sources, of.shop, catalogue)
        if proof.passed:
            assert not harm(of, texts), f"{name}: {harm(of, texts)}"
        else:
            refused += 1
            assert {"uncut", "not-through"} & {f.code for f in proof.faults}
    assert tried > 1
    assert refused or sheet != SHEETS[0]
