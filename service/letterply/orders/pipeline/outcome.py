"""What came of an order, from what its tasks answered: all that its papers tell of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from letterply.exports import time_words
from letterply.orders.intake.model import OrderLine
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import LineAnswer, Problem, SheetAnswer, Totals
from letterply.orders.pipeline.layouts import SheetSpec
from letterply.orders.pipeline.part_table import PartRow
from letterply.orders.pipeline.task_requests import Pooled
from letterply.orders.quote import Quote
from letterply.units import counted

__all__ = ["Outcome", "as_sentence"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of an order.

    Attributes:
        order: the order.
        lines: what came of its lines, in their order.
        laid: its sheets as they were laid, and
        sheets: what came of them, in the same order.
        pools: what came of its materials and kinds of blanks.
        rows: its parts.
        quote: its quote.

    """

    order: Order
    lines: tuple[LineAnswer | Problem, ...]
    laid: tuple[SheetSpec, ...]
    sheets: tuple[SheetAnswer | Problem, ...]
    pools: tuple[Pooled, ...]
    rows: tuple[PartRow, ...]
    quote: Quote

    @property
    def made(self) -> list[tuple[OrderLine, LineAnswer]]:
        """The lines that were made, with what they are."""
        pairs = zip(self.order.lines, self.lines, strict=True)
        return [(line, m) for line, m in pairs if not isinstance(m, Problem)]

    @property
    def failed(self) -> list[tuple[OrderLine, Problem]]:
        """The lines that could not be made, and why."""
        pairs = zip(self.order.lines, self.lines, strict=True)
        return [(line, m) for line, m in pairs if isinstance(m, Problem)]

    @property
    def planned(self) -> list[SheetAnswer]:
        """The sheets that were planned."""
        return [s for s in self.sheets if not isinstance(s, Problem)]

    @property
    def unplanned(self) -> list[str]:
        """Why sheets could not be planned, a sentence a sheet."""
        return [s.message for s in self.sheets if isinstance(s, Problem)]

    @property
    def unplaced(self) -> list[PartRow]:
        """The parts that found no room."""
        return [row for row in self.rows if row.sheet is None]

    @property
    def time_s(self) -> float:
        """Time on the machine, all sheets together."""
        return sum(s.time_s for s in self.planned)

    @property
    def blockers(self) -> int:
        """How many blockers the checks of its lines name."""
        return sum(m.findings.counts.blocker for _, m in self.made)

    @property
    def proved(self) -> bool:
        """Whether there is a program for every sheet, and every one passed its proof."""
        every = not self.unplanned and all(s.passed for s in self.planned)
        return bool(self.sheets) and every

    @property
    def ready(self) -> bool:
        """Whether all of it may be cut."""
        return self.proved and not (self.failed or self.unplaced or self.blockers)

    @property
    def totals(self) -> Totals:
        """How much of everything there is."""
        return Totals(
            lines=len(self.order.lines),
            failed_lines=len(self.failed),
            copies=self.order.pieces,
            parts=len(self.rows),
            unplaced=len(self.unplaced),
            sheets=len(self.sheets),
            programs=sum(len(s.programs) for s in self.planned),
        )

    @property
    def lost(self) -> dict[str, list[int] | list[str]]:
        """What was lost to faults of the service, and so may be asked for again."""
        return {
            "lines": [line.number for line, why in self.failed if why.is_fault],
            "sheets": [
                s.number
                for s, came in zip(self.laid, self.sheets, strict=True)
                if isinstance(came, Problem) and came.is_fault
            ],
            "materials": [p.material for p in self.pools if p.problem and p.problem.is_fault],
        }

    def summary(self) -> str:
        """Return what came of the order, in a few sentences."""
        unplaced, unplanned, planned = self.unplaced, self.unplanned, self.planned
        said = [
            f"{counted(len(self.order.lines), 'line')}, "
            f"{counted(self.order.pieces, 'copy', 'copies')}: "
            f"{counted(len(self.rows) - len(unplaced), 'part')} on "
            f"{_sheets_in_words(len(self.sheets), planned)}, "
            f"about {time_words(self.time_s)} on the machine."
        ]
        if self.failed:
            why = as_sentence(self.failed[0][1].message)
            said.append(f"{counted(len(self.failed), 'line')} could not be made: {why}")
        if unplaced:
            said.append(f"{counted(len(unplaced), 'part')} found no space on a sheet.")
        if unplanned:
            # One reason stands for all sheets that it stopped.
            reasons = " ".join(as_sentence(why) for why in dict.fromkeys(unplanned))
            said.append(f"{counted(len(unplanned), 'sheet')} could not be planned: {reasons}")
        unproved = sum(not s.passed for s in planned)
        if unproved:
            said.append(f"The proof of {counted(unproved, 'sheet')} did not pass: do not cut.")
        elif planned:
            said.append("Every program passed its proof.")
        if self.blockers:
            count = counted(self.blockers, "blocker")
            said.append(f"The checks name {count}, first: {self._first_blocker()}")
        return " ".join(said)

    def _first_blocker(self) -> str:
        for line, made in self.made:
            for finding in made.findings.told:
                if finding.severity == "blocker":
                    return as_sentence(f"on line {line.number}: {finding.why}")
        return ""


def as_sentence(text: str) -> str:
    """Return a text as a sentence: with one full stop at its end."""
    return f"{text.rstrip('.')}."


def _sheets_in_words(sheets: int, planned: Sequence[SheetAnswer]) -> str:
    loads = sum(s.of_blanks for s in planned)
    said = counted(sheets - loads, "sheet")
    return f"{said} and {counted(loads, 'load')} of blanks" if loads else said
