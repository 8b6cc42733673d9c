"""What judges of moves share: the moves with what they bit, and how a fault is told.

A *bite* is how far a segment cut below what it met: whether a move is in material is measured, not
guessed from its height. One fault stands for all moves of a program with the same trouble: it
names the worst and counts the rest.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from letterply.catalogue import Cutter, CutterKind
from letterply.findings import Severity
from letterply.names import in_sentence
from letterply.proof.model import Fault, Setup
from letterply.proof.reading.moves import RAPID
from letterply.proof.reading.toolpath import Toolpath
from letterply.proof.removal.swept import Bites
from letterply.shapes import SAME_MM
from letterply.sheets import Sheet

__all__ = ["BITE_MM", "Judge", "Where"]

BITE_MM = 0.02
"""Bite from which on a move counts as cutting; below lie rounding and the grain of the field."""

Where = NDArray[np.bool_]


class Judge:
    """Moves with what they bit, and the faults found in them so far."""

    def __init__(
        self,
        toolpath: Toolpath,
        bites: Bites,
        sheet: Sheet,
        setup: Setup,
    ) -> None:
        self.toolpath = toolpath
        self.sheet = sheet
        self.stock = sheet.stock
        self.blanks: BaseGeometry | None = None
        if sheet.of_blanks:
            self.blanks = shapely.union_all([p.part.outline for p in sheet.parts])
        self.setup = setup
        self.machine = setup.machine
        self.faults: list[Fault] = []
        self.moves = toolpath.moves
        n = len(self.moves)
        self.bite = np.zeros(n)
        np.maximum.at(self.bite, toolpath.segments.moves, bites.most)
        self.core = np.zeros(n)
        np.maximum.at(self.core, toolpath.segments.moves, bites.core)
        kinds = [c.kind for c in toolpath.cutters]
        self.beam = self.of_cutters([k is CutterKind.BEAM for k in kinds])
        self.drag = self.of_cutters([k is CutterKind.DRAG for k in kinds])
        self.known = toolpath.cutter >= 0
        self.turning = (self.moves.spindles != 0) & (self.moves.rpms > 0)
        self.feed_move = self.moves.kinds != RAPID
        step = self.moves.ends - self.moves.starts
        self.plane = np.hypot(step[:, 0], step[:, 1])
        self.drop = -step[:, 2]

    def of_cutters(self, flags: list[bool]) -> Where:
        """Return the moves, (n,), of the cutters that are flagged."""
        table = np.array([*flags, False])
        found: Where = table[self.toolpath.cutter]
        return found

    def cutter_of(self, move: int) -> Cutter:
        """Return the cutter of a move whose cutter is known."""
        return self.toolpath.cutters[int(self.toolpath.cutter[move])]

    def named(self, move: int) -> str:
        """Return what it is called in a sentence."""
        return f"the {in_sentence(self.cutter_of(move).name)}"

    def report(
        self,
        code: str,
        where: Where,
        text: Callable[[int], str],
        *,
        rank: NDArray[np.float64] | None = None,
        limit: float | None = None,
        unit: str = "mm",
        severity: Severity = Severity.BLOCKER,
    ) -> None:
        """Add one fault a program for the moves in `where`, speaking of the one ranked highest."""
        for program in range(len(self.toolpath.sources)):
            mine = np.flatnonzero(where & (self.toolpath.program == program))
            if not len(mine):
                continue
            worst = int(mine[0] if rank is None else mine[int(np.argmax(rank[mine]))])
            name, line = self.toolpath.line_of(worst)
            more = f", in {len(mine)} places" if len(mine) > 1 else ""
            end = self.moves.ends[worst, :2]
            self.faults.append(
                Fault(
                    code,
                    severity,
                    f"{text(worst)[0].upper()}{text(worst)[1:]}{more}.",
                    program=name,
                    line=line,
                    where=(float(end[0]), float(end[1])) if np.isfinite(end).all() else None,
                    measured=None if rank is None else round(float(rank[worst]), 4),
                    limit=limit,
                    unit=unit,
                )
            )

    def below(self) -> Where:
        """Return the moves, (n,), that reach below the face."""
        with np.errstate(invalid="ignore"):
            below: Where = np.minimum(self.moves.starts[:, 2], self.moves.ends[:, 2]) < -SAME_MM
        return below
