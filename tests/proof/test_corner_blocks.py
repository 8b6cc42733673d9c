"""Every block that cuts corners is taken out by itself: it is refused, or what stays is harmless.

The blocks are those of the smaller cutters of an inlay, its board and its plug, and of letters.
What stays is worked out from the text of the programs by the simulation of
`reference.changed_programs`, which shares no code with the proof.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.jobs.plans import prove_plan
from letterply.proof.model import ProgramSource
from reference.changed_programs import Base, base, harm

SHEETS = ("pocket, tape, small cutters", "letters, tape")


def corner_blocks(of: Base) -> Iterator[tuple[str, str, str]]:
    """Yield program, block and text without it for each stay of a cutter that is not the largest.

    A block goes from the travel to its first cut up to the lift after its last one.
    """
    sizes = {p.name: of.cutters[p.cutters[0]].diameter_mm for p in of.plan.programs}
    flat = [n for n in sizes if of.cutters[_key(of, n)].kind == "flat"]
    largest = max(sizes[n] for n in flat)
    for name in flat:
        if sizes[name] == largest:
            continue
        text = of.texts[name]
        for block in re.finditer(r"G0 X[^\n]*\n(?:(?!G0 X)[^\n]*\n)*?G0 Z[^\n]*\n", text):
            if "G1" in block[0]:
                yield name, block[0], text.replace(block[0], "", 1)


def _key(of: Base, name: str) -> str:
    return next(p.cutters[0] for p in of.plan.programs if p.name == name)


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_corner_block_left_out_is_refused_or_harmless(sheet: str) -> None:
    of, catalogue = base(sheet), load_catalogue()
    refused, tried = 0, 0
    for name, _, text in corner_blocks(of):
        tried += 1
        texts = of.texts | {name: text}
        sources = [ProgramSource(p.name, p.cutters, texts[p.name]) for p in of.plan.programs]
        proof = prove_plan(of.plan, sources, of.shop, catalogue)
        if proof.passed:
            assert not harm(of, texts), f"{name}: {harm(of, texts)}"
        else:
            refused += 1
            assert {"uncut", "not-through"} & {f.code for f in proof.faults}
    assert tried
    assert refused
