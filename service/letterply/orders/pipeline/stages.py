"""The pipeline of an order: which tasks follow from which answers.

Values only; who runs the tasks is another's matter.

    lines (a task each design) -> pools (a task each material and kind of blank)
        -> sheets (a task each) -> papers (one task)

A line that fails is reported and left out from there on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from letterply.orders.codec import Facts
from letterply.orders.intake.model import OrderLine
from letterply.orders.intake.reading import Order
from letterply.orders.pipeline.answers import (
    LayerAnswer,
    LineAnswer,
    LineLayers,
    Manifest,
    Problem,
    SheetAnswer,
    heard,
)
from letterply.orders.pipeline.layouts import Laid, SheetSpec
from letterply.orders.pipeline.parts import board_marks, boards, kinds_of_blanks
from letterply.orders.pipeline.task_requests import (
    LineRequest,
    LoadLine,
    LoadRequest,
    PapersRequest,
    Pooled,
    PoolLine,
    PoolRequest,
    SheetRequest,
    Sources,
)
from letterply.orders.pipeline.tasks import Task
from letterply.orders.states import OrderPhase
from letterply.storage import Vault

__all__ = ["OrderPipeline", "run_pipeline"]

Runner = Callable[[OrderPhase, Sequence[Task]], Mapping[str, Facts]]
"""Runs the tasks of a stage, each key once; key -> answer as it is kept."""


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

    def line_tasks(self) -> list[Task]:
        """Return a task for each line, in order; lines of one design have the same one."""
        designs = [line.design for line in self.order.lines]
        alike: dict[str, list[OrderLine]] = {}
        for key, line in zip(designs, self.order.lines, strict=True):
            alike.setdefault(key, []).append(line)
        made: dict[str, Task] = {}
        for design, lines in alike.items():
            request = LineRequest(self.order.shop, self.sources, lines[0].recipe)
            about = {"lines": [line.number for line in lines], "text": lines[0].text}
            made[design] = Task.of(request, self.vault, about)
        return [made[key] for key in designs]

    def pool_requests(
        self, answers: Sequence[LineLayers | Problem]
    ) -> list[PoolRequest | LoadRequest]:
        """Return what is asked for each material and for each kind of blank."""
        return [*self._materials(answers), *self._loads(answers)]

    def pool_task(self, request: PoolRequest | LoadRequest) -> Task:
        """Return the task of a material or a kind of blank."""
        return Task.of(request, self.vault, {"material": request.material})

    def _materials(self, answers: Sequence[LineLayers | Problem]) -> list[PoolRequest]:
        pools: dict[str, list[PoolLine]] = {}

        def add(number: int, quantity: int, layers: Sequence[LayerAnswer]) -> None:
            for material in dict.fromkeys(layer.material for layer in layers):
                mine = tuple(layer for layer in layers if layer.material == material)
                pools.setdefault(material, []).append(PoolLine(number, quantity, mine))

        add(0, 1, boards(self.order.lines, answers))
        for line, answer in zip(self.order.lines, answers, strict=True):
            if not isinstance(answer, Problem):
                add(line.number, line.quantity, [la for la in answer.layers if la.blank is None])
                # However many copies there are, one frame does.
                add(line.number, 1, answer.helpers)
        flat = [s for s in self.earlier if s.zero_mm is None]
        return [
            PoolRequest(
                self.order.shop,
                self.sources,
                material,
                tuple(lines),
                self.order.options.search_s,
                tuple(s for s in flat if s.stock.material == material),
            )
            for material, lines in sorted(pools.items())
        ]

    def _loads(self, answers: Sequence[LineLayers | Problem]) -> list[LoadRequest]:
        called = board_marks(self.order.lines, answers)
        kept = tuple(s for s in self.earlier if s.zero_mm is not None)
        return [
            LoadRequest(
                self.order.shop,
                self.sources,
                tuple(LoadLine(line.number, line.quantity, layer) for line, layer in members),
                called[kind],
                kept,
            )
            for kind, members in kinds_of_blanks(self.order.lines, answers).items()
        ]

    def sheets(self, pools: Sequence[Laid | Problem]) -> list[SheetSpec]:
        """Return all sheets, numbered: sheets that were kept keep theirs, others take the gaps."""
        every = [s for pool in pools if not isinstance(pool, Problem) for s in pool.sheets]
        taken = {s.number for s in every if s.number}
        free = iter(n for n in range(1, len(every) + len(taken) + 1) if n not in taken)
        numbered = [s if s.number else replace(s, number=next(free)) for s in every]
        return sorted(numbered, key=lambda s: s.number)

    def sheet_tasks(self, sheets: Sequence[SheetSpec]) -> list[Task]:
        """Return a task for each sheet."""
        marks = self.order.options.marks
        return [
            Task.of(
                SheetRequest(self.order.shop, self.sources, sheet, marks),
                self.vault,
                {"sheet": sheet.number},
            )
            for sheet in sheets
        ]

    def papers_task(
        self,
        line_tasks: Sequence[Task],
        pools: Sequence[Pooled],
        sheets: Sequence[SheetSpec],
        sheet_tasks: Sequence[Task],
        failed: Mapping[str, Problem],
    ) -> Task:
        """Return the task that writes the documents; it reads the answers by their keys.

        What failed may be in no vault: a task that ran out of time may do better next time.
        """
        request = PapersRequest(
            self.order.shop,
            self.sources,
            self.order,
            tuple(t.key for t in line_tasks),
            tuple(sheets),
            tuple(t.key for t in sheet_tasks),
            failed,
            tuple(pools),
        )
        return Task.of(request, self.vault, {})


def run_pipeline(pipeline: OrderPipeline, run: Runner) -> Manifest | Problem:
    """Return the answer of the last task of an order, all others run before it."""
    lines = pipeline.line_tasks()
    found = run(OrderPhase.LINES, lines)
    made = {key: heard(LineAnswer, facts) for key, facts in found.items()}
    requests = pipeline.pool_requests([made[t.key] for t in lines])
    pool_tasks = [pipeline.pool_task(request) for request in requests]
    found = run(OrderPhase.POOLS, pool_tasks)
    pools = [heard(Laid, found[t.key]) for t in pool_tasks]
    sheets = pipeline.sheets(pools)
    sheet_tasks = pipeline.sheet_tasks(sheets)
    found = run(OrderPhase.SHEETS, sheet_tasks)
    planned = {key: heard(SheetAnswer, facts) for key, facts in found.items()}
    answers: Mapping[str, object] = {**made, **planned}
    papers = pipeline.papers_task(
        lines,
        [_pooled(request.material, pool) for request, pool in zip(requests, pools, strict=True)],
        sheets,
        sheet_tasks,
        {key: a for key, a in sorted(answers.items()) if isinstance(a, Problem)},
    )
    return heard(Manifest, run(OrderPhase.PAPERS, [papers])[papers.key])


def _pooled(material: str, pool: Laid | Problem) -> Pooled:
    if isinstance(pool, Problem):
        return Pooled(material, problem=pool)
    return Pooled(material, pool.unplaced)
