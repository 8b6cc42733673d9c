"""The pipeline of an order: which tasks follow from which answers.

Values only; who runs the tasks is another's matter.

    lines (a task each design) -> pools (a task each material and kind of blank)
        -> sheets (a task each) -> papers (one task)

A line that fails is reported and left out from there on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from letterply.orders.codec import plain, value_of
from letterply.orders.intake.model import OrderLine
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.layouts import Laid, SheetSpec
from letterply.orders.pipeline.parts import board_marks, boards, kinds_of_blanks
from letterply.orders.pipeline.tasks import Sources, Task
from letterply.orders.states import OrderPhase
from letterply.storage import Vault

__all__ = ["OrderPipeline", "run_pipeline"]

Answers = Mapping[str, Mapping[str, Any]]
"""Key of a task -> its answer."""

Runner = Callable[[OrderPhase, Sequence[Task]], Answers]
"""Runs the tasks of a stage, each key once."""


@dataclass(frozen=True, slots=True)
class OrderPipeline:
    """What the tasks of an order are made from.

    Attributes:
        order: the order.
        sources: fonts and catalogue files that it draws on.
        vault: where arguments are left.
        earlier: sheets of the order that this one revises.

    """

    order: Order
    sources: Sources
    vault: Vault
    earlier: tuple[SheetSpec, ...] = ()

    def _common(self) -> dict[str, Any]:
        return {"shop": dict(self.order.shop), "sources": plain(self.sources)}

    def line_tasks(self) -> list[Task]:
        """Return a task for each line, in order; lines of one design have the same one."""
        designs = [line.design for line in self.order.lines]
        alike: dict[str, list[OrderLine]] = {}
        for key, line in zip(designs, self.order.lines, strict=True):
            alike.setdefault(key, []).append(line)
        made: dict[str, Task] = {}
        for design, lines in alike.items():
            args = {**self._common(), "recipe": dict(lines[0].recipe)}
            about = {"lines": [line.number for line in lines], "text": lines[0].text}
            made[design] = Task.of("line", args, self.vault, about)
        return [made[key] for key in designs]

    def pool_tasks(self, answers: Sequence[Mapping[str, Any]]) -> list[Task]:
        """Return a task for each material and for each kind of blank, from the lines' answers."""
        by_material: dict[str, list[dict[str, Any]]] = {}

        def add(number: int, quantity: int, layers: list[dict[str, Any]]) -> None:
            for material in dict.fromkeys(layer["material"] for layer in layers):
                mine = [layer for layer in layers if layer["material"] == material]
                entry = {"number": number, "quantity": quantity, "layers": mine}
                by_material.setdefault(material, []).append(entry)

        add(0, 1, [{**board, "helps": True} for board in boards(self.order.lines, answers)])
        for line, answer in zip(self.order.lines, answers, strict=True):
            if answer["ok"]:
                cut = [{**la, "helps": False} for la in answer["layers"] if la["blank"] is None]
                helpers = [{**layer, "helps": True} for layer in answer["helpers"]]
                add(line.number, line.quantity, [*cut, *helpers])
        return [*self._material_tasks(by_material), *self._load_tasks(answers)]

    def _material_tasks(self, by_material: Mapping[str, list[dict[str, Any]]]) -> list[Task]:
        return [
            Task.of(
                "pool",
                {
                    **self._common(),
                    "material": material,
                    "lines": lines,
                    "search_s": self.order.options.search_s,
                    "kept": [
                        plain(s)
                        for s in self.earlier
                        if s.stock.material == material and s.zero_mm is None
                    ],
                },
                self.vault,
                {"material": material},
            )
            for material, lines in sorted(by_material.items())
        ]

    def _load_tasks(self, answers: Sequence[Mapping[str, Any]]) -> list[Task]:
        kinds = kinds_of_blanks(self.order.lines, answers)
        called = board_marks(self.order.lines, answers)
        return [
            Task.of(
                "load",
                {
                    **self._common(),
                    "lines": [
                        {"number": line.number, "quantity": line.quantity, "layer": layer}
                        for line, layer in members
                    ],
                    "fixture": called[kind],
                    "kept": [plain(s) for s in self.earlier if s.zero_mm is not None],
                },
                self.vault,
                {"material": members[0][1]["material"]},
            )
            for kind, members in kinds.items()
        ]

    def sheets(self, pools: Sequence[Mapping[str, Any]]) -> list[SheetSpec]:
        """Return all sheets, numbered: sheets that were kept keep theirs, others take the gaps."""
        every = [s for pool in pools if pool["ok"] for s in value_of(Laid, pool).sheets]
        taken = {s.number for s in every if s.number}
        free = iter(n for n in range(1, len(every) + len(taken) + 1) if n not in taken)
        numbered = [s if s.number else replace(s, number=next(free)) for s in every]
        return sorted(numbered, key=lambda s: s.number)

    def sheet_tasks(self, sheets: Sequence[SheetSpec]) -> list[Task]:
        """Return a task for each sheet."""
        marks = self.order.options.marks
        return [
            Task.of(
                "sheet",
                {**self._common(), "sheet": plain(sheet), "marks": marks},
                self.vault,
                {"sheet": sheet.number},
            )
            for sheet in sheets
        ]

    def papers_task(
        self,
        line_tasks: Sequence[Task],
        pools: Sequence[Mapping[str, Any]],
        sheets: Sequence[SheetSpec],
        sheet_tasks: Sequence[Task],
        answers: Answers,
    ) -> Task:
        """Return the task that writes the documents; it reads the answers by their keys."""
        args = {
            **self._common(),
            "order": plain(self.order),
            "line_keys": [t.key for t in line_tasks],
            "sheets": [plain(s) for s in sheets],
            "sheet_keys": [t.key for t in sheet_tasks],
            # What failed may be in no vault: a task that ran out of time may do better next time.
            "failed": {key: dict(a) for key, a in sorted(answers.items()) if not a["ok"]},
            "pools": [
                {k: pool[k] for k in ("ok", "material", "unplaced", "problem") if k in pool}
                for pool in pools
            ],
        }
        return Task.of("papers", args, self.vault, {})


def run_pipeline(pipeline: OrderPipeline, run: Runner) -> dict[str, Any]:
    """Return the answer of the last task of an order, all others run before it."""
    lines = pipeline.line_tasks()
    made = run(OrderPhase.LINES, lines)
    pool_tasks = pipeline.pool_tasks([made[t.key] for t in lines])
    pooled = run(OrderPhase.POOLS, pool_tasks)
    pools = [{**pooled[t.key], **t.about} for t in pool_tasks]
    sheets = pipeline.sheets(pools)
    sheet_tasks = pipeline.sheet_tasks(sheets)
    answers = {**made, **run(OrderPhase.SHEETS, sheet_tasks)}
    papers = pipeline.papers_task(lines, pools, sheets, sheet_tasks, answers)
    return dict(run(OrderPhase.PAPERS, [papers])[papers.key])
