"""Test pieces as JSON-ready documents: what is read on them, and what their ladders are made of."""

from __future__ import annotations

from collections.abc import Sequence

from letterply.cutting import CutPlan
from letterply.exports.documents.plan import time_words
from letterply.exports.documents.values import Document
from letterply.exports.primitives.numbers import rounded
from letterply.pieces import Piece, Rung
from letterply.proof import SheetProof
from letterply.units import counted, spoken

__all__ = ["piece_document", "rung_programs"]


def piece_document(
    piece: Piece, plans: Sequence[CutPlan], proofs: Sequence[SheetProof]
) -> Document:
    """Return a test piece as a document; plans and proofs are told by their own."""
    programs = [p for plan in plans for p in plan.programs]
    seconds = sum(p.whole_time.total_s for p in plans)
    cut = (
        f"{counted(len(programs), 'program')}, about {time_words(seconds)} on the machine"
        if programs
        else "no program"
    )
    return {
        "summary": f"{piece.title}: {cut}; {counted(len(piece.reads), 'field')} to fill in.",
        "title": piece.title,
        "piece_kind": piece.kind,
        "subject": piece.subject,
        "units": spoken(),
        "steps": list(piece.steps),
        "reads": [
            {
                "name": r.name,
                "label": r.label,
                "layer": r.layer,
                "needed": r.needed,
                "choices": list(r.choices) or None,
                "low_mm": None if r.choices else rounded(r.low),
                "high_mm": None if r.choices else rounded(r.high),
                "from_mm": [rounded(v) for v in r.ends[0]],
                "to_mm": [rounded(v) for v in r.ends[1]],
            }
            for r in piece.reads
        ],
        "rungs": [
            {
                "letter": r.letter,
                "value": rounded(r.value, 4),
                "program": program,
                "chip_load_mm": None if chip is None else rounded(chip, 4),
            }
            for r, program, chip in rung_programs(piece, plans, proofs)
        ],
        "made_with": {name: rounded(v, 4) for name, v in sorted(piece.nominal.items())},
    }


def rung_programs(
    piece: Piece, plans: Sequence[CutPlan], proofs: Sequence[SheetProof]
) -> list[tuple[Rung, str | None, float | None]]:
    """Return each step with its own program, and the chip that the proof read in it, mm."""
    if piece.kind != "feed" or len(plans) != len(piece.rungs):
        return [(r, None, None) for r in piece.rungs]
    return [
        (rung, plan.programs[0].name if plan.programs else None,
         proof.readings[0].chip_load_mm if proof.readings else None)
        for rung, plan, proof in zip(piece.rungs, plans, proofs, strict=True)
    ]  # fmt: skip
